"""Answers know themselves: they compare, pickle, are true when it works, print as the commands print, and give rows."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from pdcheck.asking.bringup import bringup, measured, next_reading
from pdcheck.asking.change import change
from pdcheck.asking.check import check
from pdcheck.asking.envelope import envelope
from pdcheck.asking.fuse import fuse
from pdcheck.asking.matrix import matrix
from pdcheck.asking.need import need
from pdcheck.asking.pick import pick
from pdcheck.asking.runtime import runtime
from pdcheck.asking.settings import settings
from pdcheck.asking.share import share
from pdcheck.asking.transient import transient
from pdcheck.cli import run
from pdcheck.errors import InputError
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.result import Result, schema_of
from pdcheck.show.demo import copy_files
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, rule
from pdcheck.verdict.judge import Judgement, judge

RIG, OTHER = "pier-box.toml", "pedalboard.toml"
PAIR = ("kit.toml", "wall-45", "thin-2m")
BANK = "20000mAh 74Wh; 5V 3A, 9V 3A, 15V 3A, 20V 3A"
NAMED = ["--kit", "kit.toml", "--source", "wall-45", "--cable", "thin-2m"]
BOX = "buck-boost:6-36V:5A:92%"

# By command: the question in Python, the same on the command line, its answer in a few words.
ASKED: dict[str, tuple[Callable[[], Result], list[str], str]] = {
    "check": (lambda: check(RIG, *PAIR), [RIG, *NAMED], "<Checked: wall-45 with thin-2m: runs>"),
    "check many": (
        lambda: check(RIG, "kit.toml"),
        [RIG, "--kit", "kit.toml"],
        "<Checked: fails on 11, runs on 20>",
    ),
    "matrix": (
        lambda: matrix([RIG, OTHER], "kit.toml", source="wall-45", sort="max_w"),
        [RIG, OTHER, "--kit", "kit.toml", "--source", "wall-45", "--sort", "max_w"],
        "<Matrix: 10 cells: 4 runs, 6 fails>",
    ),
    "transient": (
        lambda: transient(RIG, *PAIR, until="320ms"),
        [RIG, *NAMED, "--until", "320ms"],
        "<Transient: mount starts, dew-heater starts>",
    ),
    "runtime": (
        lambda: runtime(RIG, source=BANK, cable="C-C 3A"),
        [RIG, "--source", BANK, "--cable", "C-C 3A"],
        "<RunTimes: source with cable: 2.16 h or more>",
    ),
    "need": (lambda: need(RIG), [RIG], "<Needs: 28 W, 3A cable>"),
    "envelope": (
        lambda: envelope(RIG, *PAIR, branch="mount"),
        [RIG, *NAMED, "--branch", "mount"],
        "<Enveloped: mount 32 W>",
    ),
    "fuse": (
        lambda: fuse(RIG, *PAIR),
        [RIG, *NAMED],
        "<Fuses: bus 2.5 A to 4 A, mount 2 A to 4 A, dew-heater 0.63 A to 5 A>",
    ),
    "pick": (
        lambda: pick("wall-45", "12V@2A", BOX, kit="kit.toml"),
        ["--source", "wall-45", "--output", "12V@2A", "--converter", BOX, "--kit", "kit.toml"],
        "<Picked: 15 V, fixed>",
    ),
    "settings": (
        lambda: settings("5V 3A, 9V 3A", ["9V", "12V"], fallback="none"),
        ["9V", "12V", "--source", "5V 3A, 9V 3A", "--fallback", "none"],
        "<Settings: 9 V: 9 V, 12 V: nothing>",
    ),
    "share": (
        lambda: share([RIG], "C1 65W, C2 30W", cable="C-C 5A 1m"),
        [RIG, "--source", "C1 65W, C2 30W", "--cable", "C-C 5A 1m"],
        "<Shared: pier-box on C1: works>",
    ),
    "change": (
        lambda: change(RIG, *PAIR, "9V"),
        [RIG, *NAMED, "--to", "9V"],
        "<Changed: nothing above 9 V: does not work>",
    ),
    "bringup": (lambda: bringup(RIG, *PAIR), [RIG, *NAMED], "<BringUp: wall-45 with thin-2m: runs, 8 steps>"),
    "bringup measured": (lambda: measured("sheet.toml"), ["--measured", "sheet.toml"], ""),
    "bringup next": (lambda: next_reading("sheet.toml"), ["--measured", "sheet.toml", "--next"], ""),
}


@pytest.fixture(autouse=True, scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    path = tmp_path_factory.mktemp("asking")
    copy_files(str(path))
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(path)
        run(["bringup", RIG, *NAMED, "--toml", "sheet.toml"])
        text = (path / "sheet.toml").read_text().replace('bus_v = ""', 'bus_v = "14.5"')
        (path / "sheet.toml").write_text(text)
        yield path


@cache
def answer(name: str) -> Result:
    return ASKED[name][0]()


@pytest.mark.parametrize("name", ASKED)
def test_it_is_the_same_answer_asked_twice_and_out_of_a_pickle(name: str) -> None:
    found, again = answer(name), ASKED[name][0]()
    assert found == again and found is not again
    copied = pickle.loads(pickle.dumps(found))
    assert copied == found and str(copied) == str(found) and copied.to_dict() == found.to_dict()


@pytest.mark.parametrize("name", ASKED)
def test_it_prints_as_the_command_prints(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    command, arguments = name.partition(" ")[0], ASKED[name][1]
    code = run([command, *arguments])
    assert capsys.readouterr().out == f"{answer(name)}\n"
    assert code == (0 if answer(name) else 1)
    assert run([command, *arguments, "--json"]) == code
    assert json.loads(capsys.readouterr().out) == answer(name).to_dict()


@pytest.mark.parametrize("name", ASKED)
def test_it_says_itself_in_a_few_words(name: str) -> None:
    shown = repr(answer(name))
    assert len(shown) < 300 and " at 0x" not in shown and "\n" not in shown
    assert ASKED[name][2] in ("", shown)


@pytest.mark.parametrize("name", ASKED)
def test_the_document_is_that_of_its_schema_and_of_no_less(name: str) -> None:
    strict = Draft202012Validator(schema_of(type(answer(name))))
    document = answer(name).to_dict()
    assert strict.is_valid(document)
    assert not strict.is_valid({**document, "more": 1})
    for key in document:
        assert not strict.is_valid({each: value for each, value in document.items() if each != key}), key


@pytest.mark.parametrize("name", ASKED)
def test_rows_are_flat_and_have_the_same_columns(name: str) -> None:
    rows = answer(name).rows()
    assert rows and len({tuple(row) for row in rows}) == 1
    assert all(isinstance(value, str | int | float | bool | None) for row in rows for value in row.values())
    assert "<table>" in answer(name)._repr_html_()


def test_rows_hold_what_the_answer_says() -> None:
    checked, cells = answer("check many").rows(), answer("matrix").rows()
    assert isinstance(answer("check many"), Result) and len(checked) == 31
    one = {(row["source"], row["cable"]): row for row in checked}
    for cell in cells:
        if cell["rig"] == "pier-box":
            pair = one[cell["source"], cell["cable"]]
            assert (pair["verdict"], pair["rule"]) == (cell["verdict"], cell["rule"])
    table = np.array([row["max_w"] for row in cells])
    assert np.all(np.diff(table) <= 0)
    points = answer("envelope").rows()
    assert {row["branch"] for row in points} == {"mount"}
    assert all(row["current_a_min"] * row["output_v"] == pytest.approx(row["power_w_min"]) for row in points)


def test_a_judgement_alone_is_the_document_of_check() -> None:
    kit = Kit.read("kit.toml")
    alone = judge(Rig.read(RIG), kit.source("wall-45"), kit.cable("thin-2m"))
    assert alone.to_dict() == answer("check").to_dict() and str(alone) == str(answer("check"))
    assert alone == judge(Rig.read(RIG), kit.source("wall-45"), kit.cable("thin-2m"))
    assert alone != judge(Rig.read(RIG), kit.source("wall-45"), kit.cable("short-5a"))
    [row] = alone.rows()
    assert (row["verdict"], row["rule"], row["contract_voltage_v"]) == ("runs", None, 15.0)


def test_rules_of_ones_own_join_the_judgement() -> None:
    @rule("short-cable", "fail", "A cable of the shed is at most 1 m", COMMON_PRACTICE, "Take a shorter one.")
    def short_cable(case: Case, find: Find) -> Any:
        if case.cable.id == "thin-2m":
            yield find("cable", "is 2 m long", 2.0, 1.0, "m")

    found = check(RIG, *PAIR, rules=[short_cable])
    assert answer("check") and not found
    [one] = found.results
    assert (one.verdict, one.rule, one.findings[0].limit) == ("fails", "short-cable", 1.0)
    assert one.findings[1:] == answer("check").results[0].findings  # type: ignore[attr-defined]
    assert check(RIG, "kit.toml", "wall-45", "short-5a", rules=[short_cable])
    assert "is 2 m long" in str(found)


def test_objects_texts_and_paths_are_the_same_question() -> None:
    rig, kit = Rig.read(RIG), Kit.read("kit.toml")
    wall, thin = kit.source("wall-45"), kit.cable("thin-2m")
    for asked in (
        check(Path(RIG), Path("kit.toml"), "wall-45", "thin-2m"),
        check(rig, kit, wall, thin),
        check(rig, None, wall, thin),
    ):
        assert asked == answer("check")
    assert pick(wall, (12.0, 2.0), BOX).ranking == pick("wall-45", "12V@2A", BOX, kit=kit).ranking
    assert matrix({"box": rig}, kit).rows()[0]["rig"] == "box"
    assert [cell.rig for cell in matrix([rig, rig], kit, source=["wall-45"], cable="thin-2m").cells] == ["1", "2"]
    assert envelope(rig, kit, wall, thin, voltages=[12.0]) == envelope(RIG, *PAIR, voltages="12V")


def test_a_source_of_ones_own_needs_no_kit() -> None:
    rig = Rig.model_validate({"trigger": {"request": "9V"}, "branch": [{"name": "fan", "load": "5W"}]})
    assert check(rig, source="5V 3A, 9V 3A", cable="C-C 3A loop=100mOhm")
    assert check(rig, "kit.toml", "5V 3A, 9V 3A", "thin-2m").results[0].source == "source"
    with pytest.raises(InputError, match="no kit"):
        check(rig)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (lambda: pick("5V 3A", "0V@1A"), "output: '0V@1A' is no output"),
        (lambda: pick("5V 3A", (9.0, -2.0)), "output: "),
        (lambda: pick("5V 3A", "9V@1A", "bla"), "converter: "),
        (lambda: pick("5V 3A", "9V@1A", cable="bla"), "cable: "),
        (lambda: pick("bla bla", "9V@1A"), "source, line 1"),
        (lambda: check(RIG, "kit.toml", "wall-46"), "the kit has no source 'wall-46'"),
        (lambda: check(RIG, "kit.toml", cable="thin"), "the kit has no cable 'thin'"),
        (lambda: change(RIG, *PAIR, "up"), "to: 'up' is no change"),
        (lambda: change(RIG, "kit.toml", "wall-45"), "which cable of the kit?"),
        (lambda: bringup(RIG, "kit.toml"), "which source of the kit?"),
        (lambda: matrix(RIG, "kit.toml", rig="nope"), "rig: no rig named 'nope'"),
        (lambda: envelope(RIG, *PAIR, voltages="zz"), "voltages: "),
        (lambda: settings("5V 3A", ["up"]), "SETTING: "),
        (lambda: measured("kit.toml"), "kit.toml: is not a bring-up sheet"),
    ],
)
def test_what_cannot_be_asked_is_said_in_one_line(asked: Callable[[], Any], told: str) -> None:
    with pytest.raises(InputError) as refused:
        asked()
    assert str(refused.value).startswith(told) and "\n" not in str(refused.value)
    assert not str(refused.value).startswith("--")


def test_an_answer_cannot_be_changed() -> None:
    with pytest.raises(AttributeError):
        answer("check").rig = "other"  # type: ignore[attr-defined]
    assert isinstance(answer("check").results[0], Judgement)  # type: ignore[attr-defined]
