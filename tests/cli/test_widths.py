"""No line is wider than the terminal: every command and every complaint, with usual and with ugly input, in cells."""

from __future__ import annotations

from pathlib import Path

import pytest

from pdcheck.cli import run
from pdcheck.cli.commands import COMMANDS
from pdcheck.show.cells import shown_width
from pdcheck.show.demo import copy_files

LONG = "a-charger-with-a-name-that-is-as-long-as-names-may-be-made-64x"
TITLE = (
    "\u671b\u9060\u93e1\u306e\u96fb\u6e90 \U0001f52d\U0001f469\u200d\U0001f680 \u2600\ufe0f which goes on and on " * 2
)
WIDE = "\u5145\u96fb\u5668"
KIT = f"""title = "{TITLE}"
[[source]]
id = "{LONG}"
title = "{TITLE}"
offers = "5V 3A, 9V 3A, 15V 3A, 20V 5A; PPS 3.3-21V 5A"
energy = "74Wh"
[[source]]
id = "{WIDE}"
offers = "5V 3A, 9V 2A"
[[cable]]
id = "{WIDE * 4}"
kind = "C-C"
rating = "5A"
loop = "123.456mOhm"
"""
RIG = f"""title = "{TITLE}"
[trigger]
request = "15V"
rating = "5A"
resistance = "25mOhm"
[box]
size = "120mm x 80mm x 40mm"
air = "25C"
[[branch]]
name = "{LONG}"
wire = {{ awg = 20, length = "0.4m", contacts = "10mOhm" }}
converter = {{ kind = "buck-boost", input = "6V-36V", output = "12V", output_limit = "1A", efficiency = 0.92 }}
load = {{ power = "24W", voltage = "10V-13V", average = "9W", peak = "30W" }}
[[branch]]
name = "{WIDE}"
wire = "?"
live = true
load = {{ led = {{ count = 3, vf = "3.4V", current = "250mA", driver = "resistor" }} }}
"""
MESSAGE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
LOG = f"0.000100 {MESSAGE}\n0.000900 41006d5c7f50\n0.500000 82100000000000000000\n"
USUAL = ("pier-box.toml", "--kit", "kit.toml", "--source", "wall-45", "--cable", "thin-2m")
UGLY = ("ugly.toml", "--kit", "ugly-kit.toml", "--source", LONG)
ON_A_PAIR = ("check", "draw", "envelope", "fuse", "transient", "talk", "change", "bringup", "runtime")
ANSWERS: list[tuple[str, ...]] = [
    *((command, *which) for command in ON_A_PAIR for which in (USUAL, UGLY) if (command, which) != ("runtime", USUAL)),
    ("check", *UGLY, "--notes"),
    ("check", "ugly.toml", "--kit", "ugly-kit.toml", "--brief"),
    ("matrix", "pier-box.toml", "ugly.toml", "--kit", "ugly-kit.toml"),
    ("need", "pier-box.toml"),
    ("share", "ugly.toml", "field-sensor.toml", "--source", "C1 65W, C2 30W, C1+C2 45W+18W", "--cable", "C-C 5A 1m"),
    ("settings", "--kit", "ugly-kit.toml", "--source", LONG),
    ("pick", "--kit", "ugly-kit.toml", "--source", LONG, "--output", "12V@2A", "--converter", "buck:6-36V:5A:92%"),
    ("wire", "--length", "2m", "--current", "3A", "--drop", "0.3V"),
    ("wire", "--awg", "20", "--length", "2m", "--current", "3A", "--drop", "0.3V", "--contacts", "10mOhm"),
    ("led", "--count", "3", "--vf", "3.4V", "--current", "250mA", "--on", "9V,12V,20V"),
    ("led", "--count", "3", "--vf", "3.4V", "--current", "250mA", "--on", "12V", "--driver"),
    ("drop", "--source", "5.12V", "--sink", "4.80V", "--at", "2A", "--error", "5mV"),
    ("audit", "cap.log"),
    ("decode", "cap.log"),
    ("decode", "C1 65W, C2 30W, C1+C2 45W+18W"),
    ("encode", "5V 3A, 9V 3A, 15V 3A; PPS 3.3-11V 3A"),
    ("cable", "C-C 5A 1m", "--at", "3A"),
    ("cable", "0xFF00A041", "0x18600000", "0x00000000", "0x00010001", "0x000A2640"),
    ("kit", "list", "ugly-kit.toml"),
    ("kit", "show", "ugly-kit.toml", LONG),
    ("kit", "add", "new.toml", "--source", LONG, "5V 3A", "--title", TITLE.strip()),
    ("rules",),
    ("rules", "cable-current"),
    ("demo",),
    ("new", "fan.toml", "--yes", "--kit", "ugly-kit.toml", "--output", "12V@0.5A"),
    ("report", "ugly.toml", "--kit", "ugly-kit.toml", "--source", LONG, "-o", f"{LONG}.html"),
    *((command, "--help") for command in COMMANDS),
    ("--help",),
    ("kit", "add", "--help"),
]
COMPLAINTS: list[tuple[str, ...]] = [
    ("check",),
    ("chekc",),
    ("zzz",),
    ("kit", "zzz"),
    ("wire",),
    ("decode", "bla"),
    ("decode", "5V 3A", "--from", "lable"),
    ("check", f"{LONG}.toml"),
    ("check", "kit.toml"),
    ("kit", "list", "ugly.toml"),
    ("check", *USUAL[:4], LONG),
    ("check", "--output", TITLE),
    ("rules", TITLE),
    ("envelope", *USUAL, "--branch", LONG),
    ("runtime", *USUAL),
]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    copy_files(".")
    for name, text in (("ugly.toml", RIG), ("ugly-kit.toml", KIT), ("cap.log", LOG)):
        Path(name).write_text(text, encoding="utf-8")


