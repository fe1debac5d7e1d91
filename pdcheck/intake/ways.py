"""Every way in which the digits of a row may be the bytes of a message; a CRC that fits proves one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise, takewhile

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.message import HEADER_BYTES, mended_header, payload_bytes
from pdcheck.intake.row import Row, Runs
from pdcheck.named import NamedTuple

_SKIPPED_MOST = 6
_JOINED_MOST = 10
"""So many runs are put together: header, objects and CRC, each in a column of its own."""
_BYTE_BITS = 8
_BITS = re.compile(r"(?:0b)?[01]{8}")

Tokens = tuple[tuple[str, bool], ...]


class Reads(NamedTuple):
    """A way to read the bytes of a row: in which of its runs (-1: of several), tokens that are passed over in front,
    whether values stand as numbers."""

    data: bytes
    at: int
    place: int
    skipped: int
    turned: bool
    sure: bool


def ways(row: Row) -> Iterator[Reads]:
    """Every way in which bytes of a row are a message; those whose CRC fits are ``sure``.

    >>> from pdcheck.intake.row import read_row
    >>> [way.data.hex() for way in ways(read_row("GoodCRC [65, 0, 187, 108, 187, 168]")) if way.sure]
    ['4100bb6cbba8']
    """
    stated = bytes.fromhex(row.crc) if len(row.crc) == 2 * CRC_BYTES else b""
    yield from _ways(row.runs, stated)
    # What has to be put together from several places, or is no plain hex, must be proved by its CRC.
    joined = tuple(_joined(row))
    yield from (way for way in _ways(joined, stated, -1) if way.sure)
    for at, tokens in (*row.runs, *joined):
        for skipped in range(min(len(tokens), _SKIPPED_MOST)):
            for data in _odd_bytes(tokens[skipped:]):
                if len(data) >= HEADER_BYTES:
                    yield from (way for way in _fitting(data, stated, at, -1, skipped, False) if way.sure)
    for at, crc in () if stated else row.runs[1:]:
        if sum(len(digits) for digits, _ in crc) == 2 * CRC_BYTES:
            # A column of the CRC that nothing names.
            apart = tuple(run for run in row.runs if run[0] != at)
            yield from (
                way for way in _ways(apart, bytes.fromhex("".join(digits for digits, _ in crc)), -1) if way.sure
            )


def read_so(row: Row, place: int | None, skipped: int, turned: bool) -> Reads | None:
    """The message of a row by one way alone where its CRC proves it; ``None`` where that way proves nothing."""
    if place is None or not 0 <= place < len(row.runs) or skipped >= len(row.runs[place][1]):
        return None
    at, tokens = row.runs[place]
    data = bytes_of(tokens[skipped:], turned=turned)
    stated = bytes.fromhex(row.crc) if len(row.crc) == 2 * CRC_BYTES else b""
    found = next(_fitting(data, stated, at, place, skipped, turned), None) if len(data) >= HEADER_BYTES else None
    return found if found is not None and found.sure else None


def _ways(runs: Runs, stated: bytes, place: int = 0) -> Iterator[Reads]:
    for at, tokens in runs:
        for skipped in range(min(len(tokens), _SKIPPED_MOST)):
            for turned in (False, True):
                data = bytes_of(tokens[skipped:], turned=turned)
                if len(data) >= HEADER_BYTES:
                    yield from _fitting(data, stated, at, place, skipped, turned)
        place += place >= 0


def _fitting(data: bytes, stated: bytes, at: int, place: int, skipped: int, turned: bool) -> Iterator[Reads]:
    """The message that bytes are, as far as their length is what the header promises; ``stated`` is a CRC beside."""
    promised = payload_bytes(data)
    bare = data[:promised]
    if stated and len(bare) == promised and crc_matches(bare + stated[::-1]):
        yield Reads(bare + stated[::-1], at, place, skipped, turned, True)
    elif stated and len(bare) == promised and crc_matches(bare + stated):
        yield Reads(bare + stated, at, place, skipped, turned, True)
    elif stated and len(data) == promised:
        yield Reads(data + stated[::-1], at, place, skipped, turned, False)
    elif len(data) == promised:
        yield Reads(data, at, place, skipped, turned, False)
    elif len(data) == promised + CRC_BYTES:
        crc = data[-CRC_BYTES:]
        if crc_matches(data):
            yield Reads(data, at, place, skipped, turned, True)
        elif crc_matches(data[:-CRC_BYTES] + crc[::-1]):
            yield Reads(data[:-CRC_BYTES] + crc[::-1], at, place, skipped, turned, True)
        else:
            yield Reads(data, at, place, skipped, turned, False)
    elif len(data) > promised + CRC_BYTES and crc_matches(data[: promised + CRC_BYTES]):
        yield Reads(data[: promised + CRC_BYTES], at, place, skipped, turned, True)
    elif mended_header(data) is not None:
        yield Reads(data, at, place, skipped, turned, False)


def _joined(row: Row) -> Iterator[tuple[int, Tokens]]:
    """Runs that stand apart put together: a column of the header before that of the objects, a CRC before or behind."""
    runs = row.runs[-_JOINED_MOST:]
    if len(runs) > 1:
        yield runs[0][0], tuple(token for _, tokens in runs for token in tokens)
        for first, last in pairwise(runs):
            if (first, last) != (runs[0], runs[-1]) or len(runs) > 2:
                yield first[0], (*first[1], *last[1])
            yield last[0], (*last[1], *first[1])


def bytes_of(tokens: Tokens, *, turned: bool) -> bytes:
    """The bytes of tokens, as far as they are whole; ``turned``: each of four or eight digits is a number and goes
    little-endian."""
    tokens = tuple(takewhile(lambda token: len(token[0]) % 2 == 0, tokens))
    if turned:
        tokens = tuple(takewhile(lambda token: len(token[0]) in (4, 8), tokens))
    step = -1 if turned else 1
    return b"".join(bytes.fromhex(digits)[::step] for digits, _ in tokens)


def _odd_bytes(tokens: Tokens) -> Iterator[bytes]:
    """Bytes as few loggers write them: the header alone a number, decimal, bits, single digits, zeros left out."""
    digits = [each for each, _ in tokens]
    if len(digits[0]) == 2 * HEADER_BYTES and len(digits) > 1:
        whole = takewhile(lambda each: len(each) % 2 == 0, digits[1:])
        yield bytes.fromhex(digits[0])[::-1] + bytes.fromhex("".join(whole))
    if len(digits) < HEADER_BYTES + CRC_BYTES:
        return
    single = list(takewhile(lambda each: len(each) == 1, digits))
    yield bytes.fromhex("".join(single[: len(single) & ~1]))
    yield bytes(int(each, 16) for each in takewhile(lambda each: len(each) <= 2, digits))
    if not tokens[0][1]:
        yield bytes(map(int, takewhile(lambda each: len(each) < 4 and each.isdecimal() and int(each) < 256, digits)))
    yield bytes(int(each[-_BYTE_BITS:], 2) for each in takewhile(_BITS.fullmatch, digits))
