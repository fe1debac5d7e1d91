"""A text of JSON as rows: the array in it that holds messages, wherever it lies; arrays by columns, rows of cells."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

from pdcheck.errors import InputError
from pdcheck.intake.content import Found, Layout, counted, layout_of_rows
from pdcheck.intake.mappings import cell_text, mapping_row
from pdcheck.intake.names import Role, role_of
from pdcheck.intake.row import Row, read_cells, read_row
from pdcheck.intake.unfolded import json_items
from pdcheck.named import NamedTuple

_DEEPEST = 8
_TRIED_MOST = 6
_LEARNT_FROM = 400

Learnt = tuple[Layout, list[Found | None]]


class JsonLog(NamedTuple):
    """The rows of a JSON text with where each stands, how they are read, and what is wrong where it is torn."""

    rows: list[tuple[str, Row]]
    layout: Layout
    fault: InputError | None


def json_log(text: str) -> JsonLog | None:
    """The rows of a JSON text; ``None`` where it is none.

    Raises ``InputError`` for JSON without a message.

    >>> [place for place, row in json_log('{"n": 2, "when_us": [0, 557], "data": ["8102", "4100bb6cbba8"]}').rows]
    ['line 1', 'line 1']
    """
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        return _torn(text)
    best: tuple[tuple[int, int], list[Row], Learnt] | None = None
    for rows in _tables(value):
        learnt = layout_of_rows(rows[:_LEARNT_FROM])
        if learnt is not None and (best is None or counted(learnt[1]) > best[0]):
            best = counted(learnt[1]), rows, learnt
    if best is None:
        raise InputError(
            "JSON, and no message found in it", expected="an array of messages: time_us, sop, data and so on"
        )
    return JsonLog(list(zip(_places(text, len(best[1])), best[1], strict=True)), best[2][0], None)


def _torn(text: str) -> JsonLog | None:
    rows: list[tuple[str, Row]] = []
    try:
        for line, item in json_items(text):
            rows.append((f"line {line}", _item_row(item, ())))
    except ValueError as error:
        fault = InputError("the JSON ends or is torn here", where=str(error), expected="a whole array of messages")
        learnt = layout_of_rows([row for _, row in rows]) if rows else None
        return None if learnt is None else JsonLog(rows, learnt[0], fault)
    return None


def _places(text: str, count: int) -> list[str]:
    """Where the elements of the array stand: their lines where it is the first one, else their numbers."""
    try:
        lines = [line for line, _ in json_items(text)]
    except ValueError:
        lines = []
    return [f"line {line}" for line in lines] if len(lines) == count else [f"item {at}" for at in range(1, count + 1)]


def _tables(value: object) -> Iterator[list[Row]]:
    """The rows that each array in a value may be, those of messages most likely first."""
    found: list[tuple[bool, int, list[Row]]] = []
    _look(value, _DEEPEST, (), found)
    found.sort(key=lambda each: (each[0], each[1]), reverse=True)
    yield from (rows for _, _, rows in found[:_TRIED_MOST])


def _look(value: object, deeper: int, names: Sequence[Role], found: list[tuple[bool, int, list[Row]]]) -> None:
    if isinstance(value, list):
        rows = _rows_of(value, names)
        if rows:
            found.append((any(isinstance(each, dict | list) for each in value), len(rows), rows))
        if deeper and len(value) < _DEEPEST:
            for each in value:
                _look(each, deeper - 1, (), found)
    elif isinstance(value, dict) and deeper:
        columns = _by_columns(value)
        if columns:
            found.append((True, len(columns), columns))
        named = next((roles for each in value.values() if (roles := _names_in(each))), ())
        for each in value.values():
            _look(each, deeper - 1, named, found)


def _names_in(value: object) -> tuple[Role, ...]:
    """The roles of columns where a list names them; empty where it does not."""
    if not isinstance(value, list) or not 1 < len(value) < 64 or not all(isinstance(each, str) for each in value):
        return ()
    roles = tuple(role_of(each) for each in value)
    return roles if sum(bool(role) for role, _ in roles) > 1 and len({role for role, _ in roles}) > 1 else ()


def _rows_of(value: list[object], names: Sequence[Role]) -> list[Row]:
    if not value or all(isinstance(each, int | float) for each in value):
        # Numbers alone are bytes of one message.
        whole = value and all(isinstance(each, int) and 0 <= each < 256 for each in value)
        return [read_cells([(("data", None), cell_text(value, "data"))])] if whole else []
    if names and _names_in(value):
        return []
    first = _names_in(value[0])
    return [_item_row(each, first or names) for each in (value[1:] if first else value)]


def _by_columns(value: dict[str, object]) -> list[Row]:
    """Rows of an object whose arrays are columns of one length."""
    columns = {key: each for key, each in value.items() if isinstance(each, list)}
    lengths = {len(each) for each in columns.values()}
    if len(columns) < 2 or len(lengths) != 1 or lengths == {0}:
        return []
    if not any(role_of(key)[0] in ("data", "header", "objects") for key in columns):
        return []
    return [mapping_row(dict(zip(columns, cells, strict=True))) for cells in zip(*columns.values(), strict=True)]


def _item_row(item: object, names: Sequence[Role]) -> Row:
    if isinstance(item, dict):
        return mapping_row(item)
    if isinstance(item, list) and len(item) == len(names):
        cells = zip(names, item, strict=True)
        return read_cells((role, cell_text(each, role[0])) for role, each in cells)
    if isinstance(item, list) and any(isinstance(each, str | list) for each in item):
        # A row of a table.
        return read_row(" , ".join(cell_text(each, "") for each in item))
    return read_cells([(("data", None), cell_text(item, "data"))])
