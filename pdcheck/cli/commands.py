"""The commands that there are, each by its file; helps that fit; a group that names the nearest for a mistyped one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import click

FIRST = (
    "decode encode cable drop pick settings check new draw envelope fuse matrix kit need talk transient runtime audit "
    "change share bringup wire led report rules schema demo"
)
"""The order of the job, as in the table of the README; a command that is not named here comes behind."""
_WIDEST = 100
_OPENING = re.compile(r'"""``pdcheck (\w+)``: (.+)\n\nMeant by: ([^.]*)\.\n')


def _found() -> Iterator[tuple[str, str, str]]:
    """Each command, its help and the words that people type for it: the first lines of its file, unimported."""
    for file in Path(__file__).parent.glob("*.py"):
        with file.open(encoding="utf-8") as opened:
            if opening := _OPENING.match(opened.read(1000)):
                yield opening[1], opening[2], opening[3]


def _place(name: str) -> tuple[int, str]:
    order = FIRST.split()
    return order.index(name) if name in order else len(order), name


_FOUND = sorted(_found(), key=lambda each: _place(each[0]))
COMMANDS = {name: told for name, told, _ in _FOUND}
"""Every command with its help, so that --help imports none of them."""
MEANT = {word: name for name, _, words in _FOUND for word in words.split() if word not in COMMANDS}
"""Words that people type for a command, and the command that answers them."""


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


class SuggestingGroup(click.Group):
    """A click group whose complaint about an unknown command says which was probably meant, with helps that fit."""

    context_class = HelpedContext

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """As click does; the command's help fits too."""
        cmd.context_class = HelpedContext
        super().add_command(cmd, name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, with the nearest commands named for a mistyped one."""
        known = self.list_commands(ctx)
        if args and args[0] not in known and not args[0].startswith("-") and not ctx.resilient_parsing:
            from difflib import get_close_matches

            typed = args[0].lower()
            near = get_close_matches(typed, known, n=2, cutoff=0.6)
            also = get_close_matches(typed, [word for word in MEANT if MEANT[word] in known], n=1, cutoff=0.8)
            if not near or typed in MEANT:
                near = [MEANT[word] for word in also] or near
            if typed in ("help", "man", "?", "usage"):
                near = ["--help"]
            hint = f"did you mean {' or '.join(near)}?" if near else f"commands: {', '.join(known)}"
            raise click.UsageError(f"no such command {args[0]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)
