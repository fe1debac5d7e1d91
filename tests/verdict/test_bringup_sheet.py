"""A filled-in sheet as text: what counts as a reading, what as blank, and how each mistake is told with its place."""

from __future__ import annotations

import math
import sys

import pytest

from pdcheck.errors import InputError
from pdcheck.verdict.bringup.sheet import Filled, Measured, read_measured, read_sheet, sheet_data, sheet_head
from tests.verdict.lab import PUMP, lab

PLAN = lab(PUMP)
HEAD = '[sheet]\nschema = "pdcheck/sheet/1"\nrig = "rig.toml"\n'
MADE = "one that 'pdcheck bringup --toml' has made"


def read(rest: str) -> Filled:
    return read_sheet(HEAD + rest, PLAN, "mine.toml")


def told(*arguments, reader=read) -> tuple:
    with pytest.raises(InputError) as error:
        reader(*arguments)
    return error.value.what, error.value.where, error.value.expected


@pytest.mark.parametrize(
    ("typed", "unit", "taken"),
    [
        ("yes", "", (1.0, 0.0)),
        (" Y ", "", (1.0, 0.0)),
        ("OK", "", (1.0, 0.0)),
        ("true", "", (1.0, 0.0)),
        ("no", "", (0.0, 0.0)),
        ("N", "", (0.0, 0.0)),
        ("false", "", (0.0, 0.0)),
        ("OL", "ohm", (math.inf, 0.0)),
        (" o.l ", "ohm", (math.inf, 0.0)),
        ("O.L.", "ohm", (math.inf, 0.0)),
        ("open", "ohm", (math.inf, 0.0)),
        ("inf", "ohm", (math.inf, 0.0)),
        ("0.6 ohm", "ohm", (0.6, 0.05)),
        ("-14.50 V", "V", (-14.5, 0.005)),
        ("-382 mA", "A", (-0.382, 0.0005)),
        ("100", "V", (100.0, 0.5)),
        ("0", "A", (0.0, 0.5)),
        (".52", "V", (0.52, 0.005)),
        ("15V02", "V", (15.02, 0.005)),
        ("4R7", "ohm", (4.7, 0.05)),
        ("4k7", "ohm", (4700.0, 50.0)),
        ("R47", "ohm", (0.47, 0.005)),
        ("1.5e1", "V", (15.0, 0.5)),
    ],
)
def test_a_reading_as_typed(typed: str, unit: str, taken: tuple) -> None:
    found = read_measured(typed, unit)
    assert (found.value, found.half) == (pytest.approx(taken[0]), pytest.approx(taken[1]))


def test_a_reading_stands_for_half_a_digit_either_way() -> None:
    assert (Measured(14.5, 0.25).low, Measured(14.5, 0.25).high) == (14.25, 14.75)


def test_yes_and_no_are_of_no_voltage_and_open_is_of_no_voltage() -> None:
    assert told("maybe", "", reader=read_measured) == ("'maybe' is not yes or no", "", "yes or no")
    assert told("OL", "V", reader=read_measured)[0] == "'OL' cannot be read as a number with a unit"


def test_readings_are_kept_by_place_and_blank_ones_left_out() -> None:
    found = read(
        '[unpowered]\npolarity = true\n[unpowered.pump]\ninput_ohm = "OL"\n'
        '[trigger]\nbefore_v = " - "\nbus_v = "15.02 V"\nbus_a = 0\n'
        '[branch.pump.unloaded]\nbus_v = ""\nbus_a = "?"\nout_v = 12.00\n'
    )
    assert found.head == {"schema": "pdcheck/sheet/1", "rig": "rig.toml"}
    assert found.readings == {
        (("unpowered",), "polarity"): (1.0, 0.0),
        (("unpowered", PUMP), "input_ohm"): (math.inf, 0.0),
        (("trigger",), "bus_v"): (15.02, 0.005),
        (("trigger",), "bus_a"): (0.0, 0.5),
        (("branch", PUMP, "unloaded"), "out_v"): (12.0, 0.005),
    }
    assert found.get(("trigger",), "bus_v") == (15.02, 0.005)
    assert found.get(("trigger",), "before_v") is None
    assert read("[unpowered]\npolarity = false\n").get(("unpowered",), "polarity") == (0.0, 0.0)


