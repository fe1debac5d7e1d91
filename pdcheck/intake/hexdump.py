"""Hex in every dress that loggers print, to messages or bare object words, each with its time."""

from __future__ import annotations

import re
from itertools import accumulate

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.header import EXTENDED_HEADER, type_name
from pdcheck.bits.message import HEADER_BYTES, Message, mended_header, payload_bytes, read_message, reset_message
from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE
from pdcheck.intake.hexline import LONG_LINE, NO_PREFIX, HexLine, fits, line_bytes, read_line, read_tokens
from pdcheck.intake.stream import Words, time_text

Item = tuple[str, Words | Message]
"""Bare object words, or a message, with the time as text."""

LONGEST_FRAME = 2 * HEADER_BYTES + EXTENDED_HEADER.field("data_size").mask + CRC_BYTES
"""Bytes of the longest frame that headers can speak of."""

MOST_WORDS = 64
"""Bare words that still pass for one list, odd as it is; no source, sink or cable says so many."""

_DUMP = r"^\s*(?:0[xX])?([0-9A-Fa-f]{4,16})(?::\s{0,4}|\s{1,4})(?=[0-9A-Fa-f]{2})"
_DUMP_END = r"^\s*([0-9A-Fa-f]{4,16})\s*$"
_ASCII_BAR = r"\|.*\|\s*$"
_ASCII_COLUMN = r"(\s\|.*\|\s*|\s{2,}[^|]{1,16})$"


class Lines:
    """The lines of hex of some rows of text, in turn; one that was taken too many may be put back.

    ``joined_to`` is the number of the last line up to which nothing is joined to the line above it any more.

    >>> lines = Lines(["# a comment", "41 04"])
    >>> lines.take().number, lines.take()
    (2, None)
    """

    def __init__(self, rows: list[str]) -> None:
        self.rows = rows
        self.at = 0
        self.first = 1
        self.joined_to = 0

    def more(self) -> bool:
        """Take further rows in, behind those that may still be asked for; whether there were any."""
        return False

    def take(self) -> HexLine | None:
        """The next line, ``None`` after the last one."""
        while self.at < len(self.rows) or self.more():
            row, number = self.rows[self.at], self.first + self.at
            self.at += 1
            if not row or row[0] == "#":
                continue
            line = read_line(row, number)
            if line is not None:
                return line
        return None

    def below(self) -> HexLine | None:
        """The next line where it can be read; where it cannot, it waits for its turn."""
        try:
            return self.take()
        except InputError:
            self.at -= 1
            return None

    def back(self, line: HexLine) -> None:
        """Put back the line that was taken last."""
        self.at = line.number - self.first


def next_items(lines: Lines) -> list[Item]:
    """What the next lines hold, with its time: one message, or several of one line, or a list of bare object words.

    Empty where nothing is left. Raises ``InputError`` as ``read_hex`` does; what comes next is then the line
    behind the first of those that do not fit together.
    """
    line = lines.take()
    if line is None:
        return []
    time = time_text(line.prefix.time_s)
    if _are_words(line):
        words = _words(line)
        more = lines.below()
        while more is not None and _are_words(more) and not (_begins_list(words[0]) and _begins_list(_words(more)[0])):
            words += _words(more)
            if len(words) > MOST_WORDS:
                raise InputError(f"{len(words)} words in one list", where=f"line {more.number}", expected="at most 11")
            more = lines.below()
        if more is not None:
            lines.back(more)
        return [(time, Words(words))]
    if not line.tokens:
        return [(time, reset_message(line.prefix.sop, line.prefix.time_s))]
    try:
        whole = _unwrapped(line, lines)
        return _split(line_bytes(whole), whole)
    except InputError:
        lines.joined_to = max(lines.joined_to, lines.first + lines.at)
        lines.at = max(0, line.number + 1 - lines.first)
        raise


def _are_words(line: HexLine) -> bool:
    return line.is_words() and (line.is_prefixed() or not fits(line_bytes(line)))


def _words(line: HexLine) -> list[int]:
    return [int(token.digits, 16) for token in line.tokens]


def _unwrapped(line: HexLine, lines: Lines) -> HexLine:
    """A message with what stands of it on the lines below."""
    data = line_bytes(line)
    while HEADER_BYTES <= len(data) < payload_bytes(data) and line.number >= lines.joined_to:
        below = lines.take()
        if below is None:
            return line
        longer = line.with_tokens_of(below)
        if below.prefix.given or not below.tokens or _too_long(line_bytes(longer)) or _is_whole(line_bytes(below)):
            lines.back(below)
            return line
        line, data = longer, line_bytes(longer)
    if len(data) >= HEADER_BYTES and 0 <= len(data) - payload_bytes(data) < CRC_BYTES:
        below = lines.below()
        if below is not None:
            if not below.prefix.given and below.tokens and _ends_it(line, below):
                return line.with_tokens_of(below)
            lines.back(below)
    return line


