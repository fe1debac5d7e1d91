"""A bring-up sheet that somebody has filled in: its readings, what their last digit is worth, and their meter."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from pdcheck.errors import InputError
from pdcheck.facts.trade import METER_COARSE, METER_FINE
from pdcheck.named import NamedTuple
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.toml_text import key_lines, read_toml
from pdcheck.quantities import parse_quantity, quoted
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.words import Path, Reading

SHEET_SCHEMA = "pdcheck/sheet/1"
HEAD = "sheet"
METER_KEYS = ("accuracy", "burden")
HEAD_KEYS = ("schema", "rig", "kit", "source", "cable", "date", *METER_KEYS)
_NUMBER = re.compile(r"[0-9][0-9.,]*(?:[vVRkKM][0-9]+)?")  # 14.52, and 4R7 with its letter for a point
_OPEN = ("ol", "o.l", "open", "o.l.", "inf")
_WORDS = {"yes": 1.0, "y": 1.0, "ok": 1.0, "true": 1.0, "no": 0.0, "n": 0.0, "false": 0.0}
BLANK = ("", "-", "?")


class Measured(NamedTuple):
    """A reading as taken: its value in the SI unit, and half the step of its last digit."""

    value: float
    half: float

    @property
    def low(self) -> float:
        """The least that it can stand for."""
        return self.value - self.half

    @property
    def high(self) -> float:
        """The most that it can stand for."""
        return self.value + self.half


class Filled(NamedTuple):
    """A sheet that was read: what it is of, and its readings by path and key."""

    head: dict[str, str]
    readings: dict[tuple[Path, str], Measured]

    def get(self, path: Path, key: str) -> Measured | None:
        """The reading of that place, if it was taken."""
        return self.readings.get((path, key))


def read_measured(text: str, unit: str) -> Measured:
    """A reading as typed, and what its last digit is worth.

    Raises ``InputError`` for what is no number of that unit.

    >>> read_measured("14.52 V", "V")
    Measured(value=14.52, half=0.005)
    >>> read_measured("382 mA", "A"), read_measured("OL", "ohm").value
    (Measured(value=0.382, half=0.0005), inf)
    """
    plain = text.strip().lower()
    if unit == "":
        if plain not in _WORDS:
            raise InputError(f"{quoted(text)} is not yes or no", expected="yes or no")
        return Measured(_WORDS[plain], 0.0)
    if unit == "ohm" and plain in _OPEN:
        return Measured(math.inf, 0.0)
    value = parse_quantity(text, unit, signed=True)
    step = _NUMBER.sub(lambda found: _last_digit(found[0]), text, count=1)
    return Measured(value, abs(parse_quantity(step, unit, signed=True)) / 2)


def _last_digit(number: str) -> str:
    """The number with a 1 for its last digit and a 0 for every other one."""
    return re.sub(r"[0-9]", "0", number[:-1]) + "1"


def sheet_data(text: str, name: str) -> dict[str, Any]:
    """The tables of a sheet, numbers as they were typed. Raises ``InputError`` with the line."""
    try:
        return read_toml(text, parse_float=str)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r" \(at line (\d+), column \d+\)$", str(error))
        line = found[1] if found else str(text.count("\n") + 1)
        what = str(error)[: found.start()] if found else str(error)
        raise InputError(f"{what[:1].lower()}{what[1:]}", where=f"{name}, line {line}", expected="TOML") from None
    except (RecursionError, ValueError) as error:  # Python refuses to convert whole numbers of thousands of digits
        what = "is nested too deep" if isinstance(error, RecursionError) else "holds a number of thousands of digits"
        raise InputError(what, where=name, expected="a sheet that 'pdcheck bringup --toml' has made") from None


def sheet_head(data: dict[str, Any], name: str) -> dict[str, str]:
    """What a sheet is of: rig, kit, source and cable. Raises ``InputError`` for what is no sheet."""
    head = data.get(HEAD)
    if not isinstance(head, dict) or head.get("schema") != SHEET_SCHEMA:
        raise InputError("is not a bring-up sheet", where=name, expected="one that 'pdcheck bringup --toml' has made")
    for key, value in head.items():
        if key not in HEAD_KEYS:
            raise InputError(f"unknown key {quoted(key)}", where=f"{name}: {HEAD}", expected=nearest(key, HEAD_KEYS))
        if not isinstance(value, str):
            raise InputError(f"{quoted(value)} is no text", where=f"{name}: {HEAD}.{key}", expected="text in quotes")
    return head


def read_sheet(text: str, plan: BringUp, name: str = "sheet") -> Filled:
    """The readings of a filled-in sheet of ``plan``; blank ones are left out.

    Raises ``InputError`` with line and key for a reading that is none, and for a key that the sheet does not have.
    """
    data = sheet_data(text, name)
    head = sheet_head(data, name)
    known = {(each.path, each.key): each for each in plan.readings}
    readings: dict[tuple[Path, str], Measured] = {}
    lines: dict[tuple[str | int, ...], int] | None = None
    for path, key, value in _leaves({table: rows for table, rows in data.items() if table != HEAD}, ()):
        try:
            found = _reading(known, path, key, value)
        except InputError as error:
            lines = key_lines(text.replace("\r\n", "\n")) if lines is None else lines
            place = f"{name}, line {lines.get((*path, key), 1)}: {'.'.join((*path, key))}"
            raise InputError(error.what, where=place, expected=error.expected) from None
        if found is not None:
            readings[path, key] = found
    return Filled(head, readings)


def _reading(known: dict[tuple[Path, str], Reading], path: Path, key: str, value: Any) -> Measured | None:
    reading = known.get((path, key))
    if reading is None:
        here = [each for where, each in known if where == path]
        places = sorted({".".join(where) for where, _ in known})
        expected = nearest(key, here) if here else nearest(".".join(path), places)
        raise InputError("the sheet of this rig has no such reading", expected=expected)
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if not isinstance(value, str | int):
        raise InputError(f"{quoted(value)} is no reading", expected='a reading such as "14.52 V"')
    text = str(value)
    return None if text.strip() in BLANK else read_measured(text, reading.unit)


def _leaves(table: dict[str, Any], path: Path) -> Iterator[tuple[Path, str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*path, key))
        else:
            yield path, key, value


class Meter(NamedTuple):
    """How far off it reads volts and amperes at most (a part of the reading), and its ammeter's resistance [ohm].

    The last digit comes on top, and each reading brings its own. ``burden_ohm`` is None where nobody knows it, 0 where
    the ammeter was out of the line while voltages were read.
    """

    volts: float
    amperes: float
    burden_ohm: float | None = None

    def share_of(self, unit: str) -> float:
        """How far off it reads that unit; an ohmmeter's readings have their own range."""
        return {"V": self.volts, "A": self.amperes}.get(unit, 0.0)