VOLTAGE = "a voltage such as 20V"
STEPS = "branch.pump.full, branch.pump.half, branch.pump.unloaded, trigger, unpowered, unpowered.pump"
WRONG = {
    "another unit": (
        '[trigger]\nbus_v = "14.5 A"\n',
        "'14.5 A' is a current, not a voltage",
        5,
        "trigger.bus_v",
        VOLTAGE,
    ),
    "no word": (
        "[unpowered]\npolarity = 1\n",
        "'1' is not yes or no",
        5,
        "unpowered.polarity",
        "yes or no",
    ),
    "no reading": (
        "[trigger]\nbefore_v = 5\nbus_v = [1, 2]\n",
        "[1, 2] is no reading",
        6,
        "trigger.bus_v",
        'a reading such as "14.52 V"',
    ),
    "a key that nearly is": (
        "[trigger]\nbus_vv = 15\n",
        "the sheet of this rig has no such reading",
        5,
        "trigger.bus_vv",
        "bus_v (of: before_v, bus_v, bus_a)",
    ),
    "a key of another table": (
        "[trigger]\nload_v = 15\n",
        "the sheet of this rig has no such reading",
        5,
        "trigger.load_v",
        "one of: before_v, bus_v, bus_a",
    ),
    "a branch that nearly is": (
        "[branch.pumb.full]\nbus_v = 15\n",
        "the sheet of this rig has no such reading",
        5,
        "branch.pumb.full.bus_v",
        f"branch.pump.full (of: {STEPS})",
    ),
    "a step of another rig": (
        "[zzz]\nbus_v = 15\n",
        "the sheet of this rig has no such reading",
        5,
        "zzz.bus_v",
        f"one of: {STEPS}",
    ),
}


@pytest.mark.parametrize("name", WRONG)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_each_mistake_is_told_with_its_line(name: str, newline: str) -> None:
    rest, what, line, key, expected = WRONG[name]
    found = told((HEAD + rest).replace("\n", newline), PLAN, "mine.toml", reader=read_sheet)
    assert found[:2] == (what, f"mine.toml, line {line}: {key}")
    assert found[2] == expected


def test_a_sheet_without_a_name_is_called_one() -> None:
    assert told(f"{HEAD}[trigger]\nbus_v = 'x'\n", PLAN, reader=read_sheet)[1] == "sheet, line 5: trigger.bus_v"


@pytest.mark.parametrize(
    "text", ["", "sheet = 5\n", '[sheet]\nschema = "pdcheck/sheet/2"\n', "[sheet]\n", 'schema = "pdcheck/sheet/1"\n']
)
def test_what_is_no_sheet_is_told(text: str) -> None:
    expected = ("is not a bring-up sheet", "mine.toml", MADE)
    assert told(text, PLAN, "mine.toml", reader=read_sheet) == expected
    assert told(sheet_data(text, "mine.toml"), "mine.toml", reader=sheet_head) == expected


@pytest.mark.parametrize(
    ("line", "what", "place", "expected"),
    [
        (
            'cabel = "c"',
            "unknown key 'cabel'",
            "",
            "cable (of: schema, rig, kit, source, cable, date, accuracy, burden)",
        ),
        ('zzz = "c"', "unknown key 'zzz'", "", "one of: schema, rig, kit, source, cable, date, accuracy, burden"),
        ("rig = 5", "5 is no text", ".rig", "text in quotes"),
    ],
)
def test_a_head_has_its_keys_and_they_are_text(line: str, what: str, place: str, expected: str) -> None:
    data = sheet_data(f'[sheet]\nschema = "pdcheck/sheet/1"\n{line}\n', "mine.toml")
    assert told(data, "mine.toml", reader=sheet_head) == (what, f"mine.toml: sheet{place}", expected)


def test_the_head_names_what_the_sheet_is_of() -> None:
    keys = {"schema": "pdcheck/sheet/1", "rig": "r", "kit": "k", "source": "s", "cable": "c"}
    assert sheet_head({"sheet": keys, "trigger": {}}, "mine.toml") == keys


def test_numbers_are_kept_as_typed_and_tables_may_take_several_lines() -> None:
    assert sheet_data("a = 14.50\r\nb = 3\r\n", "x") == {"a": "14.50", "b": 3}
    assert sheet_data("a = {\n b = 14.50,\n c = 2.0\n}\n", "x") == {"a": {"b": "14.50", "c": "2.0"}}


@pytest.mark.parametrize(
    ("text", "what", "line"),
    [
        ("a = 1\nb = \n", "invalid value", 2),
        ("a = 1\r\na = 2\r\n", "cannot overwrite a value", 2),
        ("a = 1\nb = [1,\n2", "unclosed array (at end of document)", 3),
        ("[sheet]\n[sheet]\n", "cannot declare ('sheet',) twice", 2),
    ],
)
def test_what_is_no_toml_is_told_with_its_line(text: str, what: str, line: int) -> None:
    assert told(text, "mine.toml", reader=sheet_data) == (what, f"mine.toml, line {line}", "TOML")


def test_what_python_itself_refuses_is_told() -> None:
    made = "a sheet that 'pdcheck bringup --toml' has made"
    # Other programs in this process may have raised the limit.
    depth = 5 * sys.getrecursionlimit()
    deep = f"a = {'[' * depth}{']' * depth}\n"
    assert told(deep, "mine.toml", reader=sheet_data) == ("is nested too deep", "mine.toml", made)
    long = f"a = {'9' * 5000}\n"
    what = "holds a number of thousands of digits"
    assert told(long, "mine.toml", reader=sheet_data) == (what, "mine.toml", made)