def _ends_it(above: HexLine, line: HexLine) -> bool:
    """Whether a line is the CRC of the message above it, or the end of one that is cut in two.

    It is the CRC by its value, or because four bytes are no message.
    """
    data, tail = line_bytes(above), line_bytes(line)
    proved = crc_matches(line_bytes(above.with_tokens_of(line)))
    if len(data) != payload_bytes(data):
        return proved and len(tail) < CRC_BYTES
    return len(tail) == CRC_BYTES and (proved or not (line.is_prefixed() or fits(tail)))


def _is_whole(data: bytes) -> bool:
    """Whether a line is a message with its CRC, and so no part of the one above it."""
    return fits(data) and crc_matches(data)


def _too_long(data: bytes) -> bool:
    return len(data) > payload_bytes(data) + CRC_BYTES


def _begins_list(word: int) -> bool:
    """Whether an object is what every list of a source begins with: 5 V, fixed."""
    offer = Offer.from_word(word)
    return offer.kind == "fixed" and offer.max_mv == round(FIRST_OBJECT_VOLTAGE.value * 1000)


def _split(data: bytes, line: HexLine) -> list[Item]:
    """One message, or several that stand in one line: the lengths must come out, and a CRC among them must fit."""
    parts: list[bytes] = []
    at = 0
    while len(data) - at > LONGEST_FRAME or not _is_last(data[at:]):
        end = at + payload_bytes(data[at : at + 2 * HEADER_BYTES]) + CRC_BYTES
        if len(data) - at < HEADER_BYTES or end >= len(data):
            raise _misfit(data, line)
        parts.append(data[at:end])
        at = end
    parts.append(data[at:])
    if len(parts) > 1 and not any(map(crc_matches, parts)):
        raise _misfit(data, line)
    prefix = line.prefix
    return [(time_text(prefix.time_s), read_message(part, prefix.sop, prefix.time_s)) for part in parts]


def _is_last(data: bytes) -> bool:
    return fits(data) or mended_header(data) is not None


def _misfit(data: bytes, line: HexLine) -> InputError:
    where = f"line {line.number}, offset {line.tokens[0].offset}"
    if len(data) < HEADER_BYTES:
        return InputError(f"{len(data)} byte is no message", where=where, expected="a header of 2 bytes at least")
    header = int.from_bytes(data[:HEADER_BYTES], "little")
    promised = payload_bytes(data)
    return InputError(
        f"{len(data)} bytes do not fit the header 0x{header:04X} ({type_name(header)})",
        where=where,
        expected=f"{promised} bytes, or {promised + CRC_BYTES} with the CRC",
    )


def may_be_dump(rows: list[str]) -> bool:
    """Whether the first row is one of a dump with offsets."""
    first = next((row for row in rows if row.strip()), "")
    return len(first) <= LONG_LINE and not first.isalnum() and re.match(_DUMP, first) is not None


def items_of_dump(rows: list[str]) -> list[Item] | None:
    """The messages of a dump with offsets at the left (and perhaps text at the right), ``None`` where it is none."""
    line = _from_dump(rows) if may_be_dump(rows) else None
    return None if line is None else _split(line_bytes(line), line)


def _from_dump(rows: list[str]) -> HexLine | None:
    body = [(number, row) for number, row in enumerate(rows, 1) if row.strip()]
    starts = [re.match(_DUMP, row) or re.match(_DUMP_END, row) for _, row in body]
    if None in starts:
        return None
    offsets = [start[1] for start in starts if start is not None]
    lines = [_dump_row(row, start.end(), number) for (number, row), start in zip(body, starts, strict=True) if start]
    sizes = [sum(len(token.digits) // 2 for token in line.tokens) if line else 0 for line in lines]
    dues = [0, *accumulate(sizes)][:-1]
    if None in lines or not any(_counts(offsets, dues, base) for base in (16, 8, 10)):
        return None
    whole = [line for line in lines if line is not None]
    marked = ":" in body[0][1][: starts[0].end()] or re.search(_ASCII_BAR, body[0][1])  # type: ignore[union-attr]
    if not (len(whole) > 1 or marked):
        return None
    return whole[0]._replace(tokens=tuple(token for line in whole for token in line.tokens))


def _counts(offsets: list[str], dues: list[int], base: int) -> bool:
    try:
        return [int(offset, base) for offset in offsets] == dues
    except ValueError:
        return False


def _dump_row(row: str, start: int, number: int) -> HexLine | None:
    body = row[:start] + re.sub(_ASCII_COLUMN, "", row[start:])
    try:
        tokens = read_tokens(body, start, number)
    except InputError:
        return None
    return HexLine(number, NO_PREFIX._replace(rest=start), tokens)
