"""Rows of a table whose columns are known, read at speed: a time, an ordered set, bytes that their CRC proves."""

from __future__ import annotations

import re
from functools import lru_cache

from pdcheck.intake.content import Layout
from pdcheck.intake.hexlog import plain_of
from pdcheck.intake.names import sop_of
from pdcheck.intake.row import Stamp
from pdcheck.intake.stream import Plain
from pdcheck.named import NamedTuple

_NUMBER = re.compile(r"\d{1,18}(?:\.\d{1,12})?")
_KNOWN_MOST = 1 << 12
_ALONE = ("crc", "header", "objects", "any", "delta")


class TableRow(NamedTuple):
    """What a row says: its time as written, its message."""

    stamp: Stamp | None
    plain: Plain


class TableRows:
    """The rows of a table of a layout; what is the least bit odd is left to the general reader."""

    def __init__(self, layout: Layout) -> None:
        columns = layout.head.columns
        roles = [] if columns is None else [role for role, _ in columns.roles]
        times = layout.times
        self._able = (
            columns is not None
            and columns.separator in ",;\t"
            and not columns.ragged
            and roles.count("data") == 1
            and max(roles.count("time"), roles.count("sop")) <= 1
            and not set(_ALONE) & set(roles)
            and layout.crc
            and times.kind == "first"
        )
        if columns is None or not self._able:
            return
        self._separator, self._width = columns.separator, len(roles)
        self._data = roles.index("data")
        self._time = roles.index("time") if "time" in roles else -1
        self._sop = roles.index("sop") if "sop" in roles else -1
        self._unit_s = columns.roles[self._time][1] if self._time >= 0 else None
        self._plain = lru_cache(_KNOWN_MOST)(_plain)
        self._named = any(role in ("", "name", "direction") for role in roles) and self._sop < 0

    def read(self, text: str) -> TableRow | None:
        """A row; ``None`` where the general reader must look at it."""
        if not self._able or self._named or '"' in text:
            return None
        cells = text.split(self._separator)
        if len(cells) != self._width:
            return None
        key = (cells[self._sop] if self._sop >= 0 else "SOP", cells[self._data])
        plain = self._plain(*key)
        if plain is None or self._time < 0:
            return None if plain is None else TableRow(None, plain)
        time = cells[self._time].strip()
        if _NUMBER.fullmatch(time) is None:
            return None
        return TableRow(Stamp(float(time), self._unit_s, False, "." not in time, 0), plain)


def _plain(sop: str, digits: str) -> Plain | None:
    named = sop_of(sop.strip())
    try:
        plain = None if named is None or named.endswith("Reset") else plain_of(named, digits.strip())
    except ValueError:
        return None
    return plain if plain is not None and plain.crc else None
