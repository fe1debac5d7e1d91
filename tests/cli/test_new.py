"""``pdcheck new``: every answer as an option or at the prompt, don't know everywhere, and none of them lost."""

from __future__ import annotations

import json
import shlex
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.cli import run
from pdcheck.cli.asking import read_draft
from pdcheck.cli.new import command
from pdcheck.parts.rig import Rig
from pdcheck.parts.rig_from_answers import rig_text
from pdcheck.parts.rig_questions import QUESTIONS
from pdcheck.show.demo import copy_files
from tests.patience import PATIENCE_S


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("one.toml").write_text(ONE)
    return tmp_path


ONE = '[[source]]\nid = "s"\noffers = "5V 3A, 9V 3A, 15V 3A"\n[[cable]]\nid = "c"\n'
KIT = ("--kit", "one.toml")  # what to buy takes a second or two to find, so only one test asks for it


def answered(typed: str, *arguments: str) -> Result:
    return CliRunner().invoke(command, ["box.toml", *arguments], input=typed, standalone_mode=False)


def test_every_question_is_an_option_and_says_where_to_look() -> None:
    options = {option.opts[0]: option.help for option in command.params if isinstance(option, click.Option)}
    for question in QUESTIONS:
        assert (options[f"--{question.key}"] or "").startswith(question.text)
        assert question.meaning
        assert question.where


def test_answers_at_the_prompt_become_a_rig(folder: Path) -> None:
    typed = [
        *("Pier box", "12V@1.5A", "mount", "power", "buck-boost", "6V-36V", "6A", "4A", "92%", "0.3W", "47uF"),
        *("15V", "next-lower", "5A", "25mOhm", "20AWG 0.4m 10mOhm", "18AWG 1.5m", "no"),
        "dew-heater 36ohm 0.75mm2 1.2m",
    ]
    result = answered("\n".join(typed) + "\n")
    assert result.return_value == 0
    rig = Rig.read("box.toml")
    mount, heater = rig.branches
    assert (rig.title, mount.load.power_w, heater.load.resistance_ohm) == ("Pier box", 18.0, 36.0)
    assert mount.converter is not None
    assert (mount.converter.input_v, mount.converter.efficiency, mount.converter.bulk_f) == ((6.0, 36.0), 0.92, 47e-6)
    assert mount.wire is not None
    assert mount.wire.contacts_ohm == 0.01
    assert heater.wire is not None
    assert (rig.trigger.rating_a, rig.trigger.resistance.typ) == (5.0, 0.025)
    assert "The least to buy" in result.output
    assert not (folder / "box.draft.toml").exists()


def test_dont_know_is_an_answer_to_everything(folder: Path) -> None:
    result = answered("?\n" * len(QUESTIONS), *KIT)
    assert result.return_value in (0, 1)
    text = Path("box.toml").read_text()
    assert text.count("(guess)") == 4
    assert "# efficiency: not known. How efficient is it? Find it: " in text
    rig = Rig.read("box.toml")
    wire = rig.branches[0].wire
    assert wire is not None and wire.guess
    converter = rig.branches[0].converter
    assert converter is not None
    assert converter.efficiency is None
    assert converter.assumed


def test_an_empty_answer_takes_the_default_that_is_shown() -> None:
    result = answered("\n" * len(QUESTIONS), *KIT)
    assert "[12V@1A]" in result.output
    assert "[don't know]" in result.output
    assert Rig.read("box.toml").branches[0].load.power_w == 12.0
    assert Rig.read("box.toml").title == "Box"


def test_an_answer_that_cannot_be_read_is_asked_again() -> None:
    typed = "\n12 amps\n12V@0A\n12V@2A\n" + "\n" * len(QUESTIONS)
    result = answered(typed, *KIT)
    assert result.output.count("; expected ") == 2
    assert Rig.read("box.toml").branches[0].load.power_w == 24.0


