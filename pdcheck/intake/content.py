"""Logs whose rows are read by their content: the layout is learnt from the first rows, a CRC that fits proves it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.message import payload_bytes
from pdcheck.intake.mappings import object_row
from pdcheck.intake.row import Row, read_cells, read_row
from pdcheck.intake.table import NO_HEAD, Columns, Head, head_of, is_framing
from pdcheck.intake.times import Message, Times, times_of
from pdcheck.intake.ways import Reads, ways

ROWS = 400
"""So many rows of the beginning tell the layout."""


class Layout(NamedTuple):
    """How the rows of a log are read.

    ``skipped`` tokens stand before the bytes, ``turned`` says that values stand as numbers: both ``None`` where a CRC
    proves each row.
    """

    head: Head
    skipped: int | None
    turned: bool | None
    crc: bool
    times: Times


class Found(NamedTuple):
    """The message of a row: ordered set, bytes, whether its CRC proves it, and where the bytes stand in it."""

    sop: str
    data: bytes
    sure: bool
    at: int


def layout_of(rows: Sequence[str], *, headed: bool = True) -> tuple[Layout, list[Found | None]] | None:
    """The layout that the first rows of a log have, and what each of them holds; ``None`` where no row is understood.
    ``headed`` is set where they may be a table with a head.

    >>> rows = ["time (ms),sop,data", "0.5,SOP,410416 1cba93".replace(" ", ""), "1.2,SOP,4100bb6cbba8"]
    >>> made = layout_of(rows)
    >>> made is not None and (made[0].times.unit_s, [each.sure for each in made[1][1:]])
    (0.001, [False, True])
    """
    head = head_of(rows) if headed else NO_HEAD
    read = [None if at < head.rows or is_framing(row, head) else _row(row, head.columns) for at, row in enumerate(rows)]
    return layout_of_rows(read, head)


def layout_of_rows(read: Sequence[Row | None], head: Head = NO_HEAD) -> tuple[Layout, list[Found | None]] | None:
    """As ``layout_of``, of rows that are cut into words or cells already."""
    able = [(at, row, list(ways(row))) for at, row in enumerate(read) if row is not None]
    proved = sum(any(way.sure for way in each) for _, _, each in able)
    skipped: int | None = None
    turned: bool | None = None
    told = [each for _, row, each in able if each and not any(sop.endswith("Reset") for _, sop in row.sops)]
    if told:
        common = Counter((way.skipped, way.turned) for each in told for way in _one_each(each))
        best = common.most_common()
        skipped, turned = best[0][0]
        rivals = [key for key, count in best[1:] if count == best[0][1]]
        if not proved and rivals and _differ(told, [best[0][0], *rivals]):
            return None
        if not proved and (best[0][1] < len(told) or len(told) < 2):
            return None
    elif not any(sop.endswith("Reset") for _, row, _ in able for _, sop in row.sops):
        return None
    some = Layout(head, skipped, turned, proved > 0, Times())
    found = [None if row is None else message_of(row, some) for row in read]
    both = [(row, each) for row, each in zip(read, found, strict=True) if row is not None and each is not None]
    messages = [Message(row, each.at, each.data) for row, each in both]
    return some._replace(times=times_of(messages, head.unit_s)), found


def _one_each(each: list[Reads]) -> set[Reads]:
    sure = [way for way in each if way.sure]
    return set(sure or each)


def _differ(told: list[list[Reads]], keys: list[tuple[int, bool]]) -> bool:
    """Whether ways that all rows allow give other bytes in any of them."""
    return any(len({way.data for way in each if (way.skipped, way.turned) in keys}) > 1 for each in told)


def read_with(text: str, layout: Layout) -> Row | None:
    """A row by a layout; ``None`` where there is nothing in it."""
    return None if is_framing(text, layout.head) else _row(text, layout.head.columns)


def _row(text: str, columns: Columns | None) -> Row:
    if columns is not None:
        cells = columns.cells_of(text)
        if cells is not None:
            return read_cells(zip(columns.roles, cells, strict=True))
    return object_row(text) or read_row(text)


def message_of(row: Row, layout: Layout) -> Found | None:
    """The message of a row; ``None`` where it holds none that this layout allows."""
    found = list(ways(row))
    sure = [way for way in found if way.sure]
    if sure:
        best = max(sure, key=lambda way: len(way.data))
        if any(way.data not in best.data for way in sure):
            return None
        return Found(_sop(row, best.at), best.data, True, best.at)
    resets = [sop for _, sop in row.sops if sop.endswith("Reset")]
    if resets and not found:
        return Found(resets[-1], b"", True, 1 << 30)
    if layout.skipped is None:
        return None
    fit = [way for way in found if (way.skipped, way.turned) == (layout.skipped, layout.turned)]
    fit = fit or ([way for way in found if way.skipped == layout.skipped] if layout.turned else [])
    if layout.crc:
        # Where others carry a CRC, one that has none was cut short, or is not what was sent.
        fit = [way for way in fit if len(way.data) == payload_bytes(way.data) + CRC_BYTES or row.crc_fine is not None]
    if not fit or len({way.data for way in fit}) > 1:
        return None
    return Found(_sop(row, fit[0].at), fit[0].data, False, fit[0].at)


def _sop(row: Row, at: int) -> str:
    named = [sop for _, sop in row.sops if not sop.endswith("Reset")]
    before = [sop for place, sop in row.sops if place < at and not sop.endswith("Reset")]
    return (before or named or ["SOP"])[-1]


def proved(text: str) -> bool:
    """Whether a row holds a message whose CRC fits.

    >>> proved("x 4100bb6cbba8 y"), proved("5 V 3 A")
    (True, False)
    """
    return any(way.sure for way in ways(read_row(text)))


def counted(found: Iterable[Found | None]) -> tuple[int, int]:
    """How many messages are proved, and how many there are."""
    told = [each for each in found if each is not None]
    return sum(bool(each.data) and each.sure and crc_matches(each.data) for each in told), len(told)


__all__ = ["Found", "Layout", "counted", "layout_of", "layout_of_rows", "message_of", "proved", "read_with"]
