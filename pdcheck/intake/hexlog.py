"""The form ``hex``: a log as a stream, a line a message read at speed, any other line by the general reader."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache, lru_cache
from itertools import islice
from typing import TYPE_CHECKING

from pdcheck.bits.crc import CRC_BYTES, RESIDUAL_REFLECTED, crc32
from pdcheck.bits.message import HEADER_BYTES, Message, mended_header, payload_bytes
from pdcheck.errors import InputError
from pdcheck.intake.given import Given
from pdcheck.intake.hexdump import Lines, items_of_dump, may_be_dump, next_items
from pdcheck.intake.hexline import EXPECTED
from pdcheck.intake.stamps import finest_step
from pdcheck.intake.stream import Intake, NoMessage, Plain, Stream, Words

if TYPE_CHECKING:
    from pdcheck.intake.stream import Item

LONGEST_LINE = 1 << 24
"""A line that goes on for longer is refused [bytes]."""
_KNOWN_MOST = 1 << 13
_OBJECT_DIGITS = 8
# Digits of a message with an object, at least: shorter ones are of a few kinds and come again and again.
_OBJECTS_FROM = 2 * (HEADER_BYTES + 4 + CRC_BYTES)
# Bytes of header and payload, by the second byte of a header that is not extended.
_PROMISED = tuple(payload_bytes(bytes([0, high])) for high in range(128))
# So many messages with a CRC, and none or hardly any without, make one without a torn one.
_SURELY = 3
# So many rows may stand above the first message.
_TITLES_MOST = 40
# Rows that a message may be waiting on before the first of them is let go.
_KEPT_MOST = 1 << 12

# What a logger prints most: a time in seconds, an SOP mark, one run of digits or pairs with blanks between them. What
# this matches the general reader reads alike; what it does not match that one reads itself. The first group is a time
# written as Python writes the number, the second any other. No part goes on for longer than such a line can.
_ROW = (
    r"[ \t]{0,64}(?:\[?(?:(?!0\.0000)((?:0|[1-9]\d{0,8})\.(?:0|\d{0,5}[1-9]))|(\d+\.\d+))(?: ?s)?\]?[ \t,;:]+)?"
    r"(?:(SOP'{0,2})(?:[ \t]+|[:,][ \t]*))?([0-9A-Fa-f]{1,80}|[0-9A-Fa-f]{2}(?: [0-9A-Fa-f]{2}){1,40})[ \t]{0,64}"
)


@cache
def plain_row() -> Callable[[str], re.Match[str] | None]:
    return re.compile(_ROW, re.ASCII).fullmatch


def plain_crc(row: str) -> bool | None:
    """Whether the message of a plain row ends in its CRC; ``None`` where the row is no plain one with a message.

    >>> plain_crc("0.5 SOP 4100bb6cbba8"), plain_crc("0.5 SOP 4100"), plain_crc("time_s,sop,data")
    (True, False, None)
    """
    found = plain_row()(row)
    plain = None if found is None else plain_of(found[3], found[4])
    return None if plain is None else plain.crc


def mostly_proved(proved: int, bare: int) -> bool:
    """Whether messages with a right CRC are by far the most: one without it was cut short then."""
    return proved >= _SURELY and 4 * bare <= proved


def plain_lines(rows: list[str]) -> list[tuple[str, Plain]] | None:
    """Time and message of each row; ``None`` where not every row is a plain message with its CRC."""
    log = HexLog(bytes)
    log.rows = rows
    told = list(log.plain_rows())
    return told if len(told) == len(rows) and all(plain.crc for _, plain in told) else None


def plain_of(sop: str | None, digits: str) -> Plain | None:
    """A line of one whole message, ``None`` where the general reader must look at it."""
    size = len(digits)
    if size == _OBJECT_DIGITS or (size % 2 and " " not in digits):
        return None
    data = bytes.fromhex(digits)
    crc = crc32(data) == RESIDUAL_REFLECTED
    size = len(data) - CRC_BYTES * crc
    if size < HEADER_BYTES or data[1] >= len(_PROMISED) or size != _PROMISED[data[1]]:
        return None
    return None if not crc and mended_header(data) is not None else Plain(sop or "SOP", data, crc)


def read_hex(text: str) -> HexLog:
    """The messages of a text and its bare object words, as ``HexLog`` gives them.

    Raises ``InputError`` when it is gone through, naming line and offset (from the start of the line, counted from 0)
    of what is no hex, and the line whose length does not fit its header.

    >>> [message.raw.hex() for _, message in read_hex("0.001 SOP' 41 04 16 1c ba 93")]
    ['4104']
    >>> list(read_hex("0x0801912C 0x0002D12C")) == [("", (0x0801912C, 0x0002D12C))]
    True
    """
    log = HexLog(bytes, quick=False)
    log.rows = text.splitlines()
    return log


class HexLog(Stream, Lines):
    """The messages of a log in turn: a ``Plain`` line, or a ``Message`` read in full.

    ``read`` gives the next bytes, none at the end. ``quick`` is for logs of some length, ``measured`` looks for the
    step of the time stamps. Raises ``InputError`` naming line and offset, once what stands before it has been given;
    with ``torn`` it is given in the line's place, unless hardly anything else is there.

    >>> from io import BytesIO
    >>> [(time, plain.data.hex()) for time, plain in HexLog(BytesIO(b"0.5 SOP 4100bb6cbba8").read)]
    [('0.5', '4100bb6cbba8')]
    """

    def __init__(
        self, read: Callable[[], bytes], *, quick: bool = True, torn: bool = False, measured: bool = False
    ) -> None:
        Stream.__init__(self, Intake("hex"))
        Lines.__init__(self, [])
        self._read = read
        self._quick = quick
        self._tells_torn = torn
        self._torn = self._titles = 0
        self._last_torn = ""
        self._first_torn: InputError | None = None
        self._fault: InputError | None = None
        self._measured = measured
        self._heard = False
        self._ended = False
        self._rest = b""
        self._begun: int | None = None
        self._short = lru_cache(_KNOWN_MOST)(plain_of)
        self._proved = 0
        self._bare = 0
        self.rescues = True
        self.expects_crc = False

    def more(self) -> bool:
        """The next piece of the stream, as rows behind those of the message that waits for it."""
        rows = self._next_rows()
        if not rows:
            return False
        waits = self._begun is not None and len(self.rows) - self._begun < _KEPT_MOST
        gone = self._begun if waits and self._begun is not None else self.at
        self.first += gone
        self.at -= gone
        self._begun = self._begun and 0
        self.rows = self.rows[gone:] + rows
        return True

    def _next_rows(self) -> list[str]:
        """Further rows; none at the end, and none where the bytes are at fault, which is told when all else is."""
        try:
            return self._rows()
        except InputError as error:
            self._fault, self._ended, self._rest = error, True, b""
            return []

    def _rows(self) -> list[str]:
        while self._rest or not self._ended:
            taken = self._rest
            if not self._ended:
                self.before_reading()
                piece = self._read()
                self._ended = not piece
                taken += piece
            # A line feed is never part of another character in UTF-8.
            end = len(taken) if self._ended else taken.rfind(b"\n") + 1
            if not end and len(taken) > LONGEST_LINE:
                where = f"line {self.first + len(self.rows)}"
                raise InputError(f"more than {LONGEST_LINE} bytes", where=where, expected="one message a line")
            self._rest = taken[end:]
            rows = self._text(taken[:end]).splitlines()
            if rows:
                if self._measured:
                    self._measure(rows)
                return rows
        return []

    def _measure(self, rows: list[str]) -> None:
        # No time is written without one of these, and most of what is typed has none.
        if any(mark in row for row in rows for mark in ".,:s"):
            self.said = self.said._replace(resolution_s=finest_step(rows, self.said.resolution_s))

    def take_lines(self, least: int) -> bytes:
        """Whole lines of at least so many bytes, from the stream as it is; fewer at its end, none behind it."""
        taken = [self._rest]
        size = len(self._rest)
        while not self._ended and (size < least or b"\n" not in taken[-1]):
            piece = self._read()
            self._ended = not piece
            size += len(piece)
            taken.append(piece)
            if size > LONGEST_LINE + least:
                break
        data = b"".join(taken)
        end = len(data) if self._ended else data.rfind(b"\n") + 1
        self._rest = data[end:]
        return data[:end]

    def put_back(self, lines: bytes, number: int) -> None:
        """Put back the lines that were taken last, the first of which has that number from 1."""
        self._rest = lines + self._rest
        self.first = number
        self._heard = number > 1

    def _text(self, data: bytes) -> str:
        try:
            return Given("", data).text()
        except InputError as error:
            line, _, offset = (error.where or "line 1, offset 0").removeprefix("line ").partition(",")
            number = self.first + len(self.rows) + int(line) - 1
            raise InputError(error.what, where=f"line {number},{offset}", expected=error.expected) from None

    def __iter__(self) -> Iterator[tuple[str, Item]]:
        if self.first == 1 and (self.rows or self.more()) and may_be_dump(self.rows):
            while further := self._next_rows():
                self.rows += further
            dump = items_of_dump(self.rows)
            if dump is not None:
                yield from dump
                return
        while self.at < len(self.rows) or self.more():
            if self._quick:
                yield from self.plain_rows()
            if self.at < len(self.rows):
                yield from self._general()
        if self._fault is not None:
            raise self._fault
        if not self._heard:
            raise self._first_torn or InputError("nothing but blanks and comments", where="line 1", expected=EXPECTED)

    def plain_rows(self) -> Iterator[tuple[str, Plain]]:
        """The plain messages from here on, up to a row that is none."""
        short, match = self._short, plain_row()
        time: str | None
        rows, at = self.rows, self.at
        size = len(rows)
        # A packed log may unfold to a hundred million rows with nothing in them.
        if not any(islice(rows, at, None)):
            at = size
        while at < size:
            found = match(rows[at])
            if found is None:
                if rows[at].strip():
                    break
                at += 1
                continue
            time, odd_time, sop, digits = found.groups()
            plain = short(sop, digits) if len(digits) < _OBJECTS_FROM else plain_of(sop, digits)
            if plain is None:
                break
            if not plain.crc:
                if not self._stands_alone(at + 1):
                    break
                size = len(rows)
                if self._cut_short():
                    break
                self._bare += 1
            else:
                self._proved += 1
            at += 1
            self._heard = True
            if time is None:
                time = "" if odd_time is None else repr(float(odd_time))
            yield time, plain
        self.at = at

    def _general(self) -> Iterator[tuple[str, Item]]:
        """What the general reader makes of the lines from here on: as many as belong together."""
        self._begun = self.at
        try:
            items = list(map(self._whole, next_items(self)))
            self._heard |= bool(items)
        except InputError as error:
            items = self._left_out(self._fault or error)
        self._begun = None
        yield from items

    def _whole(self, given: tuple[str, Item]) -> tuple[str, Item]:
        """What the general reader made of a line; where all lines carry a CRC, one without was cut short."""
        item = given[1]
        if isinstance(item, Words) or (isinstance(item, Message) and item.crc_ok is None and item.raw):
            if self._cut_short():
                where = f"line {(self._begun or 0) + self.first}"
                raise InputError(
                    "ends before its CRC, which the other lines have", where=where, expected="a whole message"
                )
            self._bare += 1
        elif isinstance(item, Message):
            self._proved += item.crc_ok is True
        return given

    def _cut_short(self) -> bool:
        """Whether a message without a CRC must have lost it."""
        return self._tells_torn and (self.expects_crc or (self._proved >= _SURELY and not self._bare))

    def _left_out(self, error: InputError) -> list[tuple[str, Item]]:
        """A line that cannot be read as an item, where it need not end the reading."""
        if not self._tells_torn or error is self._fault:
            raise error
        if self._last_torn == error.where:
            return []
        saved = self._saved(error)
        if isinstance(saved, tuple):
            self._heard |= isinstance(saved[1], Plain)
            return [saved]
        self._first_torn = self._first_torn or error
        if isinstance(saved, NoMessage) and (not self._heard or self._frames()):
            # A title, or what only frames the messages.
            self._titles += not self._heard
            if self._titles > _TITLES_MOST:
                raise self._first_torn
            return []
        self._torn, self._last_torn = self._torn + 1, error.where
        if 2 * self._torn > self.first + self.at + 1 and not self._proved:
            # More than half of the lines: this is no log.
            raise self._first_torn
        return [("", saved)]

    def _frames(self) -> bool:
        from pdcheck.intake.table import is_framing

        return 0 < self.at <= len(self.rows) and is_framing(self.rows[self.at - 1])

    def _saved(self, error: InputError) -> tuple[str, Item] | InputError:
        """What the line of an error says all the same; else the error."""
        # What was begun last is behind, whichever line the error is about.
        at, where = self.at - 1, f"line {self.first + self.at - 1}"
        if not self.rescues or isinstance(error, NoMessage) or not 0 <= at < len(self.rows):
            return error
        from pdcheck.intake.content import rescued
        from pdcheck.intake.row import has_bytes, read_row

        text = self.rows[at]
        if has_bytes(read_row(text)):
            return rescued(text) or error
        if error.where != where and not error.where.startswith(f"{where},"):
            return error
        return rescued(text) or NoMessage(error.what, where=error.where, expected=error.expected)

    def _stands_alone(self, at: int) -> bool:
        """Whether what follows is surely not the CRC of the message above it."""
        while True:
            if at >= len(self.rows):
                further = self._next_rows()
                if not further:
                    return True
                self.rows += further
            if self.rows[at].strip():
                break
            at += 1
        found = plain_row()(self.rows[at])
        if found is None:
            return False
        time, odd_time, sop, digits = found.groups()
        return bool(time or odd_time or sop) or len(digits.replace(" ", "")) != 2 * CRC_BYTES
