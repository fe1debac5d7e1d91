"""What a question is given: the kit beside the rig, a label in place of an id, a file of the other kind."""

from __future__ import annotations

from pathlib import Path

import pytest

import pdcheck
from pdcheck.asking import given
from pdcheck.cli import run
from pdcheck.errors import InputError

RIG = '[trigger]\nrequest = "9V"\n[[branch]]\nname = "fan"\nload = { current = "1A" }\n'
KIT = '[[source]]\nid = "wall"\noffers = "5V 3A, 9V 3A"\nenergy = "74Wh"\n'
KIT += '[[cable]]\nid = "thin"\nkind = "C-C"\nloop = "100mOhm"\n'


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    """A rig two folders below its kit."""
    path = tmp_path / "boxes" / "pier" / "rig.toml"
    path.parent.mkdir(parents=True)
    path.write_text(RIG)
    (tmp_path / "kit.toml").write_text(KIT)
    given.kits_found.clear()
    return path


@pytest.mark.parametrize("question", ["check", "draw", "envelope", "transient", "talk", "bringup", "matrix", "runtime"])
def test_each_question_takes_the_kit_above_the_rig(rig: Path, question: str) -> None:
    assert "wall" in str(getattr(pdcheck, question)(rig).to_json())
    assert len(given.kits_found) == 1


def test_the_nearest_kit_counts(rig: Path) -> None:
    (rig.parent / "kit.toml").write_text(KIT.replace("wall", "desk"))
    assert pdcheck.check(rig).results[0].source == "desk"


def test_a_kit_too_far_above_is_none(tmp_path: Path) -> None:
    far = tmp_path / "a" / "b" / "c" / "d" / "rig.toml"
    far.parent.mkdir(parents=True)
    far.write_text(RIG)
    (tmp_path / "kit.toml").write_text(KIT)
    with pytest.raises(InputError, match=r"no kit"):
        pdcheck.check(far)


def test_a_label_leaves_the_found_kit_alone(rig: Path) -> None:
    assert pdcheck.check(rig, source="5V 3A, 9V 2A").results[0].cable == "unknown"
    assert given.kits_found == []


def test_a_command_names_the_kit_that_it_found(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(rig)]) == 0
    assert "the kit beside the rig" in capsys.readouterr().err
    run(["check", str(rig), "--kit", str(rig.parents[2] / "kit.toml")])
    assert capsys.readouterr().err == ""


def test_a_page_about_a_label(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", str(rig), "--source", "5V 3A, 9V 2A", "--cable", "C-C 3A 1m", "-o", "-"]) == 0
    assert "<html" in capsys.readouterr().out


def test_a_file_of_the_other_kind(rig: Path) -> None:
    kit = rig.parents[2] / "kit.toml"
    for one, other in (((kit,), "is a kit file"), ((rig, rig), "is a rig file")):
        with pytest.raises(InputError) as caught:
            pdcheck.check(*one)
        assert other in str(caught.value)


@pytest.mark.parametrize(("word", "command"), [("buy", "need"), ("verify", "check"), ("charger", "decode")])
def test_a_word_leads_to_its_command(word: str, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([word]) == 2
    assert f"did you mean {command}?" in capsys.readouterr().err


def test_an_error_stays_one_line_where_a_kit_was_found(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(rig), "--source", "wal"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_what_one_run_found_is_not_told_by_the_next(rig: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["check", str(rig), "--source", "wal"])
    capsys.readouterr()
    assert run(["decode", "5V 3A"]) == 0
    assert capsys.readouterr().err == ""
