"""What the head of a table of samples states: units, the time between rows, the time of the first, the sample rate."""

from __future__ import annotations

import re

from pdcheck.intake.time_units import SAMPLED_S, any_of
from pdcheck.named import NamedTuple

SEPARATORS = ("\t", ";", "|", ",", " ")

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_STEP_NAME = re.compile(
    r"(?:x[ _-]?)?(?:increment|incr|inc|sampl(?:e|ing)[ _-]?(?:interval|period|time)|interval|t[ _-]?inc|delta[ _-]?t"
    r"|dt|step|time[ _-]?step)",
    re.IGNORECASE,
)
_START_NAME = re.compile(r"(?:x[ _-]?)?(?:start|zero|origin|t0|start[ _-]?time|first[ _-]?sample)", re.IGNORECASE)
_RATE_NAME = re.compile(r"(?:sampl(?:e|ing)[ _-]?)(?:rate|frequency)|samples?[ _-]?per[ _-]?second|fs", re.IGNORECASE)
_SAID = re.compile(
    r"\W{0,8}([A-Za-z][A-Za-z0-9 _-]{0,30}?)(?:\s{0,4}[\[(]([A-Za-zµμ\ufffd/]{1,5})[\])])?\s{0,4}[:=,;\t]\s{0,8}\"?"
    r"([+-]?\d{1,20}(?:\.\d{0,20})?(?:[eE][+-]?\d{1,3})?)\s{0,3}([A-Za-zµμ\ufffd/]{0,5})"
)
_PER_S = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}
_RATE_UNIT = re.compile(r"(?i)([kmg]?)(?:hz|s/s|sa/s|sps)?")
_LONGEST_STEP_S = 1e-3
_HEAD_LINES = 40
_UNIT = re.compile(rf"(?:[\[(/_]\s*|\s)({any_of(SAMPLED_S)})\s*[\])]?\s*$")
_VOLTS = re.compile(r"[\[(/_]\s*(mv|v|volts?)\s*[\])]?\s*$", re.IGNORECASE)


class Said(NamedTuple):
    """What a head says of its rows, ``None`` where it says nothing: the time between them and of the first [s]."""

    step_s: float | None = None
    start_s: float | None = None


def fields_of(line: str, separator: str) -> list[str]:
    """The cells of one row, without quotes and the spaces around them.

    >>> fields_of(' 0.5 ; "1"', ";")
    ['0.5', '1']
    """
    cells = line.split() if separator == " " else line.split(separator)
    return [cell.strip().strip('"').strip() for cell in cells]


def is_number(cell: str) -> bool:
    """Whether a cell is one plain decimal number."""
    return len(cell) < 400 and _NUMBER.fullmatch(cell) is not None


def said_in(head: list[str]) -> Said:
    """The time between rows and of the first that a head states: behind their names, or below them.

    >>> said_in(["# Sample rate: 4 MHz"]), said_in(["Start,Increment", "-1e-3,2.5e-7"])
    (Said(step_s=2.5e-07, start_s=None), Said(step_s=2.5e-07, start_s=-0.001))
    """
    step_s = start_s = None
    rows = [fields_of(line, next((each for each in SEPARATORS if each in line), " ")) for line in head[-_HEAD_LINES:]]
    for at, cells in enumerate(rows):
        for column, cell in enumerate(cells):
            name = cell.rstrip(":")
            beside = cells[column + 1 : column + 2]
            below = rows[at + 1][column : column + 1] if at + 1 < len(rows) else []
            for figure in (*beside, *below):
                if is_number(figure):
                    step_s = step_s or _step(without_unit(name), float(figure) * unit_of(name))
                    start_s = _start(without_unit(name), float(figure) * unit_of(name), start_s)
    for line in head[-_HEAD_LINES:]:
        found = _SAID.match(line[:400])
        if found is None:
            continue
        name, unit = found[1].strip(), found[4] or found[2] or ""
        rated = _RATE_UNIT.fullmatch(unit)
        if _RATE_NAME.fullmatch(name) and rated and float(found[3]) > 0:
            step_s = step_s or _step("step", 1 / (float(found[3]) * _PER_S[rated[1].lower()]))
        elif not unit or unit.lower() in SAMPLED_S:
            number = float(found[3]) * SAMPLED_S.get(unit.lower(), 1.0)
            step_s = step_s or _step(name, number)
            start_s = _start(name, number, start_s)
    return Said(step_s, start_s)


def _step(name: str, number_s: float) -> float | None:
    if _RATE_NAME.fullmatch(name) and number_s > 0:
        number_s, name = 1 / number_s, "step"
    return number_s if _STEP_NAME.fullmatch(name) and 0 < number_s < _LONGEST_STEP_S else None


def _start(name: str, number_s: float, before: float | None) -> float | None:
    return number_s if before is None and _START_NAME.fullmatch(name) else before


def without_unit(name: str) -> str:
    """The name of a column without the unit behind it."""
    return _VOLTS.sub("", _UNIT.sub("", name)).strip()


def unit_of(name: str) -> float:
    """The unit of times that a name ends in [s], 1 where it has none."""
    if name.strip().lower() in SAMPLED_S:
        return SAMPLED_S[name.strip().lower()]
    match = _UNIT.search(name)
    return SAMPLED_S[match[1]] if match else 1.0


def volts_of(name: str) -> float:
    """The unit of voltages that a name ends in [V], 1 where it has none."""
    match = _VOLTS.search(name)
    return 1e-3 if match and match[1].lower() == "mv" else 1.0


def is_unit(cell: str) -> bool:
    """Whether a cell is a unit alone, as in a row of them below the names."""
    bare = cell.strip("()[] ").lower()
    return bare in SAMPLED_S or bare in ("v", "mv", "volt", "volts", "")
