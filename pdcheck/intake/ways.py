"""Every way in which the digits of a row may be the bytes of a message; a CRC that fits proves one."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, takewhile
from typing import NamedTuple

from pdcheck.bits.crc import CRC_BYTES, crc_matches
from pdcheck.bits.damaged import mended_header
from pdcheck.bits.message import HEADER_BYTES, payload_bytes
from pdcheck.intake.row import Row, Runs

_SKIPPED_MOST = 6
_JOINED_MOST = 8
"""So many runs are put together: header and objects, each in a column of its own."""
_BYTE_BITS = 8

Tokens = tuple[tuple[str, bool], ...]


class Reads(NamedTuple):
    """A way to read the bytes of a row: tokens that are passed over in front, whether values stand as numbers."""

    data: bytes
    at: int
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
    yield from (way for way in _ways(joined, stated) if way.sure)
    for at, tokens in (*row.runs, *joined):
        for skipped in range(min(len(tokens), _SKIPPED_MOST)):
            for data in _odd_bytes(tokens[skipped:]):
                yield from (way for way in _fitting(data, stated, at, skipped, False) if way.sure)


def _ways(runs: Runs, stated: bytes) -> Iterator[Reads]:
    for at, tokens in runs:
        for skipped in range(min(len(tokens), _SKIPPED_MOST)):
            for turned in (False, True):
                data = bytes_of(tokens[skipped:], turned=turned)
                if data is not None and len(data) >= HEADER_BYTES:
                    yield from _fitting(data, stated, at, skipped, turned)


def _fitting(data: bytes, stated: bytes, at: int, skipped: int, turned: bool) -> Iterator[Reads]:
    """The message that bytes are, as far as their length is what the header promises; ``stated`` is a CRC beside."""
    promised = payload_bytes(data)
    if len(data) == promised and stated:
        if crc_matches(data + stated[::-1]):
            yield Reads(data + stated[::-1], at, skipped, turned, True)
        elif crc_matches(data + stated):
            yield Reads(data + stated, at, skipped, turned, True)
        else:
            yield Reads(data + stated[::-1], at, skipped, turned, False)
    elif len(data) == promised:
        yield Reads(data, at, skipped, turned, False)
    elif len(data) == promised + CRC_BYTES:
        crc = data[-CRC_BYTES:]
        if crc_matches(data):
            yield Reads(data, at, skipped, turned, True)
        elif crc_matches(data[:-CRC_BYTES] + crc[::-1]):
            yield Reads(data[:-CRC_BYTES] + crc[::-1], at, skipped, turned, True)
        else:
            yield Reads(data, at, skipped, turned, False)
    elif len(data) > promised + CRC_BYTES and crc_matches(data[: promised + CRC_BYTES]):
        yield Reads(data[: promised + CRC_BYTES], at, skipped, turned, True)
    elif mended_header(data) is not None:
        yield Reads(data, at, skipped, turned, False)


def _joined(row: Row) -> Iterator[tuple[int, Tokens]]:
    """Runs that stand apart put together: a column of the header before that of the objects, a CRC before or behind."""
    runs = row.runs[-_JOINED_MOST:]
    if len(runs) > 1:
        yield runs[0][0], tuple(token for _, tokens in runs for token in tokens)
        for first, last in pairwise(runs):
            if (first, last) != (runs[0], runs[-1]) or len(runs) > 2:
                yield first[0], (*first[1], *last[1])
            yield last[0], (*last[1], *first[1])


def bytes_of(tokens: Tokens, *, turned: bool) -> bytes | None:
    """The bytes of tokens; ``turned``: each of four or eight digits is a number and goes little-endian."""
    if any(len(digits) % 2 for digits, _ in tokens):
        return None
    if turned and not all(len(digits) in (4, 8) for digits, _ in tokens):
        return None
    step = -1 if turned else 1
    return b"".join(bytes.fromhex(digits)[::step] for digits, _ in tokens)


def _odd_bytes(tokens: Tokens) -> Iterator[bytes]:
    """Bytes as few loggers write them: the header alone a number, decimal, bits, single digits, zeros left out."""
    digits = [each for each, _ in tokens]
    sizes = {len(each) for each in digits}
    least = 2 * HEADER_BYTES
    if len(digits[0]) == 2 * HEADER_BYTES and len(digits) > 1 and not any(size % 2 for size in sizes):
        yield bytes.fromhex(digits[0])[::-1] + bytes.fromhex("".join(digits[1:]))
    if len(digits) < HEADER_BYTES + CRC_BYTES:
        return
    if sizes == {1} and len(digits) % 2 == 0 and len(digits) >= least:
        yield bytes.fromhex("".join(digits))
    if max(sizes) <= 2 and 1 in sizes:
        yield bytes(int(each, 16) for each in digits)
    if max(sizes) <= 3 and not any(marked for _, marked in tokens):
        head = list(takewhile(lambda each: each.isdecimal() and int(each) < 256, digits))
        if len(head) >= HEADER_BYTES + CRC_BYTES:
            yield bytes(map(int, head))
    if sizes <= {_BYTE_BITS, _BYTE_BITS + 2}:
        bare = [each[-_BYTE_BITS:] for each in digits]
        if not set("".join(bare)) - {"0", "1"} and all(len(each) == _BYTE_BITS or each[:2] == "0b" for each in digits):
            yield bytes(int(each, 2) for each in bare)


__all__ = ["Reads", "bytes_of", "ways"]
