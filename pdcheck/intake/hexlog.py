"""A log of hex as a stream: a line a message read at speed, any other line by the general reader, in bounded memory."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from pdcheck.bits.crc import CRC_BYTES, RESIDUAL_REFLECTED, crc32
from pdcheck.bits.damaged import mended_header
from pdcheck.bits.message import HEADER_BYTES, Message, payload_bytes
from pdcheck.errors import InputError
from pdcheck.intake.given import Given
from pdcheck.intake.hexdump import Lines, next_frames
from pdcheck.intake.hexline import EXPECTED
from pdcheck.intake.sniff import frame_message

LONGEST_LINE = 1 << 24
"""A line that goes on for longer is refused [bytes]."""
_KNOWN_MOST = 1 << 13
_OBJECT_DIGITS = 8
# Digits of a message with an object, at least: shorter ones are of a few kinds and come again and again.
_OBJECTS_FROM = 2 * (HEADER_BYTES + 4 + CRC_BYTES)
# Bytes of header and payload, by the second byte of a header that is not extended.
_PROMISED = tuple(payload_bytes(bytes([0, high])) for high in range(128))

# What a logger prints most: a time in seconds, an SOP mark, one run of digits or pairs with blanks between them. What
# this matches the general reader reads alike; what it does not match that one reads itself. The first group is a time
# written as Python writes the number, the second any other.
_ROW = re.compile(
    r"[ \t]*(?:\[?(?:(?!0\.0000)((?:0|[1-9]\d{0,8})\.(?:0|\d{0,5}[1-9]))|(\d+\.\d+))(?: ?s)?\]?[ \t,;:]+)?"
    r"(?:(SOP'{0,2})(?:[ \t]+|[:,][ \t]*))?([0-9A-Fa-f]+|[0-9A-Fa-f]{2}(?: [0-9A-Fa-f]{2})+)[ \t]*",
    re.ASCII,
)


class Plain:
    """What a plain line says behind its time: the ordered set and the bytes, which fit their header.

    ``crc`` says whether a CRC stands at their end; it is right then. A message without objects that comes again is the
    same object, and ``shown`` is for whoever shows it.
    """

    __slots__ = ("crc", "data", "shown", "sop")

    def __init__(self, sop: str, data: bytes, crc: bool) -> None:
        self.sop = sop
        self.data = data
        self.crc = crc
        self.shown: Any = None


class HexLog(Lines):
    """The messages of a log in turn, each with its time in seconds as text (empty for none): a ``Plain`` line, or a
    ``Message`` read in full.

    ``read`` gives the next bytes, none at the end; ``before_reading`` is called each time before it is, so that what
    has been given can be shown while there is nothing to read. ``size`` is the bytes in all that will be read, zero
    where that is not known. ``words`` counts the lists of bare object words in between, which are no messages. Raises
    ``InputError`` naming line and offset, once what stands before it has been given.

    >>> from io import BytesIO
    >>> [(time, plain.data.hex()) for time, plain in HexLog(BytesIO(b"0.5 SOP 4100bb6cbba8").read)]
    [('0.5', '4100bb6cbba8')]
    """

    def __init__(self, read: Callable[[], bytes]) -> None:
        super().__init__([])
        self.read = read
        self.before_reading: Callable[[], None] = _nothing
        self.size = 0
        self.words = 0
        self._others = 0
        self._ended = False
        self._rest = b""
        self._known: dict[tuple[str | None, str], Plain] = {}

    def more(self) -> bool:
        """The next piece of the stream, as rows in the place of those that are done."""
        rows = self._next_rows()
        if not rows:
            return False
        self.first += len(self.rows)
        self.rows, self.at = rows, 0
        return True

    def _next_rows(self) -> list[str]:
        while self._rest or not self._ended:
            taken = self._rest
            if not self._ended:
                self.before_reading()
                piece = self.read()
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
                return rows
        return []

    def take_lines(self, least: int) -> bytes:
        """Whole lines of at least so many bytes, from the stream as it is; fewer at its end, none behind it."""
        taken = [self._rest]
        size = len(self._rest)
        while not self._ended and (size < least or b"\n" not in taken[-1]):
            piece = self.read()
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
        self._others = number - 1

    def plain_lines(self, rows: list[str]) -> list[tuple[str, Plain]] | None:
        """Time and message of each row; ``None`` where not every row is a plain message with its CRC."""
        told = []
        for row in rows:
            found = _ROW.fullmatch(row)
            if found is None:
                return None
            time, odd_time, sop, digits = found.groups()
            plain = self._known.get((sop, digits)) or self._plain(sop, digits)
            if plain is None or not plain.crc:
                return None
            if time is None:
                time = "" if odd_time is None else repr(float(odd_time))
            told.append((time, plain))
        return told

    def _text(self, data: bytes) -> str:
        try:
            return Given("", data).text()
        except InputError as error:
            line, _, offset = (error.where or "line 1, offset 0").removeprefix("line ").partition(",")
            number = self.first + len(self.rows) + int(line) - 1
            raise InputError(error.what, where=f"line {number},{offset}", expected=error.expected) from None

    def __iter__(self) -> Iterator[tuple[str, Plain | Message]]:
        known, match = self._known, _ROW.fullmatch
        time: str | None
        plain: Plain | None = None
        while self.at < len(self.rows) or self.more():
            rows, at = self.rows, self.at
            size = len(rows)
            while at < size:
                found = match(rows[at])
                if found is None:
                    if rows[at].strip():
                        break
                    at += 1
                    continue
                time, odd_time, sop, digits = found.groups()
                plain = (known.get((sop, digits)) if len(digits) < _OBJECTS_FROM else None) or self._plain(sop, digits)
                if plain is None:
                    break
                if not plain.crc:
                    if not self._stands_alone(at + 1):
                        break
                    size = len(rows)
                at += 1
                if time is None:
                    time = "" if odd_time is None else repr(float(odd_time))
                yield time, plain
            self.at = at
            if at < size:
                yield from self._general()
        if plain is None and not self._others and not self.words:
            raise InputError("nothing but blanks and comments", where="line 1", expected=EXPECTED)

    def _general(self) -> Iterator[tuple[str, Message]]:
        """What the general reader makes of the lines from here on: as many as belong together."""
        for frame in next_frames(self) or ():
            if frame.words:
                self.words += 1
            else:
                self._others += 1
                yield time_text(frame.time_s), frame_message(frame)

    def _plain(self, sop: str | None, digits: str) -> Plain | None:
        """A line of one whole message, ``None`` where the general reader must look at it."""
        size = len(digits)
        if size == _OBJECT_DIGITS or (size % 2 and " " not in digits):
            return None
        data = bytes.fromhex(digits)
        crc = crc32(data) == RESIDUAL_REFLECTED
        size = len(data) - CRC_BYTES * crc
        if size < HEADER_BYTES or data[1] >= len(_PROMISED) or size != _PROMISED[data[1]]:
            return None
        if not crc and mended_header(data) is not None:
            return None
        plain = Plain(sop or "SOP", data, crc)
        if len(digits) < _OBJECTS_FROM and len(self._known) < _KNOWN_MOST:
            self._known[sop, digits] = plain
        return plain

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
        found = _ROW.fullmatch(self.rows[at])
        if found is None:
            return False
        time, odd_time, sop, digits = found.groups()
        return bool(time or odd_time or sop) or len(digits.replace(" ", "")) != 2 * CRC_BYTES


def _nothing() -> None: ...


def time_text(time_s: float | None) -> str:
    """A time [s] as text, empty where there is none.

    >>> time_text(0.5), time_text(None)
    ('0.5', '')
    """
    return "" if time_s is None else repr(time_s)
