"""Objects of JSON as rows: keys are names of columns, numbers in a list are bytes or words."""

from __future__ import annotations

import json
from collections.abc import Iterator

from pdcheck.intake.names import UNITS_S, Role, role_of
from pdcheck.intake.row import Row, read_cells

_DEEPEST = 5
_UNIT_KEYS = ("unit", "units", "timeunit", "time_unit")


def object_row(text: str) -> Row | None:
    """A line that is one JSON object, as a row; ``None`` where it is none.

    >>> object_row('{"time_us": 557, "data": [65, 0]}').stamps[0].unit_s
    1e-06
    """
    stripped = text.strip().rstrip(",")
    if stripped[:1] != "{" or stripped[-1:] != "}":
        return None
    try:
        value = json.loads(stripped)
    except (ValueError, RecursionError):
        return None
    return mapping_row(value) if isinstance(value, dict) else None


def mapping_row(value: dict[str, object]) -> Row:
    """Keys and values as the columns and cells of a row, those of objects within it too."""
    flat = list(_flat(value, ("", None), _DEEPEST))
    cells: list[tuple[Role, str]] = []
    names = {role for role, _ in (role for role, _ in flat)}
    said = next((UNITS_S[str(each)] for key in _UNIT_KEYS if str(each := value.get(key)) in UNITS_S), None)
    for (role, unit_s), each in flat:
        if role == "delta" and "time" in names:
            continue
        any_may = not {"data", "objects", "header"} & names and role in ("", "name")
        in_unit = said if role in ("time", "delta") and unit_s is None else unit_s
        cells.append((("any" if any_may else role, in_unit), cell_text(each, role)))
    return read_cells(cells)


def _flat(value: dict[str, object], within: Role, deeper: int) -> Iterator[tuple[Role, object]]:
    """What each value holds; a key that says nothing means what the key above it does."""
    for key, each in value.items():
        role = role_of(key)
        if within[0] in ("time", "delta") and key.lower() in UNITS_S:
            role = within[0], UNITS_S[key.lower()]
        elif not role[0] and within[0] not in ("data", "header", "objects"):
            role = within
        if isinstance(each, dict) and deeper:
            yield from _flat(each, role, deeper - 1)
        else:
            yield role, each


def cell_text(value: object, role: str) -> str:
    """A value as a cell: numbers of a list are bytes, or words where they are larger than bytes."""
    if isinstance(value, list) and value and all(isinstance(each, int) and 0 <= each < 1 << 32 for each in value):
        wide = 8 if max(value) > 0xFFFF else 4 if max(value) > 0xFF else 2
        if role == "objects":
            wide = 8
        return " ".join(f"0x{each:0{wide}X}" for each in value)
    if isinstance(value, list):
        return " ".join(str(each) for each in value[:300])
    if isinstance(value, bool) or value is None:
        return {True: "ok", False: "bad"}.get(value, "") if role == "crc" else ""  # type: ignore[arg-type]
    if isinstance(value, int) and role in ("crc", "header"):
        return f"0x{value:0{8 if role == 'crc' else 4}X}" if value >= 0 else ""
    if isinstance(value, float) and role in ("time", "delta"):
        return f"{value:.12g}"
    if isinstance(value, dict):
        return ""
    return str(value)
