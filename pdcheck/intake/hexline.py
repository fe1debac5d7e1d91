"""One line of hex: what stands before it, its runs of digits, and the bytes that they come to."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.message import HEADER_BYTES, payload_bytes
from pdcheck.errors import InputError
from pdcheck.intake.stamps import Prefix, strip_prefix
from pdcheck.named import NamedTuple

EXPECTED = "hex digits, two a byte"
LONG_LINE = 8192
"""Characters of a line that the longest message fills in no dress; a longer one holds many messages, or noise."""

NO_PREFIX = Prefix(None, "SOP", 0, False, False)


class Token(NamedTuple):
    """A run of hex digits; ``prefixed`` where 0x or the like marks it as a number; ``offset`` counts bytes."""

    digits: str
    prefixed: bool
    offset: int


class HexLine(NamedTuple):
    """A line by its number from 1: what stands before the hex, and the runs of digits."""

    number: int
    prefix: Prefix
    tokens: tuple[Token, ...]

    def is_words(self) -> bool:
        """Whether all runs have the eight digits of an object."""
        return bool(self.tokens) and all(len(token.digits) == 8 for token in self.tokens)

    def is_prefixed(self) -> bool:
        """Whether all runs are marked as numbers."""
        return all(token.prefixed for token in self.tokens)

    def with_tokens_of(self, next_line: HexLine) -> HexLine:
        """This line with the runs of the line below behind its own."""
        return self._replace(tokens=self.tokens + next_line.tokens)


# Patterns are compiled when a line first needs them: runs of digits with blanks between them need none.
_PLAIN = "0123456789abcdefABCDEF \t"
# A run of hex with what may dress it; anything else that is no separator is an error.
_TOKEN = (
    r"(?P<mark>0[xX]|\\[xX]|\$)?(?P<digits>[0-9A-Fa-f]+(?:_[0-9A-Fa-f]+)*)"
    r"(?P<h>[hH](?![0-9A-Fa-f]))?(?P<u>[uU]?[lL]?\b)?"
)
# A full stop separates bytes where two digits stand on either side of it.
_SEPARATOR = r"(?:[\s,;:{}\[\]()'\"|<>=-]|(?<=[0-9A-Fa-f]{2})\.(?=[0-9A-Fa-f]{2}))+"
_COUNT = r"\s*(\d+)[\s,;:]+(?=[0-9A-Fa-f\\+\[(.S])"
_COMMENT = r"/\*.*?(?:\*/|$)|(?:#|//).*$"


def read_line(row: str, number: int) -> HexLine | None:
    """The hex of a row, ``None`` where there is nothing but blanks, comments and brackets.

    Raises ``InputError`` naming line and byte offset in it of the first character that is no hex.

    >>> [token.digits for token in read_line("0.5 SOP: a1 61 2c", 1).tokens]
    ['a1', '61', '2c']
    """
    if len(row) > LONG_LINE:
        _look_at_head(row, number)
    body = row.rstrip()
    if "#" in row or "/" in row:
        body = re.sub(_COMMENT, lambda comment: " " * len(comment[0].encode()), row).rstrip()
    if not body.strip():
        return None
    try:
        line = _dressed_line(body, number)
    except InputError as error:
        # Rarely needed, and its patterns take their time.
        from pdcheck.intake.dressing import undressed

        plain = undressed(body, first=number == 1).rstrip()
        if plain == body:
            raise
        try:
            line = _dressed_line(plain, number) if plain else HexLine(number, NO_PREFIX, ())
        except InputError:
            raise error from None
    # Brackets, dashes and quotes alone hold nothing.
    return line if line.tokens or line.prefix.reset else None


def _look_at_head(row: str, number: int) -> None:
    """Refuse a long line of noise by its beginning, before time is spent on the rest of it."""
    head = row[:LONG_LINE]
    if head.lstrip().startswith(("#", "//")):
        return
    cut = max(map(head.rfind, " ,;\t"))
    try:
        line = read_line(head[:cut] if cut > 0 else head, number)
    except InputError as error:
        if "odd number" not in error.what:
            raise
        line = read_line(head[:-1], number)
    if line is None or line.is_words() or not _begins_well(line_bytes(line)):
        what = f"{len(row)} characters in one line, and no message with its CRC at their beginning"
        where = f"line {number}, offset {line.tokens[0].offset if line and line.tokens else 0}"
        raise InputError(what, where=where, expected="one message a line")


def _dressed_line(body: str, number: int) -> HexLine:
    prefix = strip_prefix(body)
    if prefix.rest >= len(body) and not prefix.reset:
        # What looks like a time stamp and nothing else is hex after all, as in 41:04:16.
        prefix = NO_PREFIX
    if prefix.time_s is None:
        counted = _counted(body, prefix, number)
        if counted is not None:
            return counted
    return HexLine(number, prefix, read_tokens(body, prefix.rest, number))


def _counted(body: str, prefix: Prefix, number: int) -> HexLine | None:
    """The line without a leading plain count (ticks, a line number) where only so the lengths fit."""
    if body.isalnum():
        return None
    count = re.compile(_COUNT).match(body, prefix.rest)
    if count is None:
        return None
    if not prefix.given:
        # A count before a time stamp or an SOP mark, as in the rows of a table.
        behind = strip_prefix(" " * count.end() + body[count.end() :])
        if behind.given and (behind.reset or behind.rest < len(body)):
            row = _line_with(body, behind, number)
            if row is not None and (behind.reset or row.is_words() or fits(line_bytes(row))):
                return row
    rest = _line_with(body, prefix._replace(given=True, rest=count.end()), number)
    if rest is None:
        return None
    if rest.is_words() and rest.is_prefixed():
        return rest._replace(prefix=prefix)
    data = line_bytes(rest)
    # Two digits are a byte like any other, unless the CRC says that the message starts behind them.
    if not fits(data) or (len(count[1]) == 2 and not crc_matches(data)):
        return None
    whole = _line_with(body, prefix, number)
    return rest if whole is None or not fits(line_bytes(whole)) else None


def _line_with(body: str, prefix: Prefix, number: int) -> HexLine | None:
    try:
        return HexLine(number, prefix, read_tokens(body, prefix.rest, number))
    except InputError:
        return None


def read_tokens(body: str, start: int, number: int) -> tuple[Token, ...]:
    """The runs of hex of a line, each of whole bytes."""
    tokens = list(_tokens(body, start, number))
    sizes = [len(token.digits) for token in tokens]
    if tokens and all(token.prefixed for token in tokens) and max(sizes) <= 8 and max(sizes) > 4:
        # Numbers printed without their leading zeros: words, behind a header perhaps.
        header = sizes[0] in (3, 4) and len(sizes) > 1
        widths = [4 if header and not at else 8 for at in range(len(tokens))]
        tokens = [each._replace(digits=each.digits.zfill(width)) for each, width in zip(tokens, widths, strict=True)]
    for token in tokens:
        if len(token.digits) % 2:
            what = f"an odd number of hex digits in {_shown(body.encode()[token.offset :].decode(), 0)}"
            raise InputError(what, where=f"line {number}, offset {token.offset}", expected=EXPECTED)
    return tuple(tokens)


def _tokens(body: str, start: int, number: int) -> Iterator[Token]:
    at = start
    if not body[start:].strip(_PLAIN):
        for run in body[start:].split():
            at = body.index(run, at)
            yield Token(run, False, _offset(body, at))
            at += len(run)
        return
    separator, token = re.compile(_SEPARATOR), re.compile(_TOKEN)
    while at < len(body):
        gap = separator.match(body, at)
        if gap:
            at = gap.end()
            continue
        found = token.match(body, at)
        # What is wrong is the first character that is no hex, in the middle of a run as well.
        end = found.end() if found else at
        if end < len(body) and not separator.match(body, end) and body[end] not in "\\$" and not token.match(body, end):
            what = f"{body[end]!r} in {_shown(body, at)}" if found else _shown(body, at)
            raise InputError(f"{what} is no hex", where=_where(body, end, number), expected=EXPECTED)
        if not found:
            raise InputError(f"{_shown(body, at)} is no hex", where=_where(body, at, number), expected=EXPECTED)
        digits = found["digits"].replace("_", "")
        if found["h"] and len(digits) % 2 and len(digits) > 1 and digits[0] == "0":
            digits = digits[1:]
        prefixed = bool(found["mark"] or found["h"])
        if prefixed and len(digits) == 1:
            digits = "0" + digits
        yield Token(digits, prefixed, _offset(body, at))
        at = end


def _shown(body: str, at: int) -> str:
    return repr(body[at : at + 24].split(maxsplit=1)[0])


def _where(body: str, at: int, number: int) -> str:
    return f"line {number}, offset {_offset(body, at)}"


def _offset(body: str, at: int) -> int:
    return at if body.isascii() else len(body[:at].encode())


def line_bytes(line: HexLine) -> bytes:
    """The bytes of a line; little-endian values written whole (16-bit header, 32-bit words, 16-bit halves) are turned.

    >>> line_bytes(read_line("0x61A1 0x0801912C", 1)).hex(" ")
    'a1 61 2c 91 01 08'
    """
    tokens = line.tokens
    sizes = [len(token.digits) for token in tokens]
    each = [bytes.fromhex(token.digits) for token in tokens]
    plain = b"".join(each)
    header_and_words = bool(sizes) and sizes[0] == 4 and all(size == 8 for size in sizes[1:])
    if not header_and_words and not (sizes and all(size == 4 for size in sizes)):
        return plain
    turned = b"".join(value[::-1] for value in each)
    first, second = (turned, plain) if header_and_words and line.is_prefixed() else (plain, turned)
    if crc_matches(first) or not (_begins_well(second) or (fits(second) and not fits(first))):
        return first
    return second


def _begins_well(data: bytes) -> bool:
    """Whether the first message of several ends in its CRC."""
    return len(data) >= HEADER_BYTES and crc_matches(data[: payload_bytes(data) + CRC_BYTES])


def fits(data: bytes) -> bool:
    """Whether the length is what the header promises, with the CRC or without."""
    if len(data) < HEADER_BYTES:
        return False
    promised = payload_bytes(data)
    return len(data) in (promised, promised + CRC_BYTES)
