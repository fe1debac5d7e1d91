"""Logs whose rows are read by their content: the layout is learnt from the first rows, a CRC that fits proves it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.message import payload_bytes
from pdcheck.intake.mappings import object_row
from pdcheck.intake.row import Row, has_bytes, read_cells, read_row
from pdcheck.intake.stream import BusReading, proved, time_text
from pdcheck.intake.table import NO_HEAD, Columns, Head, head_of, is_framing
from pdcheck.intake.times import Message, Times, stamp_of, times_of
from pdcheck.intake.ways import Reads, read_so, ways
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.intake.stream import Item

ROWS = 400
"""So many rows of the beginning tell the layout."""


_HASHED = re.compile(r"\s{0,40}#\d")
Way = tuple[int | None, int, bool]


class Layout(NamedTuple):
    """How the rows of a log are read.

    ``way`` is how most rows hold their bytes: in which run of hex (``None`` where that differs), how many tokens of it
    stand before them, whether values stand as numbers; ``None`` where a CRC proves each row.
    """

    head: Head
    way: Way | None
    crc: bool
    times: Times
    hashed: bool = False
    """Whether the rows are numbered with a hash before the number, so that one with it is no remark."""


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
    learnt = _with_head(rows, head)
    surely = learnt is not None and None not in learnt[1][head.rows :]
    if head.columns is None or (surely and not head.columns.ragged):
        return learnt
    # What looks like a table may be none.
    bare = _with_head(rows, head._replace(columns=None))
    return bare if bare and (not learnt or worth(rows, *bare) > worth(rows, *learnt)) else learnt


def worth(rows: Sequence[str], layout: Layout, found: Sequence[Found | None]) -> tuple[int, ...]:
    """How much a layout makes of rows: messages that are proved, messages, ordered sets, times."""
    read = [(read_with(row, layout), each) for row, each in zip(rows, found, strict=True) if each is not None]
    timed = sum(row is not None and stamp_of(row, each.at, layout.times) is not None for row, each in read)
    named = sum(row is not None and bool(row.sops) for row, _ in read)
    return *counted(found), named, timed


def _with_head(rows: Sequence[str], head: Head) -> tuple[Layout, list[Found | None]] | None:
    read = [None if at < head.rows or is_framing(row, head) else _row(row, head.columns) for at, row in enumerate(rows)]
    learnt = layout_of_rows(read, head)
    if learnt is None:
        return None
    hashed = [_HASHED.match(row) is not None for row, each in zip(rows, learnt[1], strict=True) if each is not None]
    return learnt[0]._replace(hashed=any(hashed) and 2 * sum(hashed) >= len(hashed)), learnt[1]


def layout_of_rows(read: Sequence[Row | None], head: Head = NO_HEAD) -> tuple[Layout, list[Found | None]] | None:
    """As ``layout_of``, of rows that are cut into words or cells already."""
    able = [(at, row, list(ways(row))) for at, row in enumerate(read) if row is not None]
    proved = sum(any(way.sure for way in each) for _, _, each in able)
    way: Way | None = None
    told = [each for _, row, each in able if each and not any(sop.endswith("Reset") for _, sop in row.sops)]
    if told:
        way = _common_way(told, proved > 0)
        if way is None:
            return None
    elif not any(sop.endswith("Reset") for _, row, _ in able for _, sop in row.sops):
        return None
    some = Layout(head, way, proved > 0, Times())
    found = [None if row is None else message_of(row, some) for row in read]
    both = [(row, each) for row, each in zip(read, found, strict=True) if row is not None and each is not None]
    messages = [Message(row, each.at, each.data) for row, each in both]
    return some._replace(times=times_of(messages, head.unit_s)), found


def _common_way(told: list[list[Reads]], proved: bool) -> Way | None:
    """The way that most rows allow; where no CRC proves any it must be all of them, and none must say other bytes."""
    for placed in (True, False):
        ways_in = [[(_way(each, placed), each.data) for each in _sure_or_all(row)] for row in told]
        best = Counter(way for row in ways_in for way in {way for way, _ in row}).most_common()
        if proved and (placed or not best):
            return best[0][0] if best else None
        if best[0][1] < len(told) or len(told) < 2:
            continue
        rivals = [way for way, count in best if count == best[0][1]]
        if not any(len({data for way, data in row if way in rivals}) > 1 for row in ways_in):
            return best[0][0]
    return None


def _way(reads: Reads, placed: bool) -> Way:
    return (reads.place if placed else None), reads.skipped, reads.turned


def _sure_or_all(each: list[Reads]) -> list[Reads]:
    return [way for way in each if way.sure] or each


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
    quick = None if layout.way is None else read_so(row, *layout.way)
    if quick is not None:
        return Found(_sop(row, quick.at), quick.data, True, quick.at)
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
    if layout.way is None:
        return None
    place, skipped, turned = layout.way
    fit = [way for way in found if (place, skipped, turned) == (way.place, way.skipped, way.turned)]
    fit = fit or [way for way in found if (skipped, turned) == (way.skipped, way.turned)]
    fit = fit or ([way for way in found if way.skipped == skipped] if turned else [])
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


def is_of_log(text: str) -> bool:
    """Whether a row is surely one of a log: a message that its CRC proves, or bytes beside an ordered set.

    >>> is_of_log("5.02 V SOP raw: 41 00"), is_of_log("5 V 3 A")
    (True, False)
    """
    row = read_row(text)
    if (row.sops or row.crc_fine is not None) and has_bytes(row):
        return True
    return any(way.sure for way in ways(row))


def counted(found: Iterable[Found | None]) -> tuple[int, int]:
    """How many messages are proved, and how many there are."""
    told = [each for each in found if each is not None]
    return sum(bool(each.data) and each.sure and crc_matches(each.data) for each in told), len(told)


def rescued(text: str) -> tuple[str, Item] | None:
    """What a row says that the plain reader cannot read: a message that its CRC proves, or a figure of the bus."""
    row = read_row(text)
    found = message_of(row, Layout(NO_HEAD, None, True, Times()))
    stamp = stamp_of(row, 1 << 30 if found is None else found.at, Times())
    time_s = None
    if stamp is not None and (stamp.unit_s or not stamp.whole):
        time_s = stamp.number / round(1 / (stamp.unit_s or 1.0))
    if found is not None and found.data:
        return time_text(time_s), proved(found.sop, found.data, time_s)
    if row.bus is not None and row.says_bus and not has_bytes(row):
        return time_text(time_s), BusReading(time_s, row.bus.volts, row.bus.amps)
    return None
