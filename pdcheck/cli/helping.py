"""Helps that fit the terminal: options in two columns, examples that can be pasted although they go on below."""

from __future__ import annotations

from collections.abc import Iterable

import click

_WIDEST = 100


class FittedHelp(click.HelpFormatter):
    """A help of no more columns than there are, from 40 up."""

    def __init__(self, indent_increment: int = 2, width: int | None = None, max_width: int | None = None) -> None:
        from pdcheck.show.columns import terminal_width

        super().__init__(indent_increment, width or min(_WIDEST, terminal_width()), max_width)

    def write_dl(self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2) -> None:
        """As click does, with a first column of at most a third."""
        super().write_dl(list(rows), min(col_max, self.width // 3), col_spacing)

    def getvalue(self) -> str:
        """The help; a line that is still too wide goes on below."""
        from pdcheck.show.cells import fitted

        return fitted(super().getvalue(), self.width)


class HelpedContext(click.Context):
    """A command's context whose help fits the terminal."""

    formatter_class = FittedHelp
