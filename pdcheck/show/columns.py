"""Plain tables for a terminal: columns that fit the width there is, the last one wrapped.

A table library would do as well, but importing one costs more than a whole ``decode``.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

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


def shown_width(text: str) -> int:
    """Columns that a text takes.

    >>> shown_width("20 V"), shown_width("５")
    (4, 2)
    """
    if text.isascii():
        return len(text)
    from unicodedata import east_asian_width

    return sum(2 if east_asian_width(character) in "WF" else 1 for character in text)


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
        wrapped = _wrapped(row[-1], sizes[-1])
        lines.append(pad + _line([*row[:-1], wrapped[0]], sizes))
        lines += [gap + more for more in wrapped[1:]]
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
                lines += _wrapped(header, full, pad, pad)
                lines += _wrapped(cell, full, f"{pad}  ", f"{pad}  ")
            elif cell:
                start = f"{pad}{header}{' ' * (name - shown_width(header))}  "
                lines += _wrapped(cell, full, start, " " * len(start))
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def paragraph(text: str, *, indent: int = 0, hang: int = 0, width: int | None = None) -> str:
    """Text wrapped to the terminal, with later lines set in by ``hang`` more columns.

    >>> print(paragraph("one two three", indent=2, width=40))
      one two three
    """
    pad = " " * indent
    return "\n".join(_wrapped(clean(text, 4000), width or terminal_width(), pad, pad + " " * hang, hyphens=False))


def _wrapped(text: str, width: int, first: str = "", later: str = "", *, hyphens: bool = True) -> list[str]:
    """The lines of a text; at least one. Most are short, and textwrap is not loaded for those."""
    if len(first) + len(text) <= width and text.isprintable() and text.strip():
        return [first + text.rstrip()]
    import textwrap

    lines = textwrap.wrap(text, width, initial_indent=first, subsequent_indent=later, break_on_hyphens=hyphens)
    return lines or [""]
