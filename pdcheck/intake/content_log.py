"""The stream of a log whose rows are read by their content, and the choice between it and the plain reader."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from pdcheck.bits.crc import crc_matches
from pdcheck.bits.message import Message, read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.content import (
    ROWS,
    Columns,
    Found,
    Layout,
    counted,
    is_rule,
    layout_of,
    layout_of_rows,
    message_of,
    read_with,
)
from pdcheck.intake.hexlog import HexLog
from pdcheck.intake.mappings import cell_text, mapping_row
from pdcheck.intake.opened import Opened
from pdcheck.intake.rescued import has_bytes
from pdcheck.intake.row import Row, Stamp, read_cells, read_row
from pdcheck.intake.stream import NOT_JUDGED, BusReading, How, NoMessage, Plain, time_text
from pdcheck.intake.unfolded import json_items, looks_like_json, unfolded, unfolding

if TYPE_CHECKING:
    from pdcheck.intake.stream import Item

_TAKEN_SO = "times-unit"


def content_log(opened: Opened, how: How) -> HexLog | None:
    """The log by its content where that understands it and the plain reader does not, or has no idea of its times."""
    text = opened.head.decode("utf-8", "replace")
    if looks_like_json(text):
        return _json_log(opened, how)
    rows = text.splitlines()[:ROWS]
    if len(text.splitlines()) > 1 and not text.endswith("\n") and len(rows) < ROWS:
        rows = rows[:-1] or rows
    fold = unfolding(rows)
    learnt = layout_of([row for _, row in unfolded(enumerate(rows, 1), fold)])
    if learnt is None:
        return None
    layout, found = learnt
    sure, told = counted(found)
    plain, plain_sure, plain_timed, poor, plain_torn = _plainly(rows)
    plain_told = len(plain)
    if plain_torn and sure >= plain_sure and told >= plain_told and layout.head_rows:
        return ContentLog(opened.read, how, layout, fold, named=bool(opened.name), size=opened.size)
    timed = sum(each is not None and each.stamp is not None for each in found)
    better = (sure, -poor, told) > (plain_sure, 0, plain_told) if sure or plain_sure else (told > plain_told)
    odd_times = layout.deltas or layout.unit_s not in (None, 1.0) or bool(layout.remarks) or timed > plain_timed
    if layout.columns is not None and told >= plain_told and sure >= plain_sure and (poor or told > sure):
        # Columns with names say what is a number; what the plain reader makes of them may fit by chance.
        better = better or plain != [each.data for each in found if each is not None]
    if not (better or (odd_times and sure >= plain_sure and told >= plain_told) or (poor and sure + told > plain_sure)):
        return None
    return ContentLog(opened.read, how, layout, fold, named=bool(opened.name), size=opened.size)


def _json_log(opened: Opened, how: How) -> HexLog:
    """A text of JSON as a log; where it holds no message, or is none after all, as the plain reader has it."""
    data = opened.text_bytes()
    rows: list[tuple[int, Row]] = []
    fault: InputError | None = None
    try:
        for line, item in json_items(data.decode("utf-8", "replace")):
            rows.append((line, _item_row(item)))
    except ValueError as error:
        fault = InputError("the JSON ends or is torn here", where=str(error), expected="a whole array of messages")
    learnt = layout_of_rows([row for _, row in rows]) if rows else None
    if learnt is None:
        return HexLog(_pieces(data), torn=how.torn and bool(opened.name), measured=how.gathered)
    log = ContentLog(_pieces(b""), how, learnt[0], "", named=bool(opened.name), size=0)
    log.taken, log.torn_at = rows, fault
    return log


def _item_row(item: object) -> Row:
    if isinstance(item, dict):
        return mapping_row(item)
    if isinstance(item, list) and any(isinstance(each, str | list) for each in item):
        # A row of a table.
        return read_row(" , ".join(cell_text(each, "") for each in item))
    return read_cells([(("data", None), cell_text(item, "data"))])


def _plainly(rows: Sequence[str]) -> tuple[list[bytes], int, int, int, int]:
    """What the plain reader makes of rows: messages; of them those with a right CRC, with times, with a wrong CRC;
    and the rows that it cannot read."""
    told: list[bytes] = []
    sure = timed = poor = torn = 0
    try:
        log = HexLog(_pieces("\n".join(rows).encode()), torn=True)
        log.rescues = False
        for time, item in log:
            if isinstance(item, Plain):
                told.append(item.data)
                sure, timed = sure + item.crc, timed + bool(time)
            elif isinstance(item, Message):
                told.append(item.raw)
                sure, timed = sure + (item.crc_ok is True), timed + bool(time)
                poor += item.crc_ok is False
            else:
                torn += isinstance(item, InputError)
    except InputError:
        return [], 0, 0, 0, 0
    return told, sure, timed, poor, torn


def _pieces(data: bytes) -> Callable[[], bytes]:
    return BytesIO(data).read


class ContentLog(HexLog):
    """The messages of a log by its content, in turn; a row that cannot be read is given in its place."""

    def __init__(
        self, read: Callable[[], bytes], how: How, layout: Layout, fold: str, *, named: bool, size: int
    ) -> None:
        super().__init__(read, torn=how.torn and named)
        self.size = size
        self.taken: list[tuple[int, Row]] = []
        self.torn_at: InputError | None = None
        self._layout = layout
        self._fold = fold
        self._clock = 0.0
        self._step_s: float | None = None
        problems = [
            Problem(NOT_JUDGED if text.startswith("times not") else _TAKEN_SO, text, "time") for text in layout.remarks
        ]
        self.said = self.said._replace(problems=tuple(problems))

    def __iter__(self) -> Iterator[tuple[str, Item]]:
        for number, taken in self.taken:
            yield from self._read_row("", number, taken)
        if self.torn_at is not None:
            yield from self._left_out(self.torn_at)
        for number, row in unfolded(self._numbered(), self._fold):
            if number > self._layout.head_rows:
                yield from self._read_row(row, number)
        if self._fault is not None:
            raise self._fault
        if not self._heard:
            raise self._first_torn or InputError("no message in it", expected="hex of messages, one a line")

    def _numbered(self) -> Iterator[tuple[int, str]]:
        while self.at < len(self.rows) or self.more():
            self.at += 1
            yield self.first + self.at - 1, self.rows[self.at - 1]

    def _read_row(self, text: str, number: int, row: Row | None = None) -> Iterator[tuple[str, Item]]:
        if row is None:
            if not text.strip() or text.lstrip()[:1] == "#" or is_rule(text):
                return
            row = read_with(text, self._layout)
        found = None if row is None else message_of(row, self._layout)
        if row is None or (found is None and not row.runs and row.bus is None and not text.strip(" \t[]{}(),;")):
            return
        stamp = found.stamp if found is not None else row.stamps[0] if row.stamps else None
        time_s = self._time(stamp)
        if found is not None:
            self._heard = True
            yield self._told(found, time_s)
        elif row.bus is not None and row.says_bus:
            yield time_text(time_s), BusReading(time_s, row.bus.volts, row.bus.amps)
        elif not _is_framing(text):
            what = "no whole message in " + repr(text.strip()[:24]) + ("…" if len(text.strip()) > 24 else "")
            kind = InputError if has_bytes(row) else NoMessage
            yield from self._left_out(
                kind(what, where=f"line {number}", expected="a message, as in the lines around it")
            )

    def _told(self, found: Found, time_s: float | None) -> tuple[str, Item]:
        if not found.data:
            return time_text(time_s), reset_message(found.sop, time_s)
        if found.sure:
            plain = Plain(found.sop, found.data, True)
            if crc_matches(found.data):
                return time_text(time_s), plain
        return time_text(time_s), read_message(found.data, found.sop, time_s)

    def _time(self, stamp: Stamp | None) -> float | None:
        if stamp is None:
            return None
        unit_s = stamp.unit_s or self._layout.unit_s
        if unit_s is None:
            return None
        per_s = round(1 / unit_s)
        time_s = stamp.number / per_s
        if self._layout.deltas:
            time_s = self._clock = round(self._clock + time_s, 9)
        step = unit_s if stamp.whole else float(f"{10.0 ** -_places(stamp.number) * unit_s:.3g}")
        self._step_s = step if self._step_s is None else min(self._step_s, step)
        if self.said.resolution_s != self._step_s:
            self.said = self.said._replace(resolution_s=self._step_s)
        return time_s


def _places(number: float) -> int:
    return len(repr(number).partition(".")[2].partition("e")[0]) if "." in repr(number) else 0


def _is_framing(text: str) -> bool:
    return all(each in "[]{}(),; \t" for each in text[:200]) and len(text) < 200


__all__ = ["Columns", "ContentLog", "content_log", "read_row"]
