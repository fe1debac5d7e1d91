"""A rig from the command line alone: the words for it, the setting that is chosen, and how little there is to type."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import pytest

from pdcheck.cli import run
from pdcheck.parts.rig import Rig
from pdcheck.parts.rig_answers import read_output
from pdcheck.show.demo import copy_files

LABEL = "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"
THROUGH = ("--converter", "buck-boost:6-36V:5A:92%")
# What a newcomer typed for one label and a 12 V pump before: the answers of 'pdcheck new', a kit file of one label, and
# 'pdcheck check' [counted once, with every Enter].
KEYS_BEFORE = 201


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    code = run([*arguments, "--json"])
    out, err = capsys.readouterr()
    assert code in (0, 1), err
    found: dict[str, Any] = json.loads(out)
    return found


def test_a_newcomer_types_at_most_half_of_what_it_was(capsys: pytest.CaptureFixture[str]) -> None:
    line = f"pdcheck check --output 12V@2A --load motor --source '{LABEL}'"
    assert len(line) + 1 <= KEYS_BEFORE / 2
    assert run(shlex.split(line)[1:]) == 0
    out, err = capsys.readouterr()
    assert "set to 15 V" in err and out.startswith("your charger with an unknown cable: ")
    # Right, as a rig file with the same in it says: 24 W want more than 2.4 A of 3 A at 9 V, and 15 V gives it easily.
    text = (
        '[trigger]\nrequest = "15V"\n[[branch]]\nname = "output"\nwire = "?"\nlead = "?"\nload = { current = "2A" }\n'
    )
    Path("pump.toml").write_text(text + '[branch.converter]\nkind = "buck-boost"\noutput = "12V"\n')
    run(["check", "pump.toml", "--source", LABEL])
    assert capsys.readouterr().out == out


def test_it_is_judged_as_the_file_is(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--output", "12V@2A", *THROUGH, "--trigger", "15V", "--wire", "20AWG 0.4m", "--lead", "18AWG 1.5m")
    pair = ("--source", LABEL, "--cable", "C-C 5A 1m")
    short = document(capsys, "check", *words, *pair)
    assert run(["new", "box.toml", "--yes", "--name", "output", *words]) in (0, 1)
    capsys.readouterr()
    long = document(capsys, "check", "box.toml", *pair)
    assert short["nodes"] == long["nodes"] and short["verdict"] == long["verdict"]


@pytest.mark.parametrize(
    "command",
    ["check", "draw", "envelope", "fuse", "transient", "talk", "change", "bringup", "runtime", "need"],
)
def test_every_command_about_one_rig_takes_it(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    pair = () if command == "need" else ("--source", f"74Wh; {LABEL}", "--cable", "C-C 5A 1m loop=100mOhm")
    assert document(capsys, command, "--output", "9V@1A", "--converter", "none", "--trigger", "9V", *pair)


def test_a_report_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", "--output", "12V@1A", "--source", LABEL, "-o", "page.html"]) == 0
    assert "12V@1A" in Path("page.html").read_text()


def test_what_else_hangs_on_the_bus(capsys: pytest.CaptureFixture[str]) -> None:
    more = ("--also", "heater 36ohm 12V", "--also", "strip 3x3.4V@250mA")
    found = document(capsys, "check", "--output", "12V@1A", *more, "--source", LABEL)
    assert {"output/load", "heater/load", "strip/load"} <= {each["node"] for each in found["nodes"]}


@pytest.mark.parametrize(
    ("label", "volts"),
    [("5V 3A, 9V 3A, 15V 3A", 15), ("5V 3A, 9V 3A, 12V 3A", 12), ("5V 3A, 9V 3A, 20V 3A", 20), ("5V 3A, 9V 3A", 9)],
)
def test_the_setting_that_works_on_this_charger_is_chosen(
    label: str, volts: int, capsys: pytest.CaptureFixture[str]
) -> None:
    watts = "12V@18W" if volts == 9 else "12V@24W"
    found = document(capsys, "check", "--output", watts, *THROUGH, "--source", label, "--cable", "C-C 3A loop=100mOhm")
    assert found["contract"]["voltage_v"] == volts and found["verdict"] in ("runs", "limited")


def test_the_kit_of_this_folder_counts(capsys: pytest.CaptureFixture[str]) -> None:
    copy_files(".")
    run(["check", "--output", "12V@1A", "--source", "wall-45", "--cable", "thin-2m"])
    out, err = capsys.readouterr()
    assert out.startswith("wall-45 with thin-2m") and "used kit.toml" in err
    run(["check", "--output", "12V@1A", "--source", LABEL])
    out, err = capsys.readouterr()
    assert out.startswith("your charger with an unknown cable") and "kit.toml" not in err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["check"], "no rig: give RIG, a file ('pdcheck new' makes one), or say what you want out: --output 12V@2A"),
        (["check", "x.toml", "--output", "12V@2A"], "RIG and --output exclude each other"),
        (["check", "--trigger", "15V"], "--trigger and no output to feed; expected --output, such as --output 12V@2A"),
        (
            ["check", "--output", "12V@2A"],
            "no charger and no kit; expected --source with",
        ),
        (["check", "--output", "12 amps"], "--output: '12 amps' is not a voltage at a current"),
        (["pick", "--output", "12 amps", "--source", LABEL], "--output: '12 amps' is not a voltage at a current"),
        (
            ["check", "--output", "0V@1A"],
            "--output: '0V@1A' is no output: it holds a zero",
        ),
        (
            ["pick", "--output", "0V@1A", "--source", LABEL],
            "--output: '0V@1A' is no output: it holds a zero",
        ),
        (["check", "--output", "5V@1A", "--wire", "thin"], "--wire: "),
        (["check", "--output", "5V@1A", "--also", "x"], "--also: 'x' is not a name and a load"),
        (["bringup", "--output", "5V@1A", "--source", LABEL, "--toml", "s.toml"], "--toml and no RIG"),
        (["bringup"], "no rig: give RIG, a file"),
    ],
)
def test_a_slip_is_told_in_one_line(arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 2
    error = capsys.readouterr().err.splitlines()[-1]
    assert told in error


WAYS = (
    "12V@2A",
    " 12 V @ 2000 mA ",
    "12V 2A",
    "12 V at 2 A",
    "2A@12V",
    "12V\u23932A",
    "12V=2A",
    "12V/2A",
    "12V, 2A",
    "12V@24W",
    "24 W at 12 V",
)


@pytest.mark.parametrize("text", WAYS)
def test_one_grammar_for_an_output(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert read_output(text) == (12.0, 2.0)
    picked = document(capsys, "pick", "--source", LABEL, "--output", text)
    assert picked == document(capsys, "pick", "--source", LABEL, "--output", "12V@2A")
    run(["new", "x.toml", "--yes", "--output", text, "--json"])
    capsys.readouterr()
    assert Rig.read("x.toml").branches[0].load.words() == "24 W"


@pytest.mark.parametrize("text", ["12V", "12V@2A@3A", "@", "12V@", "x" * 10_000, "", "5V@5V", "-5V@1A", "12 amps"])
def test_what_is_no_output(text: str) -> None:
    with pytest.raises(ValueError, match="expected"):
        read_output(text)