def one_word(line: str) -> bool:
    """A command to paste, of which one word alone is wider than the terminal, is left whole."""
    return line.startswith("    ") and len(line.removesuffix(" \\").split()) == 1


@pytest.mark.parametrize("columns", [40, 60, 80])
@pytest.mark.parametrize("arguments", ANSWERS, ids=lambda each: " ".join(each)[:40])
def test_an_answer_fits(
    columns: int, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    code = run(list(arguments))
    out, err = capsys.readouterr()
    assert code in (0, 1), err
    assert [line for line in (out + err).splitlines() if shown_width(line) > columns and not one_word(line)] == []


@pytest.mark.parametrize("columns", [40, 60, 80])
@pytest.mark.parametrize("arguments", COMPLAINTS, ids=lambda each: " ".join(each)[:40])
def test_a_complaint_fits(
    columns: int, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert run(list(arguments)) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines and [line for line in lines if shown_width(line) > columns] == []
    # Whoever reads it down a pipe gets one line.
    monkeypatch.delenv("COLUMNS")
    assert run(list(arguments)) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize(
    ("rig", "source", "cable"),
    [
        ("pier-box.toml", "wall-45", "thin-2m"),
        ("pier-box.toml", "board-27", "board-27-cable"),
        ("pier-box.toml", "wall-45", "a-to-c"),
        ("pedalboard.toml", "old-18", "drawer"),
        ("pedalboard.toml", "wall-45", "drawer"),
    ],
)
def test_a_build_of_two_branches_is_judged_on_one_screen(
    rig: str, source: str, cable: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    asked = ["check", rig, "--kit", "kit.toml", "--source", source, "--cable", cable]
    assert run(asked) in (0, 1)
    brief = capsys.readouterr().out
    assert len(brief.splitlines()) <= 24
    # Nothing is lost: the figures are there with --notes.
    assert run([*asked, "--notes"]) in (0, 1)
    assert "node  " in capsys.readouterr().out


def test_a_line_of_hex_stays_one_down_a_pipe(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    assert run(["encode", "5V 3A, 9V 3A, 15V 3A, 20V 3A; PPS 3.3-11V 3A, PPS 3.3-21V 3A"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1
