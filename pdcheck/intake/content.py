"""Logs whose rows are read by their content: the layout is learnt from the first rows, a CRC that fits proves it."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.header import type_name
from pdcheck.bits.message import payload_bytes
from pdcheck.intake.mappings import object_row
from pdcheck.intake.names import role_of
from pdcheck.intake.row import LONGEST_ROW, Reads, Row, Stamp, bytes_of, read_cells, read_row, ways, without_colours

ROWS = 400
"""So many rows of the beginning tell the layout."""
_SEPARATORS = "\t;|,"
_RULE = re.compile(r"[\s|:+=-]{3,}")
_TAKEN = ("time", "delta", "data", "sop", "crc", "header", "objects")
_GOOD_CRC_S = (0.15e-3, 6e-3)
"""A GoodCRC begins so long after its message: the message's own time on the line and up to 1.1 ms more (tReceive); with
room for logs that take the time at the end, and for slow loggers."""


class Columns(NamedTuple):
    """A table with a head: what separates its cells, and what each column holds."""

    separator: str
    roles: tuple[tuple[str, float | None], ...]


class Layout(NamedTuple):
    """How the rows of a log are read.

    ``skipped`` tokens stand before the bytes, ``turned`` says that values stand as numbers: both ``None`` where a CRC
    proves each row. ``unit_s`` is the unit of times that have none beside them, ``None`` where it is not known.
    """

    columns: Columns | None
    head_rows: int
    skipped: int | None
    turned: bool | None
    crc: bool
    unit_s: float | None
    deltas: bool
    stamp: int
    remarks: tuple[str, ...] = ()


class Found(NamedTuple):
    """The message of a row: ordered set, bytes, whether its CRC proves it, and the time as written."""

    sop: str
    data: bytes
    sure: bool
    stamp: Stamp | None


def cells_of(text: str, separator: str) -> list[str]:
    """The cells of a row of a table, quotes and frames off."""
    text = without_colours(text)
    if separator == "|":
        text = text.strip().strip("|")
    if '"' in text and separator != "|":
        return [cell.strip() for cell in next(csv.reader([text], delimiter=separator, skipinitialspace=True), [])]
    return [cell.strip().strip("`*").strip() for cell in text.split(separator)]


def is_rule(text: str) -> bool:
    """Whether a row only draws a line, as between the head of a table and its body."""
    return (
        len(text) < LONGEST_ROW
        and _RULE.fullmatch(text) is not None
        and "-" in text + "="
        and "--" in text.replace("=", "-")
    )


def layout_of(rows: Sequence[str]) -> tuple[Layout, list[Found | None]] | None:
    """The layout that the first rows of a log have, and what each of them holds; ``None`` where no row is understood.

    >>> rows = ["time (ms),sop,data", "0.5,SOP,410416 1cba93".replace(" ", ""), "1.2,SOP,4100bb6cbba8"]
    >>> made = layout_of(rows)
    >>> made is not None and (made[0].unit_s, [each.sure for each in made[1][1:]])
    (0.001, [False, True])
    """
    head, columns, unit_s = _head(rows)
    read = [None if at < head or not row.strip() or is_rule(row) else _row(row, columns) for at, row in enumerate(rows)]
    return layout_of_rows(read, columns, head, unit_s)


def layout_of_rows(
    read: Sequence[Row | None], columns: Columns | None = None, head: int = 0, unit_s: float | None = None
) -> tuple[Layout, list[Found | None]] | None:
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
    some = Layout(columns, head, skipped, turned, proved > 0, unit_s, False, -1)
    found = [None if row is None else message_of(row, some) for row in read]
    return _timed(some, read, found), found


def _one_each(each: list[Reads]) -> set[Reads]:
    sure = [way for way in each if way.sure]
    return set(sure or each)


def _differ(told: list[list[Reads]], keys: list[tuple[int, bool]]) -> bool:
    """Whether ways that all rows allow give other bytes in any of them."""
    return any(len({way.data for way in each if (way.skipped, way.turned) in keys}) > 1 for each in told)


def read_with(text: str, layout: Layout) -> Row | None:
    """A row by a layout; ``None`` where there is nothing in it."""
    if not text.strip() or is_rule(text):
        return None
    return _row(text, layout.columns)


def _row(text: str, columns: Columns | None) -> Row:
    if columns is not None:
        cells = cells_of(text[:LONGEST_ROW], columns.separator)
        if len(cells) == len(columns.roles):
            return read_cells(zip(columns.roles, cells, strict=True))
    return object_row(text) or read_row(text)


def _head(rows: Sequence[str]) -> tuple[int, Columns | None, float | None]:
    """Rows of titles above the body, the columns where the rows below have as many cells, the unit of their times."""
    for at, row in enumerate(rows[:40]):
        plain = without_colours(row[:LONGEST_ROW]).lstrip("#%/! ").strip()
        if not plain or is_rule(plain):
            continue
        below = [each for each in rows[at + 1 : at + 12] if each.strip() and not is_rule(each)]
        for separator in _SEPARATORS:
            cells = cells_of(plain, separator)
            if len(cells) < 2 or not any(each[:1].isalpha() for each in cells):
                continue
            roles = tuple(role_of(cell) for cell in cells)
            if sum(role in _TAKEN for role, _ in roles) < 2 or _has_bytes(cells):
                continue
            alike = [len(cells_of(each, separator)) == len(cells) for each in below]
            unit_s = next((unit for role, unit in roles if role == "time" and unit), None)
            if below and sum(alike) > 0.6 * len(alike):
                return at + 1, Columns(separator, _chosen(roles)), unit_s
            return at + 1, None, unit_s
        words = re.split(r"\t|  +", plain)
        roles = tuple(role_of(word) for word in words)
        if (
            len(words) > 1
            and sum(role in (*_TAKEN, "length", "index", "name") for role, _ in roles) > 1
            and not _has_bytes(words)
        ):
            return at + 1, None, next((unit for role, unit in roles if role == "time" and unit), None)
    return 0, None, None


def _has_bytes(cells: Sequence[str]) -> bool:
    return any(
        re.fullmatch(r"(?:0x)?[0-9A-Fa-f]{4,600}", cell.replace(" ", "")[:600]) is not None
        and any(c.isdigit() for c in cell)
        for cell in cells
    )


def _chosen(roles: tuple[tuple[str, float | None], ...]) -> tuple[tuple[str, float | None], ...]:
    """Roles with what is there twice settled: times before deltas; where nothing is called data, any column may be."""
    names = [role for role, _ in roles]
    if "data" not in names and "objects" not in names and "header" not in names:
        roles = tuple(("any" if role in ("", "name") else role, unit) for role, unit in roles)
    if "time" in names:
        roles = tuple(("" if role == "delta" else role, unit) for role, unit in roles)
    return roles


def message_of(row: Row, layout: Layout) -> Found | None:
    """The message of a row; ``None`` where it holds none that this layout allows."""
    found = list(ways(row))
    sure = [way for way in found if way.sure]
    if sure:
        best = max(sure, key=lambda way: len(way.data))
        if any(way.data not in best.data for way in sure):
            return None
        return Found(_sop(row, best.at), best.data, True, _stamp(row, best.at))
    resets = [sop for _, sop in row.sops if sop.endswith("Reset")]
    if resets and not found:
        return Found(resets[-1], b"", True, _stamp(row, 1 << 30))
    if layout.skipped is None:
        return None
    fit = [way for way in found if (way.skipped, way.turned) == (layout.skipped, layout.turned)]
    fit = fit or ([way for way in found if way.skipped == layout.skipped] if layout.turned else [])
    if layout.crc:
        # Where others carry a CRC, one that has none was cut short, or is not what was sent.
        fit = [way for way in fit if len(way.data) == payload_bytes(way.data) + CRC_BYTES or row.crc_fine is not None]
    if not fit or len({way.data for way in fit}) > 1:
        return None
    return Found(_sop(row, fit[0].at), fit[0].data, False, _stamp(row, fit[0].at))


def _sop(row: Row, at: int) -> str:
    named = [sop for _, sop in row.sops if not sop.endswith("Reset")]
    before = [sop for place, sop in row.sops if place < at and not sop.endswith("Reset")]
    return (before or named or ["SOP"])[-1]


def _stamp(row: Row, at: int) -> Stamp | None:
    stamps = [each for each in row.stamps if not each.delta] or list(row.stamps)
    if len(row.sops) > 1 or len({sop for _, sop in row.sops}) > 1:
        before = [each for each in stamps if each.at < at]
        chosen = before or stamps
        return chosen[-1] if chosen else None
    return stamps[0] if stamps else None


def _timed(layout: Layout, read: Sequence[Row | None], found: Sequence[Found | None]) -> Layout:
    """The layout with the unit of its times, and whether they are since the message before."""
    stamps = [each.stamp for each in found if each is not None and each.stamp is not None]
    if not stamps:
        return layout
    unit_s, remarks = layout.unit_s, list(layout.remarks)
    deltas = all(each.delta for each in stamps)
    if deltas:
        numbers = [each.number for each in stamps]
        deltas = any(a > b for a, b in pairwise(numbers)) or (not stamps[0].at < 0 and len(numbers) < 3)
    if unit_s is None and not any(each.unit_s for each in stamps):
        likely = [unit for unit in (1.0, 1e-3, 1e-6, 1e-9) if _plausible(found, unit, deltas)]
        whole = all(each.whole for each in stamps)
        gaps = _good_crc_gaps(found, deltas)
        if len(likely) == 1:
            unit_s = likely[0]
            if whole or unit_s != 1.0:
                remarks.append(
                    f"the times have no unit: taken as {_UNIT_NAMES[unit_s]}, for so each GoodCRC comes when it is due"
                )
        elif whole or gaps:
            remarks.append("times not judged: nothing says their unit; write it in the head, as in time_us")
        else:
            unit_s = 1.0
        if unit_s is None and not remarks:
            remarks.append("times not judged: nothing says their unit; write it in the head, as in time_us")
    return layout._replace(unit_s=unit_s, deltas=deltas, remarks=tuple(remarks))


_UNIT_NAMES = {1.0: "seconds", 1e-3: "milliseconds", 1e-6: "microseconds", 1e-9: "nanoseconds"}


def _good_crc_gaps(found: Iterable[Found | None], deltas: bool) -> list[float]:
    """Times between a message and the GoodCRC right behind it, in the log's own unit."""
    gaps: list[float] = []
    before: Found | None = None
    for each in found:
        if each is None or each.stamp is None or not each.data:
            before = None
            continue
        answers = before is not None and _is_good_crc(each.data) and not _is_good_crc(before.data)
        if answers and before is not None and before.stamp is not None and not (each.data[1] ^ before.data[1]) & 0x0E:
            gaps.append(each.stamp.number if deltas else each.stamp.number - before.stamp.number)
        before = each
    return gaps


def _is_good_crc(data: bytes) -> bool:
    return type_name(int.from_bytes(data[:2], "little")) == "GoodCRC"


def _plausible(found: Sequence[Found | None], unit_s: float, deltas: bool) -> bool:
    gaps = sorted(_good_crc_gaps(found, deltas))
    return bool(gaps) and _GOOD_CRC_S[0] <= gaps[len(gaps) // 2] * unit_s <= _GOOD_CRC_S[1]


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


__all__ = ["Columns", "Found", "Layout", "bytes_of", "counted", "layout_of", "message_of", "proved", "read_with"]
