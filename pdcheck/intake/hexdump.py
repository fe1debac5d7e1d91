"""Hex in every dress that loggers print, to frames: bytes of a message or bare object words, with time and SOP."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.header import type_name
from pdcheck.bits.message import HEADER_BYTES, payload_bytes
from pdcheck.errors import InputError
from pdcheck.intake.stamps import Prefix, strip_prefix

EXPECTED = "hex digits, two a byte"


class Frame(NamedTuple):
    """Bytes of one message (header first, CRC or not), or bare 32-bit object words; ``line`` counts from 1."""

    data: bytes
    words: tuple[int, ...]
    sop: str
    time_s: float | None
    line: int


class _Token(NamedTuple):
    digits: str
    prefixed: bool
    offset: int


class _Line(NamedTuple):
    number: int
    prefix: Prefix
    tokens: tuple[_Token, ...]

    def is_words(self) -> bool:
        return bool(self.tokens) and all(len(token.digits) == 8 for token in self.tokens)

    def is_prefixed(self) -> bool:
        return all(token.prefixed for token in self.tokens)


# A run of hex with what may dress it; anything else that is no separator is an error.
_TOKEN = re.compile(
    r"(?P<mark>0[xX]|\\[xX]|\$)?(?P<digits>[0-9A-Fa-f]+)(?P<h>[hH](?![0-9A-Fa-f]))?(?P<u>[uU]?[lL]?\b)?"
)
_SEPARATOR = re.compile(r"[\s,;:{}\[\]()'\"|<>=-]+")
_COUNT = re.compile(r"(\d+)[\s,;:]+(?=[0-9A-Fa-f\\])")
_COMMENT = re.compile(r"(#|//|/\*).*$")
_DUMP = re.compile(r"^\s*(?:0[xX])?([0-9A-Fa-f]{4,16})(?::\s?|\s{1,4})(?=[0-9A-Fa-f]{2})")
_DUMP_END = re.compile(r"^\s*([0-9A-Fa-f]{4,16})\s*$")
_ASCII_COLUMN = re.compile(r"(\s\|.*\|\s*|\s{2,}[^|]{1,16})$")


def read_frames(text: str) -> list[Frame]:
    """All frames of a text.

    Raises ``InputError`` naming line and offset (from the start of the line, counted from 0) of what is no hex, and
    the line whose length does not fit its header.

    >>> [frame.data.hex() for frame in read_frames("0.001 SOP' 41 04 16 1c ba 93\\n0x0801912C")][0]
    '4104161cba93'
    >>> read_frames("0x0801912C 0x0002D12C")[0].words == (0x0801912C, 0x0002D12C)
    True
    """
    return list(iterate_frames(text))


def iterate_frames(text: str) -> Iterator[Frame]:
    """As ``read_frames``, one frame at a time."""
    rows = text.splitlines()
    dump = _from_dump(rows)
    lines = iter(dump if dump is not None else _lines(rows))
    held: _Line | None = None
    any_frame = False
    words: list[int] = []
    words_at: _Line | None = None
    while True:
        line = held or next(lines, None)
        held = None
        if line is None:
            break
        if line.is_words() and (line.is_prefixed() or not _fits(_bytes(line))):
            words += [int(token.digits, 16) for token in line.tokens]
            words_at = words_at or line
            continue
        if words_at is not None:
            yield _word_frame(words, words_at)
            words, words_at = [], None
        any_frame = True
        if not line.tokens:
            yield Frame(b"", (), line.prefix.sop, line.prefix.time_s, line.number)
            continue
        data = _bytes(line)
        # A message wrapped over several lines goes on until its header's promise is kept.
        while len(data) >= HEADER_BYTES and len(data) < payload_bytes(data):
            held = next(lines, None)
            if held is None or held.prefix.given or not held.tokens:
                break
            more = data + _bytes(held)
            if len(more) > payload_bytes(more) + CRC_BYTES:
                break
            data, held = more, None
        if held is None and _promise_kept(data):
            held = next(lines, None)
            if held is not None and not held.prefix.given and held.tokens and _is_crc_line(data, held):
                data, held = data + _bytes(held), None
        yield from _split(data, line)
    if words_at is not None:
        yield _word_frame(words, words_at)
    elif not any_frame:
        raise InputError("nothing but blanks and comments", where="line 1", expected=EXPECTED)


def _word_frame(words: list[int], line: _Line) -> Frame:
    return Frame(b"", tuple(words), line.prefix.sop, line.prefix.time_s, line.number)


def _lines(rows: list[str]) -> Iterator[_Line]:
    for number, row in enumerate(rows, 1):
        line = _line(row, number)
        if line is not None:
            yield line


def _line(row: str, number: int) -> _Line | None:
    body = _COMMENT.sub("", row).rstrip()
    if not body.strip():
        return None
    prefix = strip_prefix(body)
    if prefix.rest >= len(body) and not prefix.reset:
        # What looks like a time stamp and nothing else is hex after all, as in 41:04:16.
        prefix = Prefix(None, "SOP", 0, False, False)
    if prefix.time_s is None:
        counted = _counted(body, prefix, number)
        if counted is not None:
            return counted
    return _Line(number, prefix, tuple(_tokens(body, prefix.rest, number)))


def _counted(body: str, prefix: Prefix, number: int) -> _Line | None:
    """The line without a leading plain count (ticks, a line number) where only so the lengths fit."""
    count = _COUNT.match(body, prefix.rest)
    if count is None:
        return None
    try:
        rest = _Line(number, prefix._replace(given=True), tuple(_tokens(body, count.end(), number)))
    except InputError:
        return None
    data = _bytes(rest) if rest.tokens else b""
    # Two digits are a byte like any other, unless the CRC says that the message starts behind them.
    if not _fits(data) or (len(count[1]) == 2 and not crc_matches(data)):
        return None
    try:
        whole = _Line(number, prefix, tuple(_tokens(body, prefix.rest, number)))
    except InputError:
        return rest
    return None if _fits(_bytes(whole)) else rest


def _tokens(body: str, start: int, number: int) -> Iterator[_Token]:
    at = start
    while at < len(body):
        gap = _SEPARATOR.match(body, at)
        if gap:
            at = gap.end()
            continue
        found = _TOKEN.match(body, at)
        if not found:
            shown = body[at : at + 12].split(maxsplit=1)[0]
            where = f"line {number}, offset {len(body[:at].encode())}"
            raise InputError(f"{shown!r} is no hex", where=where, expected=EXPECTED)
        digits = found["digits"]
        prefixed = bool(found["mark"] or found["h"])
        if len(digits) % 2:
            if not (prefixed and len(digits) == 1):
                where = f"line {number}, offset {len(body[:at].encode())}"
                shown = body[at : at + 24].split(maxsplit=1)[0]
                raise InputError(f"an odd number of hex digits in {shown!r}", where=where, expected=EXPECTED)
            digits = "0" + digits
        yield _Token(digits, prefixed, at)
        at = found.end()


def _token_bytes(token: _Token) -> bytes:
    return bytes.fromhex(token.digits)


def _bytes(line: _Line) -> bytes:
    """The bytes of a line; values written whole (a 16-bit header, 32-bit words) are turned little-endian."""
    tokens = line.tokens
    sizes = [len(token.digits) for token in tokens]
    whole = line.is_prefixed() and sizes[0] == 4 and all(size == 8 for size in sizes[1:])
    if whole:
        return b"".join(_token_bytes(token)[::-1] for token in tokens)
    return b"".join(map(_token_bytes, tokens))


def _fits(data: bytes) -> bool:
    if len(data) < HEADER_BYTES:
        return False
    promised = payload_bytes(data)
    return len(data) in (promised, promised + CRC_BYTES)


def _promise_kept(data: bytes) -> bool:
    return len(data) >= HEADER_BYTES and len(data) == payload_bytes(data)


def _is_crc_line(data: bytes, line: _Line) -> bool:
    tail = _bytes(line)
    return len(tail) == CRC_BYTES and crc_matches(data + tail)


def _split(data: bytes, line: _Line) -> Iterator[Frame]:
    """One frame, or several that stand in one line, told apart by CRCs that fit."""
    at = 0
    while not _fits(data[at:]):
        end = at + payload_bytes(data[at:]) + CRC_BYTES if len(data) - at >= HEADER_BYTES else len(data) + 1
        if end >= len(data) or not crc_matches(data[at:end]):
            raise _misfit(data[at:], line)
        yield Frame(data[at:end], (), line.prefix.sop, line.prefix.time_s, line.number)
        at = end
    yield Frame(data[at:], (), line.prefix.sop, line.prefix.time_s, line.number)


def _misfit(data: bytes, line: _Line) -> InputError:
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


def _from_dump(rows: list[str]) -> list[_Line] | None:
    """Lines of a dump with offsets at the left (and perhaps text at the right), or ``None`` where it is none."""
    body = [(number, row) for number, row in enumerate(rows, 1) if row.strip()]
    starts = [(_DUMP.match(row) or _DUMP_END.match(row)) for _, row in body]
    if not body or not all(starts) or int(starts[0][1], 16) != 0:  # type: ignore[index]
        return None
    due = 0
    out: list[_Line] = []
    for (number, row), start in zip(body, starts, strict=True):
        if start is None or int(start[1], 16) != due:
            return None
        if _DUMP_END.match(row):
            continue
        line = _dump_row(row, start.end(), number)
        if line is None:
            return None
        due += len(_bytes(line))
        out.append(line)
    return out if len(out) > 1 or (out and ":" in body[0][1][: starts[0].end()]) else None  # type: ignore[union-attr]


def _dump_row(row: str, start: int, number: int) -> _Line | None:
    body = row[:start] + re.sub(_ASCII_COLUMN, "", row[start:])
    try:
        tokens = tuple(_tokens(body, start, number))
    except InputError:
        return None
    return _Line(number, Prefix(None, "SOP", start, False, False), tokens) if tokens else None
