"""Whether some bytes are the beginning of a captured waveform; cheap, and without NumPy."""

from __future__ import annotations

import re
import zlib
from itertools import pairwise

_VCD = re.compile(
    rb"\s*\$(?:date|version|comment|timescale|scope|var|upscope|enddefinitions|attrbegin)(?=\s|$)", re.IGNORECASE
)
_WORD = r"(?i:high|low|true|false|rising|falling|rise|fall|nan|-?inf)"
_CLOCK = r"(?:\d{4}-\d\d-\d\d[T ])?\d{1,2}:\d\d:\d\d[.,]\d{1,12}Z?"
_UNIT = r"(?: ?(?:m?V|[mnpuµμ\ufffd]?s))?"
_CELL = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?" + _UNIT + rf"|[xXzZHLhl]|-{{1,4}}|{_WORD}|{_CLOCK}")
_LEVEL = re.compile(
    r"[01xXzZHLhl]|-{1,4}|[+-]?\d*[.,]\d+(?:[eE][+-]?\d+)?"
    + _UNIT
    + rf"|[+-]?\d(?:\.\d*)?[eE][+-]?\d+|[+-]?\d+(?:\.\d+)? ?m?V|{_WORD}"
)
_RATED = re.compile(r"sampl\w*[ _-]?(?:rate|interval|period|time)|increment|\bx?incr?\b|\bdt\b", re.IGNORECASE)
_HEADER = re.compile(
    r"\b(?:time|timestamp|seconds?|zeit|temps|t)\b|\[\s*[munpµμ\ufffd]?s\s*\]|\(\s*[munpµμ\ufffd]?s\s*\)", re.IGNORECASE
)
_HEAD_BYTES = 1 << 14
_FEWEST_ROWS = 3
_MOST_LINES = 80
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
    lines = (text if "\n" in text else text.replace("\r", "\n")).split("\n")
    if len(lines) > 1:
        lines.pop()  # torn, or the nothing after the last line end
    lines = [line.strip() for line in lines if line.strip()][:_MOST_LINES]
    margin = _margin(lines)
    rows = [_cells(line, margin) for line in lines]
    begin = next((at for at, row in enumerate(rows) if row), len(rows))
    rows = rows[begin:]
    if begin > 40 or not all(rows):
        return False
    if all(len(row) == 1 for row in rows):
        rated = any(_RATED.search(line) for line in lines[:begin])
        return len(rows) >= _FEWEST_BARE_ROWS and all(rated or _LEVEL.fullmatch(row[0]) for row in rows)
    if len({len(row) for row in rows}) != 1 or len(rows) < _FEWEST_ROWS:
        return False
    headed = any(_HEADER.search(line) for line in lines[:begin])
    headed = headed or any(_RATED.search(line) for line in lines[:begin])
    rising = [column for column in range(len(rows[0])) if _rises([row[column] for row in rows])]
    levels = [column for column in range(len(rows[0])) if all(_LEVEL.fullmatch(row[column]) for row in rows)]
    others = [column for column in range(len(rows[0])) if column not in levels]
    return not others or (others == [0] and 0 in rising) or (headed and bool(rising))


def _rises(cells: list[str]) -> bool:
    figures = [_number(cell) for cell in cells]
    return all(a <= b for a, b in pairwise(figures)) and figures[0] < figures[-1]


def _margin(lines: list[str]) -> tuple[str, int]:
    """Empty cells that most rows begin with, keys standing there in the first ones; and what separates them."""
    some = lines[len(lines) // 2 :]
    for separator in "\t;|,":
        starts = [len(line) - len(line.lstrip(separator)) for line in some]
        if some and starts[-1] and starts.count(starts[-1]) > 0.9 * len(starts):
            return separator, starts[-1]
    return "", 0


def _cells(line: str, margin: tuple[str, int]) -> list[str]:
    """The cells of a row of numbers, empty when it is none."""
    for separator in ("\t", ";", "|", ",", None):
        if separator is not None and separator not in line:
            continue
        cells = [cell.strip().strip('"').strip() for cell in line.split(separator)]
        if separator == margin[0]:
            cells = cells[margin[1] :]
        while cells and not cells[-1]:
            cells.pop()
        if cells and all(len(cell) < 40 and _CELL.fullmatch(cell) for cell in cells):
            return cells
    return []


def _number(cell: str) -> float:
    """A number for the order of cells: that of a clock by its digits, that of a level none."""
    digits = "".join(sign for sign in cell.replace(",", ".") if sign in "0123456789.+-eE")
    try:
        return float(cell.replace(":", "").replace("T", "").rstrip("Z")[-16:] if ":" in cell else digits)
    except ValueError:
        return 0.0


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
