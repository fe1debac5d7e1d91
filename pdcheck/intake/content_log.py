"""The stream of a log whose rows are read by their content; the choice between it and the plain reader."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from io import BytesIO
from typing import TYPE_CHECKING, Final

from pdcheck.bits.crc import crc_matches
from pdcheck.bits.message import Message, read_message, reset_message
from pdcheck.bits.problems import Problem
from pdcheck.errors import InputError
from pdcheck.intake.content import ROWS, Found, Layout, counted, message_of, read_with
from pdcheck.intake.given import head_text
from pdcheck.intake.hexlog import HexLog, mostly_proved, plain_of
from pdcheck.intake.json_log import json_log
from pdcheck.intake.learnt import Learnt, learnt_of
from pdcheck.intake.names import sop_of
from pdcheck.intake.opened import Opened
from pdcheck.intake.row import Row, Stamp, has_bytes
from pdcheck.intake.stream import NOT_JUDGED, BusReading, How, NoMessage, Plain, proved, time_text
from pdcheck.intake.times import stamp_of, step_of
from pdcheck.intake.unfolded import looks_like_json, unfolded
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.intake.stream import Item

_TAKEN_SO: Final = "times-unit"

_NUMBER = re.compile(r"\d{1,18}(?:\.\d{1,12})?")
_KNOWN_MOST = 1 << 12
_ALONE = ("crc", "header", "objects", "any", "delta")


def content_log(opened: Opened, how: How) -> HexLog | None:
    """The log by its content where that understands it and the plain reader does not, or has no idea of its times."""
    text, read = head_text(opened.head), opened.read
    if looks_like_json(text):
        data = opened.text_bytes()
        log = _json_log(data, opened, how)
        if log is not None:
            return log
        read = _pieces(data)
    rows = text.splitlines()[:ROWS]
    if len(rows) > 1 and not text.endswith("\n") and len(rows) < ROWS:
        rows = rows[:-1]
    learnt = learnt_of(rows)
    if learnt is not None and _is_better(learnt, rows):
        return ContentLog(read, how, learnt.layout, learnt.fold, named=bool(opened.name), size=opened.size)
    if learnt is None and read == opened.read:
        return None
    log = HexLog(read, torn=how.torn and bool(opened.name), measured=how.measured)
    plain, sure, *_ = _plainly(rows)
    log.size, log.expects_crc = opened.size, mostly_proved(sure, len(plain) - sure)
    return log


def _is_better(learnt: Learnt, rows: Sequence[str]) -> bool:
    """Whether the rows say more so than to the plain reader."""
    layout, times = learnt.layout, learnt.layout.times
    sure, told = counted(learnt.found)
    plain, plain_sure, plain_timed, plain_named, poor, torn, step_s = _plainly(rows)
    as_many = sure >= plain_sure and told >= len(plain)
    named = sum(each is not None and each.sop != "SOP" for each in learnt.found)
    if torn and as_many and (layout.head.rows or learnt.fold):
        return True
    if (sure or plain_sure) and (sure, -poor, told) > (plain_sure, 0, len(plain)):
        return True
    if not (sure or plain_sure) and told > len(plain):
        return True
    # Columns with names say what is a number; what the plain reader makes of them may fit by chance.
    if as_many and not sure and (layout.head.columns is not None or (layout.way is not None and layout.way[2])):
        return True
    # Where no CRC proves any, bytes that stand alike in all rows do more than each row by itself.
    alike = (layout.head.columns is not None or not sure) and as_many and (poor or told > sure)
    if alike and plain != [each.data for each in learnt.found if each is not None]:
        return True
    odd_times = times.deltas or times.unit_s not in (None, 1.0) or bool(times.remarks) or times.kind != "first"
    no_times = plain_timed > 0 and learnt.timed == 0 and (layout.head.columns is not None or times.kind == "none")
    finer = learnt.step_s is not None and (step_s is None or step_s > 2 * learnt.step_s)
    return (as_many and (odd_times or no_times or finer or learnt.timed > plain_timed or named > plain_named)) or bool(
        poor and sure + told > plain_sure
    )


def _json_log(data: bytes, opened: Opened, how: How) -> HexLog | None:
    """A text of JSON as a log; ``None`` where it holds no message."""
    found = json_log(data.decode("utf-8", "replace"))
    if found is None:
        return None
    log = ContentLog(_pieces(b""), how, found.layout, "", named=bool(opened.name), size=0)
    log.taken, log.torn_at = found.rows, found.fault
    return log


def _plainly(rows: Sequence[str]) -> tuple[list[bytes], int, int, int, int, int, float | None]:
    """What the plain reader makes of rows: messages; of them those with a right CRC, with times, not for the port, with
    a wrong CRC; the rows that it cannot read, and the step of the times [s]."""
    told: list[bytes] = []
    sure = timed = named = poor = torn = 0
    try:
        log = HexLog(_pieces("\n".join(rows).encode()), torn=True, measured=True)
        log.rescues = False
        for time, item in log:
            if isinstance(item, Plain):
                told.append(item.data)
                named += item.sop != "SOP"
                sure, timed = sure + item.crc, timed + bool(time)
            elif isinstance(item, Message):
                told.append(item.raw)
                named += item.sop != "SOP"
                sure, timed = sure + (item.crc_ok is True), timed + bool(time)
                poor += item.crc_ok is False
            else:
                torn += isinstance(item, InputError)
    except InputError:
        return [], 0, 0, 0, 0, 0, None
    return told, sure, timed, named, poor, torn, log.said.resolution_s


def _pieces(data: bytes) -> Callable[[], bytes]:
    return BytesIO(data).read


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


class ContentLog(HexLog):
    """The messages of a log by its content, in turn; a row that cannot be read is given in its place."""

    def __init__(
        self, read: Callable[[], bytes], how: How, layout: Layout, fold: str, *, named: bool, size: int
    ) -> None:
        super().__init__(read, torn=how.torn and named)
        self.size = size
        self.taken: list[tuple[str, Row]] = []
        self.torn_at: InputError | None = None
        self._layout = layout
        self._fold = fold
        self._clock = 0.0
        self._step_s: float | None = None
        problems = [
            Problem(NOT_JUDGED if text.startswith("times not") else _TAKEN_SO, text, "time")
            for text in layout.times.remarks
        ]
        self.said = self.said._replace(problems=tuple(problems))

    def __iter__(self) -> Iterator[tuple[str, Item]]:
        for place, taken in self.taken:
            yield from self._read_row("", place, taken)
        if self.torn_at is not None:
            yield from self._left_out(self.torn_at)
        rows = TableRows(self._layout)
        for number, row in unfolded(self._numbered(), self._fold):
            quick = rows.read(row)
            if quick is not None and number > self._layout.head.rows:
                self._heard = True
                yield time_text(self._time(quick.stamp)), quick.plain
            elif number > self._layout.head.rows:
                yield from self._read_row(row, f"line {number}")
        if self._fault is not None:
            raise self._fault
        if not self._heard:
            raise self._first_torn or InputError("no message in it", expected="hex of messages, one a line")

    def _numbered(self) -> Iterator[tuple[int, str]]:
        while self.at < len(self.rows) or self.more():
            self.at += 1
            yield self.first + self.at - 1, self.rows[self.at - 1]

    def _read_row(self, text: str, place: str, row: Row | None = None) -> Iterator[tuple[str, Item]]:
        if row is None:
            row = read_with(text, self._layout)
        if row is None:
            return
        found = message_of(row, self._layout)
        if text.lstrip()[:1] == "#" and not self._layout.hashed:
            return
        stamp = stamp_of(row, 1 << 30 if found is None else found.at, self._layout.times)
        time_s = self._time(stamp)
        if found is not None:
            self._heard = True
            yield self._told(found, time_s)
        elif row.bus is not None and row.says_bus:
            yield time_text(time_s), BusReading(time_s, row.bus.volts, row.bus.amps)
        elif self._heard or has_bytes(row):
            what = "no whole message in " + repr(text.strip()[:24]) + ("…" if len(text.strip()) > 24 else "")
            kind = InputError if has_bytes(row) else NoMessage
            yield from self._left_out(kind(what, where=place, expected="a message, as in the lines around it"))

    def _told(self, found: Found, time_s: float | None) -> tuple[str, Item]:
        if not found.data:
            return time_text(time_s), reset_message(found.sop, time_s)
        if found.sure:
            told = proved(found.sop, found.data, time_s)
            if crc_matches(found.data):
                return time_text(time_s), told
        return time_text(time_s), read_message(found.data, found.sop, time_s)

    def _time(self, stamp: Stamp | None) -> float | None:
        if stamp is None:
            return None
        unit_s = stamp.unit_s or self._layout.times.unit_s
        if unit_s is None:
            return None
        per_s = round(1 / unit_s)
        time_s = stamp.number / per_s
        if self._layout.times.deltas:
            time_s = self._clock = round(self._clock + time_s, 9)
        step = step_of(stamp, unit_s)
        self._step_s = step if self._step_s is None else min(self._step_s, step)
        if self.said.resolution_s != self._step_s:
            self.said = self.said._replace(resolution_s=self._step_s)
        return time_s