def test_options_are_not_asked_for() -> None:
    result = answered(
        "\n" * 30, *KIT, "--output", "9V@500mA", "--converter", "none", "--also", "a 2W", "--also", "b 3ohm 20AWG 1m"
    )
    assert "What do you want out?" not in result.output
    assert "How efficient" not in result.output
    assert [branch.name for branch in Rig.read("box.toml").branches] == ["output", "a", "b"]


def test_a_converter_in_one_word_answers_three_questions() -> None:
    result = answered("\n" * 30, *KIT, "--converter", "buck:6-28V:3A:90%", "--output", "5V@1A")
    assert "From what to what input voltage" not in result.output
    converter = Rig.read("box.toml").branches[0].converter
    assert converter is not None
    assert (converter.input_limit_a, converter.efficiency) == (3.0, 0.9)


def test_a_kit_proposes_the_setting_and_judges(capsys: pytest.CaptureFixture[str]) -> None:
    copy_files(".")
    code = run(["new", "box.toml", "--yes", "--kit", "kit.toml", "--output", "12V@1.5A", "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert code == 0
    assert len(found["results"]) == 31
    trigger = next(each for each in found["answers"] if each["question"] == "trigger")
    assert trigger["answer"] in ("9 V", "15 V")


def test_a_file_that_is_there_stays(capsys: pytest.CaptureFixture[str]) -> None:
    Path("box.toml").write_text("mine")
    assert run(["new", "box.toml", "--yes"]) == 2
    assert "is there already; expected --replace" in capsys.readouterr().err
    assert Path("box.toml").read_text() == "mine"
    assert run(["new", "box.toml", "--yes", "--replace", *KIT]) == 0
    assert Rig.read("box.toml")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--output", "12A"], "--output: '12A' is not a voltage at a current"),
        (["--converter", "bukc"], "--converter: 'bukc' is no kind of converter; expected buck"),
        (["--wire", "20AWG"], "--wire: '20AWG' has no length"),
        (["--wire", "thick 1m"], "--wire: 'thick' is no size, length or contacts of a wire"),
        (["--trigger", "hihgest"], "--trigger: 'hihgest' is not a request; expected highest"),
        (["--fallback", "nex-lower"], "--fallback"),
        (["--also", "output 2W"], "--also: 'output' is there already"),
        (["--also", "heater"], "--also: 'heater' is not a name and a load"),
        (["--name", "a b"], "--name: 'a b' is not a name"),
        (["--outptu", "12V@1A"], "No such option"),
    ],
)
def test_mistakes_in_options_are_told(capsys: pytest.CaptureFixture[str], arguments: list[str], told: str) -> None:
    assert run(["new", "box.toml", "--yes", *arguments]) == 2
    assert told in capsys.readouterr().err
    assert not Path("box.toml").exists()


def test_the_end_of_input_loses_no_answer() -> None:
    result = answered("Pier box\n12V@1.5A\nmount\n")
    assert result.return_value == 130
    assert "3 answers are kept in box.draft.toml" in result.output
    assert not Path("box.toml").exists()
    again = answered("\n" * 30, *KIT)
    assert "Going on from 3 answers" in again.output
    assert "What do you want out?" not in again.output
    assert Rig.read("box.toml").branches[0].name == "mount"
    assert not Path("box.draft.toml").exists()


def test_a_fresh_start_forgets_them() -> None:
    answered("Pier box\n12V@1.5A\n")
    result = answered("\n" * 30, *KIT, "--fresh")
    assert "What do you want out?" in result.output
    assert Rig.read("box.toml").title == "Box"


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGKILL, -9)])
def test_ctrl_c_and_even_kill_lose_no_answer(sent: signal.Signals, code: int) -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "pdcheck", "new", "box.toml"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as asking:
        assert asking.stdin is not None
        asking.stdin.write("Pier box\n12V@1.5A\nmount\n")
        asking.stdin.flush()
        until = time.monotonic() + 30
        while time.monotonic() < until and len(read_draft(Path("box.draft.toml"))) < 3:
            time.sleep(0.05)
        asking.send_signal(sent)
        _, error = asking.communicate(timeout=PATIENCE_S)
    assert asking.returncode == code
    assert "Traceback" not in error
    assert read_draft(Path("box.draft.toml")) == {"title": "Pier box", "output": "12V@1.5A", "name": "mount"}
    assert not Path("box.toml").exists()


