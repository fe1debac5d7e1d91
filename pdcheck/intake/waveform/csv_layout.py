"""How a table of samples is laid out: separator, decimal sign, header, which column is time and in which unit."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import NamedTuple

from pdcheck.errors import InputError
from pdcheck.intake.waveform.edges import no_such_channel

SEPARATORS = ("\t", ";", ",", " ")

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_LEVEL = re.compile(r"[xXzZHLhl]?|-{1,4}")
_UNITS = {
    "s": 1.0,
    "sec": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "μs": 1e-6,
    "\ufffds": 1e-6,
    "ns": 1e-9,
    "ps": 1e-12,
}
_TIME_NAME = re.compile(r"t|x|time.*|timestamp.*|elapsed.*|sec(ond)?s?|zeit.*|temps.*|tiempo.*|tempo.*", re.IGNORECASE)
_COUNT_NAME = re.compile(r"#|n|no\.?|nr\.?|index|sample.*|point.*|row", re.IGNORECASE)
_STEP_NAME = re.compile(
    r"(?:x[ _-]?)?(?:increment|incr|sampl(?:e|ing)[ _-]?(?:interval|period|time)|interval|t[ _-]?inc|delta[ _-]?t)",
    re.IGNORECASE,
)
_LONGEST_STEP_S = 1e-3
_UNIT = re.compile(r"(?:[\[(/_]\s*|\s)(s|sec|seconds|ms|us|µs|μs|\ufffds|ns|ps)\s*[\])]?\s*$")
_VOLTS = re.compile(r"[\[(/_]\s*(mv|v|volts?)\s*[\])]?\s*$", re.IGNORECASE)


class Layout(NamedTuple):
    """One table: how its rows are cut, the row they begin at, and what its columns are.

    ``names`` has one entry for each column. ``time`` is the column of times in ``unit_s`` or None, ``channels`` the
    columns of levels, ``scale`` what makes volts of each (0.001 for a column in mV). ``step_s`` is the time between
    rows that the head states, where no column has times [s].
    """

    separator: str
    decimal: str
    skipped_lines: int
    names: tuple[str, ...]
    time: int | None
    unit_s: float
    channels: tuple[int, ...]
    scale: tuple[float, ...]
    step_s: float | None = None


def fields_of(line: str, separator: str) -> list[str]:
    """The cells of one row, without quotes and the spaces around them.

    >>> fields_of(' 0.5 ; "1"', ";")
    ['0.5', '1']
    """
    cells = line.split() if separator == " " else line.split(separator)
    return [cell.strip().strip('"').strip() for cell in cells]


def split_row(line: str) -> tuple[str, str, list[str]] | None:
    """Separator, decimal sign and cells of a row of numbers; None when it is no such row.

    >>> split_row("0,25;1"), split_row("0.25,1"), split_row("Time,CC")
    ((';', ',', ['0.25', '1']), (',', '.', ['0.25', '1']), None)
    """
    for separator in SEPARATORS:
        if separator not in line and separator != " ":
            continue
        cells = fields_of(line, separator)
        decimal = "."
        if separator != "," and any("," in cell for cell in cells) and not any("." in cell for cell in cells):
            decimal = ","
            cells = [cell.replace(",", ".", 1) for cell in cells]
        while cells and not cells[-1]:
            cells.pop()
        if cells and is_number(cells[0]) and all(is_number(cell) or _LEVEL.fullmatch(cell) for cell in cells):
            return separator, decimal, cells
    return None


def is_number(cell: str) -> bool:
    """Whether a cell is one plain decimal number."""
    return len(cell) < 400 and _NUMBER.fullmatch(cell) is not None


def find_layout(head: str, sample_rate_hz: float | None) -> Layout:
    """Layout from the first lines of a table; raises InputError when no rows of numbers are found.

    With ``sample_rate_hz`` a column of times or sample numbers is passed over.
    """
    lines = head.split("\n")
    if len(lines) > 2:
        lines.pop()  # the last one may be torn
    begin, rows, separator, decimal = _first_rows(lines)
    width = max(len(row) for row in rows)
    names = _header_names(lines[:begin], separator, width)
    named = names is not None
    names = names or [f"column {number}" for number in range(1, width + 1)]
    time = _time_column(names, rows, named)
    unit_s = 1.0
    step_s = None if sample_rate_hz is not None else _step_in(lines[: begin + 1])
    if step_s is not None and (time is None or _counts(rows, time)):
        sample_rate_hz = 1 / step_s
    else:
        step_s = None
    if time is not None and sample_rate_hz is None:
        if named and _COUNT_NAME.fullmatch(names[time]):
            raise InputError(f"column {names[time]!r} holds no times", expected="a sample rate for this table")
        unit_s = _unit_of(names[time]) if named else 1.0
    if time is None and sample_rate_hz is None:
        raise InputError("no column of rising times", where=f"line {begin + 1}", expected="one, or a sample rate")
    channels = tuple(column for column in range(width) if column != time and names[column])
    if not channels:
        raise InputError("no column of levels", where=f"line {begin + 1}", expected="time and level, or a sample rate")
    scale = tuple(1e-3 if _in_millivolts(names[column]) else 1.0 for column in range(width))
    return Layout(
        separator, decimal, begin, tuple(names), time if sample_rate_hz is None else None, unit_s, channels, scale,
        step_s,
    )  # fmt: skip


def column_of(layout: Layout, wanted: str) -> int:
    """The column of a channel: its name with or without its unit, or its number from 1."""
    bare = wanted.strip().lower()
    for spelled in (lambda name: name, _without_unit):
        for column in layout.channels:
            if spelled(layout.names[column]).lower() == bare:
                return column
    number = bare.removeprefix("column").strip()
    if number.isdecimal() and len(number) < 6 and int(number) - 1 in layout.channels:
        return int(number) - 1
    raise no_such_channel(wanted, tuple(layout.names[column] for column in layout.channels))


def _first_rows(lines: list[str]) -> tuple[int, list[list[str]], str, str]:
    """Where the rows of numbers begin, those at hand, separator and decimal sign."""
    for begin, line in enumerate(lines):
        found = split_row(line)
        if not found:
            continue
        separator, _, cells = found
        following = [split_row(other) for other in lines[begin + 1 : begin + 200] if other.strip()]
        alike = [row for row in following if row and len(row[2]) == len(cells) and row[0] == separator]
        if len(alike) >= 0.5 * len(following):
            decimal = "," if "," in {row[1] for row in [found, *alike]} else "."
            return begin, [cells, *(row[2] for row in alike)], separator, decimal
    first = next((line.strip() for line in lines if line.strip()), "")
    raise InputError(
        f"no rows of numbers found, the first line is {first[:40]!r}" if first else "an empty table",
        expected="rows of time and level",
    )


def _header_names(lines: list[str], separator: str, width: int) -> list[str] | None:
    """Column names from the nearest line above the rows that has as many cells and a word among them."""
    for line in reversed(lines[-8:]):
        cells = fields_of(line.lstrip("#%! "), separator)
        if len(cells) < width and separator == " ":
            continue
        if len(cells) >= width and any(re.search(r"[^\W\d]", cell) for cell in cells):
            names = [cell or f"column {number}" for number, cell in enumerate(cells[:width], 1)]
            doubled = {name for name in names if names.count(name) > 1}
            return [f"{name} (column {at})" if name in doubled else name for at, name in enumerate(names, 1)]
    return None


def _time_column(names: list[str], rows: list[list[str]], named: bool) -> int | None:
    if named:
        for column, name in enumerate(names):
            if _TIME_NAME.fullmatch(_without_unit(name)):
                return column
    if len(names) > 1 and _rises(rows):
        return 0
    if named and _COUNT_NAME.fullmatch(names[0]) and len(names) > 1:
        return 0
    return None


def _step_in(head: list[str]) -> float | None:
    """The time between samples that the head of a table states: behind its name, or below it [s]."""
    rows = [fields_of(line, next((each for each in SEPARATORS if each in line), " ")) for line in head[-40:]]
    for at, cells in enumerate(rows):
        for column, cell in enumerate(cells):
            if not _STEP_NAME.fullmatch(_without_unit(cell.rstrip(":"))):
                continue
            beside = cells[column + 1 : column + 2]
            below = rows[at + 1][column : column + 1] if at + 1 < len(rows) else []
            for figure in (*beside, *below):
                if is_number(figure) and 0 < float(figure) * _unit_of(cell.rstrip(":")) < _LONGEST_STEP_S:
                    return float(figure) * _unit_of(cell.rstrip(":"))
    return None


def _counts(rows: list[list[str]], time: int) -> bool:
    """Whether a column only numbers the rows."""
    figures = [float(row[time]) for row in rows if len(row) > time and is_number(row[time])]
    return len(figures) > 1 and all(b - a == 1 for a, b in pairwise(figures))


def _rises(rows: list[list[str]]) -> bool:
    first = [float(row[0]) for row in rows]
    ordered = all(a <= b for a, b in pairwise(first))
    return ordered and (len(set(first)) > 2 or len(rows) < 3)


def _without_unit(name: str) -> str:
    return _VOLTS.sub("", _UNIT.sub("", name)).strip()


def _unit_of(name: str) -> float:
    if name.strip().lower() in _UNITS:
        return _UNITS[name.strip().lower()]
    match = _UNIT.search(name)
    return _UNITS[match[1]] if match else 1.0


def _in_millivolts(name: str) -> bool:
    match = _VOLTS.search(name)
    return bool(match and match[1].lower() == "mv")
