"""Whether some bytes are the beginning of a captured waveform; cheap, and without NumPy."""

from __future__ import annotations

import re
import zlib
from itertools import pairwise

_VCD = re.compile(
    rb"\s*\$(?:date|version|comment|timescale|scope|var|upscope|enddefinitions|attrbegin)(?=\s|$)", re.IGNORECASE
)
_CELL = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?|[xXzZHLhl]|-{1,4}")
_LEVEL = re.compile(r"[01xXzZHLhl]|-{1,4}|[+-]?\d*[.,]\d+(?:[eE][+-]?\d+)?|[+-]?\d(?:\.\d*)?[eE][+-]?\d+")
_HEADER = re.compile(
    r"\b(?:time|timestamp|seconds?|zeit|temps|t)\b|\[\s*[munpµμ\ufffd]?s\s*\]|\(\s*[munpµμ\ufffd]?s\s*\)", re.IGNORECASE
)
_HEAD_BYTES = 1 << 14
_FEWEST_ROWS = 3
_FEWEST_BARE_ROWS = 16


def looks_like_vcd(head: bytes) -> bool:
    """Whether the first bytes of a file, gzip or plain, are those of a value change dump.

    >>> looks_like_vcd(b"$timescale 1 ns $end"), looks_like_vcd(b"time,CC")
    (True, False)
    """
    return _VCD.match(_plain(head)) is not None


def looks_like_waveform_csv(head: bytes) -> bool:
    """Whether the first bytes of a file, gzip or plain, are rows of time and level, or of levels alone.

    Lines of a hex log with times do not pass: their cells are no levels.

    >>> looks_like_waveform_csv(b"Time [s],CC\\n0.0,0\\n0.5e-6,1\\n1.0e-6,0\\n")
    True
    >>> looks_like_waveform_csv(b"0.001 a1612c91\\n0.002 4101\\n0.003 6101\\n")
    False
    """
    text = _plain(head).decode("utf-8", "replace").removeprefix("\ufeff")
    lines = text.split("\n")
    if len(lines) > 1:
        lines.pop()  # torn, or the nothing after the last line end
    lines = [line.strip() for line in lines if line.strip()][:80]
    rows = [_cells(line) for line in lines]
    begin = next((at for at, row in enumerate(rows) if row), len(rows))
    rows = rows[begin:]
    if begin > 40 or not all(rows):
        return False
    if all(len(row) == 1 for row in rows):
        return len(rows) >= _FEWEST_BARE_ROWS and all(_LEVEL.fullmatch(row[0]) for row in rows)
    if len({len(row) for row in rows}) != 1 or len(rows) < _FEWEST_ROWS:
        return False
    headed = any(_HEADER.search(line) for line in lines[:begin])
    first = [_number(row[0]) for row in rows]
    rising = all(a <= b for a, b in pairwise(first)) and first[0] < first[-1]
    levels = all(_LEVEL.fullmatch(cell) for row in rows for cell in row[1:])
    return (levels and (rising or all(_LEVEL.fullmatch(row[0]) for row in rows))) or (headed and rising)


def _cells(line: str) -> list[str]:
    """The cells of a row of numbers, empty when it is none."""
    for separator in ("\t", ";", ",", None):
        if separator is not None and separator not in line:
            continue
        cells = [cell.strip().strip('"').strip() for cell in line.split(separator)]
        while cells and not cells[-1]:
            cells.pop()
        if cells and all(len(cell) < 40 and _CELL.fullmatch(cell) for cell in cells):
            return cells
    return []


def _number(cell: str) -> float:
    return float(cell.replace(",", ".")) if cell not in "xXzZHLhl" and cell.strip("-") else 0.0


def _plain(head: bytes) -> bytes:
    """The text of a head: unpacked, without byte-order mark, from UTF-16 when it is that."""
    if head.startswith(b"\x1f\x8b"):
        try:
            head = zlib.decompressobj(31).decompress(head, _HEAD_BYTES)
        except zlib.error:
            return b""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: _HEAD_BYTES & ~1].decode("utf-16", "replace").encode()
    return head.removeprefix(b"\xef\xbb\xbf")[:_HEAD_BYTES]