def answers() -> st.SearchStrategy[dict[str, str]]:
    """Answers that the questions take, each of them now and then not known."""
    unknown = st.just("don't know")
    figures = {
        "title": st.text(st.characters(exclude_categories=["C", "Z"]), max_size=30),
        "output": st.sampled_from(["12V@2A", "5V@0.5A", "24V 12W", "3.3V@100mA"]),
        "name": st.sampled_from(["mount", "dew-heater", "größe"]),
        "load": st.sampled_from(["power", "current", "resistance", "led", "pack"]),
        "converter": st.sampled_from(["none", "buck", "boost", "buck-boost", "buck-boost:6-36V::92%"]),
        "voltage": st.sampled_from(["9V-24V", "11.4..12.6 V"]),
        "cells": st.sampled_from(["3x4.2V", "1 x 3.65V"]),
        "leds": st.sampled_from(["3x3.4V", "1 x 2V"]),
        "driver": st.sampled_from(["driver", "resistor"]),
        "input": st.sampled_from(["6V-36V", "4.5..28 V"]),
        "input-limit": st.sampled_from(["5A", "500 mA"]),
        "output-limit": st.sampled_from(["4A", "300mA"]),
        "efficiency": st.sampled_from(["92%", "0.9"]),
        "idle": st.sampled_from(["0.3W", "0W"]),
        "dropout": st.just("1V"),
        "bulk": st.sampled_from(["47uF", "1mF"]),
        "trigger": st.sampled_from(["15V", "highest", "pps 13.2V 3A", "prefer 20V 15V", "none"]),
        "fallback": st.sampled_from(["next-lower", "5V", "none"]),
        "trigger-rating": st.just("5A"),
        "trigger-resistance": st.just("25mOhm"),
        "wire": st.sampled_from(["20AWG 0.3m 10mOhm", "0,75 mm2 1m", "AWG 24 40cm"]),
        "lead": st.just("18AWG 1.5m"),
        "live": st.sampled_from(["yes", "no"]),
        "also": st.sampled_from(["nothing", "a 2W", "a 2W; b 36ohm 22AWG 1m", "a 12V@1A; b 3x3.4V@250mA; c 36ohm 12V"]),
    }
    assert set(figures) == {question.key for question in QUESTIONS}
    return st.fixed_dictionaries({}, optional={key: st.one_of(unknown, figure) for key, figure in figures.items()})


@settings(max_examples=150, deadline=None)
@given(answers())
def test_any_answers_make_a_file_that_says_them(said: dict[str, str]) -> None:
    rig = Rig.from_toml(rig_text(said))
    for key, value in (("name", rig.branches[0].name), ("fallback", rig.trigger.fallback)):
        assert said.get(key, "don't know") in (value, "don't know")
    kind = said.get("converter", "don't know").partition(":")[0]
    converter = rig.branches[0].converter
    assert kind in ("don't know", converter.kind if converter else "none")


@settings(max_examples=20, deadline=None)
@given(answers())
def test_the_same_answers_as_options_are_read(said: dict[str, str]) -> None:
    with tempfile.TemporaryDirectory() as name:
        path = f"{name}/box.toml"
        Path(f"{name}/one.toml").write_text(ONE)
        options = [f"--{key}={value}" for key, value in said.items() if value]
        assert run(["new", path, "--yes", "--kit", f"{name}/one.toml", *options]) in (0, 1)
        assert Rig.read(path)


def test_a_pack_is_asked_for_its_cells_and_gets_a_voltage_that_fills_it() -> None:
    """Three cells of 4.2 V are 12.6 V: of 5, 9, 15 and 20 V the least that a step-down charger can use is 15 V."""
    said = {"output": "12.6V@1A", "load": "pack", "cells": "3x4.2V", "converter": "none"}
    text = rig_text(said)
    rig = Rig.from_toml(text)
    assert rig.branches[0].load.to_dict()["pack"] == {"cells": 3, "end": "4.2V", "current": "1A", "headroom": "1V"}
    assert "(guess)" in text and rig.design_v == 15.0
    known = Rig.from_toml(rig_text(said | {"voltage": "9V-24V"})).branches[0].load.to_dict()
    assert known == {"voltage": "9V-24V", "pack": {"cells": 3, "end": "4.2V", "current": "1A"}}


