"""How a table of samples is laid out, and what its head states: separator, columns, units, the time between rows."""

from __future__ import annotations

import math
import re
from itertools import pairwise

from pdcheck.errors import InputError
from pdcheck.intake.names import SAMPLED_S, any_of
from pdcheck.intake.waveform.edges import no_such_channel
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

WORDS = {"high": "1", "low": "0", "true": "1", "false": "0", "rising": "1", "falling": "0", "rise": "1", "fall": "0"}
"""Words for levels."""
_LEVEL = re.compile(r"[xXzZHLhl]?|-{1,4}|[Nn]a[Nn]|[+-]?inf|(?i:" + "|".join(WORDS) + ")")
_CLOCK = re.compile(r"(?:\d{4}-\d\d-\d\d[T ])?(\d{1,2}):(\d\d):(\d\d(?:[.,]\d+)?)Z?")
_TIME_NAME = re.compile(r"t|x|time.*|timestamp.*|elapsed.*|sec(ond)?s?|zeit.*|temps.*|tiempo.*|tempo.*", re.IGNORECASE)
_COUNT_NAME = re.compile(r"#|n|no\.?|nr\.?|index|sample.*|point.*|row", re.IGNORECASE)


class Layout(NamedTuple):
    """One table: how its rows are cut, the row they begin at, and what its columns are.

    ``names`` has one entry for each column. ``time`` is the column of times in ``unit_s`` or None, ``channels`` the
    columns of levels, ``scale`` what makes volts of each (0.001 for a column in mV). ``step_s`` is the time between
    rows that the head states, where no column has times [s], ``start_s`` the time of the first. ``clock`` is set where
    times are those of a day, ``signs`` are those of units behind the numbers. ``words`` is set where levels
    are words.
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
    start_s: float = 0.0
    clock: bool = False
    signs: frozenset[str] = frozenset()
    words: bool = False


def clock_s(cell: str | bytes) -> float:
    """The seconds of the day that a cell says, NaN where it says none.

    >>> clock_s("12:30:15.25"), clock_s("2026-03-04T00:00:01Z")
    (45015.25, 1.0)
    """
    found = _CLOCK.fullmatch(cell if isinstance(cell, str) else cell.decode("utf-8", "replace"))
    if found is None:
        return math.nan
    return int(found[1]) * 3600 + int(found[2]) * 60 + float(found[3].replace(",", "."))


_WITH_UNIT = re.compile(r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?) ?(m?V|[mnpuµμ\ufffd]?s)")


def split_row(line: str, margin: int = 0) -> tuple[str, str, list[str]] | None:
    """Separator, decimal sign and cells of a row of numbers; None when it is no such row.

    ``margin`` columns at its left hold something else. A unit behind a number is left out.

    >>> split_row("0,25;1"), split_row("0.25,1"), split_row("Time,CC")
    ((';', ',', ['0.25', '1']), (',', '.', ['0.25', '1']), None)
    """
    for separator in SEPARATORS:
        if separator not in line and separator != " ":
            continue
        cells = fields_of(line, separator)
        cells = [found[1] if (found := _WITH_UNIT.fullmatch(cell)) else cell for cell in cells]
        decimal = "."
        if separator != "," and any("," in cell for cell in cells) and not any("." in cell for cell in cells):
            decimal = ","
            cells = [cell.replace(",", ".", 1) for cell in cells]
        while cells and not cells[-1]:
            cells.pop()
        told = cells[margin:]
        first = bool(told) and (is_number(told[0]) or _CLOCK.fullmatch(told[0]) is not None)
        if first and all(is_number(cell) or _LEVEL.fullmatch(cell) or _CLOCK.fullmatch(cell) for cell in told):
            return separator, decimal, [""] * margin + told
    return None


def _margin(lines: list[str]) -> int:
    """Columns at the left that hold keys beside the first rows, and nothing beside the others."""
    some = [line for line in lines[len(lines) // 2 :] if line.strip()]
    for separator in SEPARATORS[:-1]:
        starts = [len(line) - len(line.lstrip(separator)) for line in some]
        if some and starts[-1] and starts.count(starts[-1]) > 0.9 * len(starts):
            return starts[-1]
    return 0


def find_layout(head: str, sample_rate_hz: float | None) -> Layout:
    """Layout from the first lines of a table; raises InputError when no rows of numbers are found.

    With ``sample_rate_hz`` a column of times or sample numbers is passed over.
    """
    lines = head.split("\n")
    if len(lines) > 2:
        lines.pop()  # the last one may be torn
    margin = _margin(lines)
    begin, rows, separator, decimal = _first_rows(lines, margin)
    width = max(len(row) for row in rows)
    names = _header_names(lines[:begin], separator, width)
    units = _units_in(lines[begin], separator)
    named = names is not None
    names = names or [f"column {number}" for number in range(1, width + 1)]
    time = _time_column(names, rows, named)
    unit_s = 1.0
    beside = [line for line in lines[begin:200] if margin and line[:1] != separator]
    said = Said() if sample_rate_hz is not None else said_in([*lines[: begin + 1], *beside])
    step_s = said.step_s
    if step_s is not None and (time is None or _counts(rows, time)):
        sample_rate_hz = 1 / step_s
    else:
        step_s = None
    if time is not None and sample_rate_hz is None:
        if named and _COUNT_NAME.fullmatch(names[time]):
            raise InputError(f"column {names[time]!r} holds no times", expected="a sample rate for this table")
        unit_s = unit_of(units[time] if units[time] else names[time]) if named or units[time] else 1.0
    if time is None and sample_rate_hz is None:
        raise InputError("no column of rising times", where=f"line {begin + 1}", expected="one, or a sample rate")
    channels = tuple(column for column in range(margin, width) if column != time and names[column])
    if not channels:
        raise InputError("no column of levels", where=f"line {begin + 1}", expected="time and level, or a sample rate")
    scale = tuple(volts_of(units[column] or names[column]) for column in range(width))
    clock = time is not None and any(_CLOCK.fullmatch(row[time]) for row in rows if len(row) > time)
    return Layout(
        separator=separator,
        decimal=decimal,
        skipped_lines=begin,
        names=tuple(names),
        time=time if sample_rate_hz is None else None,
        unit_s=unit_s,
        channels=channels,
        scale=scale,
        step_s=step_s,
        start_s=said.start_s or 0.0 if step_s is not None else 0.0,
        clock=clock,
        signs=frozenset("".join(units)),
        words=any(cell.lower() in WORDS for row in rows for cell in row),
    )


def _units_in(line: str, separator: str) -> list[str]:
    """The unit behind the number in each cell of a row, empty where there is none."""
    cells = [_WITH_UNIT.fullmatch(cell) for cell in fields_of(line, separator)]
    return [f"({found[2]})" if found else "" for found in cells] + [""] * 400


def column_of(layout: Layout, wanted: str) -> int:
    """The column of a channel: its name with or without its unit, or its number from 1."""
    bare = wanted.strip().lower()
    for spelled in (lambda name: name, without_unit):
        for column in layout.channels:
            if spelled(layout.names[column]).lower() == bare:
                return column
    number = bare.removeprefix("column").strip()
    if number.isdecimal() and len(number) < 6 and int(number) - 1 in layout.channels:
        return int(number) - 1
    raise no_such_channel(wanted, tuple(layout.names[column] for column in layout.channels))


def _first_rows(lines: list[str], margin: int) -> tuple[int, list[list[str]], str, str]:
    """Where the rows of numbers begin, those at hand, separator and decimal sign."""
    for begin, line in enumerate(lines):
        found = split_row(line, margin)
        if not found:
            continue
        separator, _, cells = found
        following = [split_row(other, margin) for other in lines[begin + 1 : begin + 200] if other.strip()]
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
    below: list[str] = []
    for line in reversed(lines[-8:]):
        cells = fields_of(line.lstrip("#%! "), separator)
        if len(cells) >= width > 1 and all(map(is_unit, cells)) and any(cells) and not below:
            below = [f" ({cell.strip('()[] ')})" if cell else "" for cell in cells]
            continue
        if below and len(cells) >= width:
            cells = [cell + unit for cell, unit in zip(cells, [*below, *[""] * len(cells)], strict=False)]
        if len(cells) < width and separator == " ":
            continue
        if len(cells) >= width and any(re.search(r"[^\W\d]", cell) for cell in cells):
            names = [cell or f"column {number}" for number, cell in enumerate(cells[:width], 1)]
            doubled = {name for name in names if names.count(name) > 1}
            return [f"{name} (column {at})" if name in doubled else name for at, name in enumerate(names, 1)]
    if below:
        return [f"column {at}{below[at - 1]}" for at in range(1, width + 1)]
    return None


def _time_column(names: list[str], rows: list[list[str]], named: bool) -> int | None:
    if named:
        for column, name in enumerate(names):
            if _TIME_NAME.fullmatch(without_unit(name)):
                return column
    rising = [column for column in range(len(names)) if len(names) > 1 and _rises(rows, column)]
    if rising:
        return rising[0]
    if named and _COUNT_NAME.fullmatch(names[0]) and len(names) > 1:
        return 0
    return None


def _counts(rows: list[list[str]], time: int) -> bool:
    """Whether a column only numbers the rows."""
    figures = [float(row[time]) for row in rows if len(row) > time and is_number(row[time])]
    return len(figures) > 1 and all(b - a == 1 for a, b in pairwise(figures))


def _rises(rows: list[list[str]], column: int) -> bool:
    figures = [_figure(row[column]) if len(row) > column else math.nan for row in rows]
    ordered = all(a <= b for a, b in pairwise(figures))
    return ordered and (len(set(figures)) > 2 or (len(rows) < 3 and not column))


def _figure(cell: str) -> float:
    return float(cell) if is_number(cell) else clock_s(cell)


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
