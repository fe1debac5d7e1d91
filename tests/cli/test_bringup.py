"""``pdcheck bringup``: a sheet is written, filled in with hidden faults, compared, and its figures written back."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from pdcheck.cli import run
from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.toml_places import set_value
from pdcheck.parts.toml_text import read_toml
from pdcheck.show.demo import copy_files
from pdcheck.verdict.bringup.measured import shown
from pdcheck.verdict.bringup.sheet import read_measured, read_sheet
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.judge import judge
from tests.patience import PATIENCE_S
from tests.verdict.bench import Faults, readings, truth

PAIR = ["--kit", "kit.toml", "--source", "wall-45", "--cable", "thin-2m"]
DIGITS = {"V": 2, "A": 3}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    copy_files(".")
    return tmp_path


def test_the_verdict_of_the_plan_tells_what_it_depends_on(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bringup", "pier-box.toml", *PAIR]) == 0
    told = "calculated verdict: RUNS, if what 'pdcheck check' lists holds."
    assert told in " ".join(capsys.readouterr().out.split())
    assert plan_of("pier-box.toml", "wall-45", "thin-2m").judgement.not_judged


def plan_of(rig: str, source: str, cable: str) -> BringUp:
    kit = Kit.read("kit.toml")
    return bring_up(judge(Rig.read(rig), kit.source(source), kit.cable(cable)))


def filled(plan: BringUp, faults: Faults, sheet: str = "sheet.toml") -> None:
    """Put what a meter would show into a sheet, as somebody would."""
    taken = readings(plan, truth(plan.case, faults), DIGITS)
    text = Path(sheet).read_text()
    for (path, key), value in taken.readings.items():
        unit = next(each.unit for step in plan.steps for each in step.readings if (each.path, each.key) == (path, key))
        written = "OL" if value.value == float("inf") else shown(value, unit).replace("Ω", "ohm")
        text = set_value(text, path, key, written)
    Path(sheet).write_text(text)


def made_sheet(rig: str = "pier-box.toml", pair: list[str] = PAIR) -> BringUp:
    assert run(["bringup", rig, *pair, "--toml", "sheet.toml"]) == 0
    return plan_of(rig, pair[3], pair[5])


def compared(capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, dict[str, Any]]:
    capsys.readouterr()
    code = run(["bringup", "--measured", "sheet.toml", "--json", *more])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return code, found


def test_a_blank_sheet_holds_every_reading_and_a_filled_one_is_compared(capsys: pytest.CaptureFixture[str]) -> None:
    plan = made_sheet()
    text = Path("sheet.toml").read_text()
    assert '# expect 14.25..15.75 V: voltmeter, trigger\'s output\nbus_v = ""' in text
    assert max(len(line) for line in text.splitlines()) <= 102
    code, found = compared(capsys)
    assert code == 0
    assert {row["inside"] for row in found["readings"]} == {None}
    filled(plan, Faults(open_v=14.9))
    code, found = compared(capsys)
    assert (code, found["fine"], found["causes"], found["changes"]) == (0, True, [], [])
    assert {row["inside"] for row in found["readings"]} == {True}


def test_a_bad_contact_is_named_and_written_back(capsys: pytest.CaptureFixture[str]) -> None:
    plan = made_sheet()
    filled(plan, Faults(branch="mount", wire_ohm=0.150))
    code, found = compared(capsys)
    assert code == 1
    assert [(each["cause"], each["subject"]) for each in found["causes"]] == [("wire-resistance", "mount")]
    assert [each["key"] for each in found["changes"]] == ["branch.1.wire.contacts"]
    before = Path("pier-box.toml").read_text()
    run(["bringup", "--measured", "sheet.toml", "--write-back", "--yes"])
    told = "with these figures: wall-45 with thin-2m: RUNS, if what 'pdcheck check' lists holds."
    assert told in " ".join(capsys.readouterr().err.split())
    after = Path("pier-box.toml").read_text()
    kept = [line for line in after.splitlines() if not line.startswith("# bring-up: contacts: measured at bring-up")]
    assert len(kept) == len(after.splitlines()) - 1
    changed = [(a, b) for a, b in zip(before.splitlines(), kept, strict=True) if a != b]
    assert len(changed) == 1
    wire = Rig.read("pier-box.toml").branches[0].wire
    assert wire is not None
    assert wire.contacts_ohm == pytest.approx(0.160, abs=0.005)
    code, found = compared(capsys)
    assert (code, found["fine"]) == (0, True)


def test_a_bad_cable_is_written_back_into_the_kit_with_its_uncertainty(capsys: pytest.CaptureFixture[str]) -> None:
    pair = ["--kit", "kit.toml", "--source", "wall-45", "--cable", "short-5a"]
    plan = made_sheet(pair=pair)
    filled(plan, Faults(supply_ohm=0.150))
    code, found = compared(capsys)
    assert [(each["cause"], each["subject"]) for each in found["causes"]] == [("supply-resistance", "bus")]
    compared(capsys, "--write-back", "--yes")
    table = next(each for each in read_toml(Path("kit.toml").read_text())["cable"] if each["id"] == "short-5a")
    assert "readings" not in table
    loop = Kit.read("kit.toml").cable("short-5a").loop
    assert loop is not None
    assert loop.min <= 0.270 <= loop.max
    assert loop.max - loop.min < 0.02
    code, found = compared(capsys)
    assert code == 0


def test_a_cable_that_was_never_measured_can_be_now(capsys: pytest.CaptureFixture[str]) -> None:
    plan = made_sheet(pair=["--kit", "kit.toml", "--source", "wall-45", "--cable", "drawer"])
    filled(plan, Faults(supply_ohm=0.030))
    code, found = compared(capsys, "--write-back", "--yes")
    assert (code, found["causes"]) == (0, [])
    loop = Kit.read("kit.toml").cable("drawer").loop
    assert loop is not None
    assert loop.min <= 0.155 <= loop.max


def test_a_weak_converter_asks_before_it_is_written_back(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = made_sheet()
    filled(plan, Faults(branch="mount", efficiency=0.80 / 0.92))
    before = Path("pier-box.toml").read_text()
    monkeypatch.setattr("click.confirm", lambda *_, **__: False)
    compared(capsys, "--write-back")
    assert Path("pier-box.toml").read_text() == before
    monkeypatch.setattr("click.confirm", lambda *_, **__: True)
    compared(capsys, "--write-back")
    converter = Rig.read("pier-box.toml").branches[0].converter
    assert converter is not None
    assert converter.efficiency == pytest.approx(0.80, abs=0.003)
    assert Path("pier-box.toml").read_text().startswith(before.splitlines()[0])


def test_a_trigger_that_stays_at_five_volts_is_written_back(capsys: pytest.CaptureFixture[str]) -> None:
    run(["bringup", "pedalboard.toml", *PAIR, "--toml", "sheet.toml"])
    Path("sheet.toml").write_text(set_value(Path("sheet.toml").read_text(), ("trigger",), "bus_v", "5.06 V"))
    code, found = compared(capsys, "--write-back", "--yes")
    assert code == 1
    assert found["causes"][0]["cause"] == "trigger-fallback"
    assert found["fell_to_v"] == 5.0
    assert Rig.read("pedalboard.toml").trigger.fallback == "5V"


def test_a_sheet_with_readings_is_not_written_over(capsys: pytest.CaptureFixture[str]) -> None:
    made_sheet()
    assert run(["bringup", "pier-box.toml", *PAIR, "--toml", "sheet.toml"]) == 2
    assert "is there already; expected --replace" in capsys.readouterr().err
    assert run(["bringup", "pier-box.toml", *PAIR, "--toml", "sheet.toml", "--replace"]) == 0


def test_a_sheet_in_another_folder_still_finds_its_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bench").mkdir()
    assert run(["bringup", "pier-box.toml", *PAIR, "--toml", "bench/sheet.toml"]) == 0
    capsys.readouterr()
    assert run(["bringup", "--measured", "bench/sheet.toml"]) == 0
    assert "no reading is filled in yet" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("bus_v", '"14.5 A"', r"line \d+: trigger.bus_v: '14.5 A' is a current, not a voltage"),
        ("bus_v", '"high"', r"line \d+: trigger.bus_v: 'high' cannot be read"),
        ("bus_v", "[1]", r"trigger.bus_v: \[1\] is no reading"),
        ("bus_w", "1", r"trigger.bus_w: the sheet of this rig has no such reading; expected bus_v"),
    ],
)
def test_a_reading_that_is_none_is_told_with_its_line(key: str, value: str, told: str) -> None:
    plan = made_sheet()
    text = Path("sheet.toml").read_text()
    text = re.sub(r"(\[trigger\]\n)", rf"\1{key} = {value}\n", text.replace(f'{key} = ""\n', ""))
    with pytest.raises(InputError, match=told):
        read_sheet(text, plan, "sheet.toml")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "or say what you want out: --output 12V@2A; or --measured SHEET"),
        (["pier-box.toml", "--kit", "kit.toml"], "which source of the kit?; expected --source board-27 or wall-45"),
        (
            ["pier-box.toml", "--kit", "kit.toml", "--source", "wall-45"],
            "which cable of the kit?; expected --cable drawer or thin-2m",
        ),
        (["--measured", "kit.toml"], "is not a bring-up sheet"),
        (["pier-box.toml", "--yes"], "go with --measured"),
        (["pier-box.toml", "--measured", "a", "--toml", "b"], "exclude each other"),
    ],
)
def test_mistakes_are_told(capsys: pytest.CaptureFixture[str], arguments: list[str], told: str) -> None:
    assert run(["bringup", *arguments]) == 2
    assert told in capsys.readouterr().err


@pytest.mark.parametrize(
    ("typed", "unit", "value", "half"),
    [
        ("14.50", "V", 14.5, 0.005),
        ("14", "V", 14.0, 0.5),
        ("-0.2", "V", -0.2, 0.05),
        ("1,75 A", "A", 1.75, 0.005),
        ("382mA", "A", 0.382, 0.0005),
        ("0.1 ohm", "ohm", 0.1, 0.05),
    ],
)
def test_the_last_digit_says_how_far_a_reading_can_be_trusted(typed: str, unit: str, value: float, half: float) -> None:
    taken = read_measured(typed, unit)
    assert taken.value == pytest.approx(value)
    assert taken.half == pytest.approx(half)


def test_a_bare_number_keeps_its_zeros() -> None:
    plan = made_sheet()
    text = re.sub(r'bus_v = ""', "bus_v = 14.50", Path("sheet.toml").read_text())
    assert read_sheet(text, plan).readings[("trigger",), "bus_v"].half == 0.005


def test_one_reading_at_a_time(capsys: pytest.CaptureFixture[str]) -> None:
    plan = made_sheet()
    filled(plan, Faults(bus_a=0.15))
    whole, blank = (
        Path("sheet.toml").read_text(),
        re.sub(r'(_v|_a|_ohm|polarity) = ".*"', r'\1 = ""', Path("sheet.toml").read_text()),
    )
    Path("sheet.toml").write_text(blank)
    asked: list[str] = []
    while len(asked) < 20:
        capsys.readouterr()
        run(["bringup", "--measured", "sheet.toml", "--next", "--json"])
        told = json.loads(capsys.readouterr().out)
        if told["next"] is None:
            break
        asked.append(told["next"]["reading"])
        *path, key = asked[-1].split(".")
        value = read_toml(whole)
        for part in path:
            value = value[part]
        Path("sheet.toml").write_text(set_value(Path("sheet.toml").read_text(), tuple(path), key, value[key]))
    assert asked[-2:] == ["trigger.bus_v", "trigger.bus_a"]
    assert (told["causes"], told["enough"]) == (["bus-draw bus"], "Found: nothing else explains these readings.")
    assert run(["bringup", "--measured", "sheet.toml", "--next"]) == 1
    assert "150" in capsys.readouterr().out


def test_what_goes_with_next(capsys: pytest.CaptureFixture[str]) -> None:
    made_sheet()
    for arguments in (["--next"], ["--measured", "sheet.toml", "--next", "--write-back"]):
        assert run(["bringup", "pier-box.toml", *PAIR, *arguments]) == 2
    assert run(["bringup", "--measured", "sheet.toml", "--next"]) == 0
    assert "Read unpowered.polarity" in capsys.readouterr().out


def test_a_sheet_says_what_its_digits_can_show() -> None:
    made_sheet()
    text = " ".join(Path("sheet.toml").read_text().replace("#", "").split())
    coarse, fine = (re.search(rf"With {digits} digits .*?mount's wire (\d+) mΩ", text) for digits in (3, 4))
    assert coarse is not None
    assert fine is not None
    assert int(coarse[1]) > int(fine[1])


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("pier-box.toml", "[[branch]]", '[[branch]]\nname = "new"\nwire = { awg = 20, length = "1m" }\n[[branch]]'),
        ("pier-box.toml", "10mOhm", "99mOhm"),
        ("kit.toml", "[[cable]]", '[[cable]]\nid = "new"\nkind = "C-C"\nlength = "1m"\n[[cable]]'),
    ],
)
def test_nothing_is_written_back_into_a_file_that_was_changed_while_it_was_asked(
    name: str, old: str, new: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = made_sheet(pair=["--kit", "kit.toml", "--source", "wall-45", "--cable", "short-5a"])
    filled(plan, Faults(branch="mount", wire_ohm=0.150, supply_ohm=0.150))
    changed = Path(name).read_text().replace(old, new, 1)

    def asked(*_: object, **__: object) -> bool:
        Path(name).write_text(changed)
        return True

    monkeypatch.setattr("click.confirm", asked)
    other = "kit.toml" if name != "kit.toml" else "pier-box.toml"
    before = Path(other).read_text()
    assert run(["bringup", "--measured", "sheet.toml", "--write-back"]) == 2
    last = capsys.readouterr().err.splitlines()[-1]
    assert last == f"pdcheck: {name}: was changed meanwhile; expected to compare the sheet with it once more"
    assert (Path(name).read_text(), Path(other).read_text()) == (changed, before)


@pytest.mark.skipif(os.name != "posix", reason="streams are closed by the shell of POSIX")
def test_a_question_that_nobody_can_answer_names_the_stream_that_is_closed() -> None:
    filled(made_sheet(), Faults(branch="mount", wire_ohm=0.150))
    line = '"$0" -m pdcheck bringup --measured sheet.toml --write-back <&-'
    done = subprocess.run(["bash", "-c", line, sys.executable], capture_output=True, timeout=PATIENCE_S, check=False)
    assert done.returncode == 2
    assert done.stderr.endswith(b"pdcheck: standard input: cannot be read; expected a terminal, or --yes\n")