_OUT = ("out", "none", "no")


def meter_of(filled: Filled) -> Meter:
    """The meter of a sheet as its head says it; what it does not say is taken from the digits that were read.

    ``accuracy`` is a share (``0.5%``); ``burden`` a resistance, or ``out`` where the ammeter was not in the line while
    voltages were read. Raises ``InputError`` for what is neither.

    >>> meter_of(Filled({"accuracy": "2%", "burden": "out"}, {}))
    Meter(volts=0.02, amperes=0.02, burden_ohm=0.0)
    """
    digits = max((digits_of(each.value, each.half) for each in filled.readings.values()), default=3)
    share = (METER_FINE if digits >= 4 else METER_COARSE).value
    told = filled.head.get("accuracy", "").strip()
    if told:
        share = parse_quantity(told, "%")
        if not 0 < share <= 0.1:
            raise InputError(f"{quoted(told)} is not how true a meter reads", expected="a share such as 0.5%")
    burden = filled.head.get("burden", "").strip()
    ohms = None if not burden else 0.0 if burden.lower() in _OUT else parse_quantity(burden, "ohm")
    return Meter(share, share, ohms)


def digits_of(value: float, half: float) -> int:
    """How many digits a reading was taken with.

    >>> digits_of(14.52, 0.005), digits_of(0.38, 0.005), digits_of(0.0, 0.005)
    (4, 2, 0)
    """
    if half <= 0 or value == 0 or not math.isfinite(value):
        return 0
    return math.floor(math.log10(abs(value) / (2 * half)) + 1e-9) + 1


def slips_of(shown: str) -> list[str]:
    """A reading with two neighbouring digits in each other's place.

    >>> slips_of("14.52")
    ['41.52', '15.42', '14.25']
    """
    at = [found.start() for found in re.finditer(r"[0-9]", shown)]
    made = []
    for one, other in pairwise(at):
        if shown[one] != shown[other]:
            listed = list(shown)
            listed[one], listed[other] = listed[other], listed[one]
            made.append("".join(listed))
    return made
