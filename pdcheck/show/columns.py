"""Plain tables for a terminal: columns that fit the width there is, the last one wrapped.

A table library would do as well, but importing one costs more than a whole ``decode``.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from pdcheck.show.cells import shown_width, wrapped
from pdcheck.show.clean import clean

NARROWEST = 40
WIDEST = 110
# No narrower is a column that wraps.
_LEAST = 16


def terminal_width() -> int:
    """Columns to fill: the terminal's (or the variable COLUMNS), 80 in a pipe, never outside 40..110."""
    try:
        columns = int(os.environ["COLUMNS"])
    except (KeyError, ValueError):
        columns = 0
    if columns <= 0:
        try:
            columns = os.get_terminal_size(sys.__stdout__.fileno()).columns  # type: ignore[union-attr]
        except (AttributeError, OSError, ValueError):
            columns = 0
    return max(NARROWEST, min(WIDEST, columns or 80))


def table(headers: Sequence[str], rows: Sequence[Sequence[str]], *, width: int | None = None, indent: int = 2) -> str:
    """A table with a rule under its headers; the last column takes what is left and wraps.

    Columns that would leave the last one less than 16 wide are put under each other instead, one field a line.

    >>> print(table(["at", "what"], [["1", "fixed"], ["2", "pps"]], width=40))
      at  what
      --  -----
      1   fixed
      2   pps
    """
    full = width or terminal_width()
    cells = [[clean(cell) for cell in row] for row in rows]
    sizes = [max(shown_width(row[at]) for row in [list(headers), *cells]) for at in range(len(headers))]
    left = full - indent - sum(sizes[:-1]) - 2 * (len(headers) - 1)
    pad = " " * indent
    if left < min(_LEAST, sizes[-1]):
        return _stacked(headers, cells, full, indent)
    sizes[-1] = min(sizes[-1], left)
    rule = ["-" * size for size in sizes]
    gap = " " * (full - left)
    lines: list[str] = []
    for row in [list(headers), rule, *cells]:
        last = wrapped(row[-1], sizes[-1])
        lines.append(pad + _line([*row[:-1], last[0]], sizes))
        lines += [gap + more for more in last[1:]]
    return "\n".join(line.rstrip() for line in lines)


def _line(cells: Sequence[str], sizes: Sequence[int]) -> str:
    return "  ".join(cell + " " * (size - shown_width(cell)) for cell, size in zip(cells, sizes, strict=True))


def _stacked(headers: Sequence[str], rows: Sequence[Sequence[str]], full: int, indent: int) -> str:
    pad = " " * indent
    name = max(shown_width(header) for header in headers)
    # Beside a long name a narrow terminal has no room: the field goes below it.
    below = full - indent - name - 2 < _LEAST
    blocks: list[str] = []
    for row in rows:
        lines: list[str] = []
        for header, cell in zip(headers, row, strict=True):
            if cell and below:
                lines += wrapped(header, full, pad, pad)
                lines += wrapped(cell, full, f"{pad}  ", f"{pad}  ")
            elif cell:
                start = f"{pad}{header}{' ' * (name - shown_width(header))}  "
                lines += wrapped(cell, full, start, " " * len(start))
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def beside(start: str, text: str) -> str:
    """Text wrapped beside the words that it starts with.

    >>> print(beside("12 s  ", "one two"))
    12 s  one two
    """
    return "\n".join(wrapped(clean(text, 4000), terminal_width(), start, " " * shown_width(start), hyphens=False))


def paragraph(text: str, *, indent: int = 0, hang: int = 0, width: int | None = None) -> str:
    """Text wrapped to the terminal, with later lines set in by ``hang`` more columns.

    >>> print(paragraph("one two three", indent=2, width=40))
      one two three
    """
    pad = " " * indent
    return "\n".join(wrapped(clean(text, 4000), width or terminal_width(), pad, pad + " " * hang, hyphens=False))