def test_one_step_back() -> None:
    typed = ["Pier", "12V@1A", "<", "9V@1A", "mount", "power", "none", "<", "<", "resistance", "none"]
    result = answered("\n".join(typed) + "\n" * 30, *KIT)
    assert result.return_value in (0, 1)
    branch = Rig.read("box.toml").branches[0]
    assert (branch.name, branch.converter, branch.load.kind, branch.load.resistance_ohm) == (
        "mount",
        None,
        "resistance",
        9.0,
    )
    # Before the first question there is none.
    assert answered("<\n<\nPier\n" + "\n" * 30, "--replace", *KIT).return_value in (0, 1)
    assert Rig.read("box.toml").title == "Pier"


@pytest.mark.parametrize(
    ("word", "kind"),
    [("motor", "current"), ("Pump", "current"), ("stepper", "power"), ("heater", "resistance"), ("battery", "pack")],
)
def test_what_people_call_a_load(word: str, kind: str) -> None:
    assert run(["new", "box.toml", "--yes", "--load", word, "--output", "9V@1A", "--converter", "none", *KIT]) in (0, 1)
    assert Rig.read("box.toml").branches[0].load.kind == kind
    assert ("start_factor" in Path("box.toml").read_text()) == (word in ("motor", "Pump"))


def test_strings_second_converters_and_devices_are_branches() -> None:
    also = ("--also", "strip 3x3.4V@250mA", "--also", "fan buck:6-28V:3A:90% 5V@1A", "--also", "cam 12V@0.5A")
    run(["new", "box.toml", "--yes", *also, *KIT])
    _, strip, fan, cam = Rig.read("box.toml").branches
    assert (strip.load.kind, cam.load.voltage_v) == ("led", (10.8, 13.2))
    assert fan.converter is not None and fan.converter.output_v == 5.0


def test_defaults_are_guesses_and_answers_are_not(capsys: pytest.CaptureFixture[str]) -> None:
    said = ("--output", "9V@1A", "--wire", "20AWG 0.4m", "--trigger", "9V")
    run(["new", "box.toml", "--yes", *said, *KIT])
    guessed = [line.split(" ")[0] for line in Path("box.toml").read_text().splitlines() if line.endswith("(guess)")]
    assert guessed == ["fallback", "load"]
    assert "Guessed, and marked so in the file: load, converter, voltage, fallback." in capsys.readouterr().out


def test_it_ends_in_the_setting_what_is_open_and_a_command_to_paste(capsys: pytest.CaptureFixture[str]) -> None:
    copy_files(".")
    Path("a b").mkdir()
    run(
        ["new", "a b/fan.toml", "--yes", "--output", "12V@0.5A", "--trigger", "5V", "--converter", "buck:14-28V:3A:90%"]
    )
    out = capsys.readouterr().out
    assert "It works on 0 of 31 pairs" in out and "Set the trigger to 15 V: then 20 of your 31 pairs work." in out
    run(["new", "fan.toml", "--yes", "--output", "12V@0.5A", "--converter", "buck:14-28V:3A:90%", "--kit", "kit.toml"])
    out = capsys.readouterr().out
    assert "is the voltage to set" in out and "Not judged, since nobody stated it" in out
    line = out.splitlines()[-1].strip()
    assert line.startswith("pdcheck check fan.toml --kit kit.toml --source ")
    assert run(shlex.split(line)[1:]) == 0
    run(["new", "my fan.toml", "--yes", "--output", "9V@0.5A", *KIT])
    line = capsys.readouterr().out.splitlines()[-1]
    assert shlex.split(line)[2] == "my fan.toml"
