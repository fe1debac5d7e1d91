"""The answer of a command: a result as people read it or as JSON, and its exit code; whatever else is said to them."""

from __future__ import annotations

import os
import re
import sys
from typing import IO, TYPE_CHECKING

import click

from pdcheck.cli.streams import document

if TYPE_CHECKING:
    from pdcheck.result import Result

_VERDICT = re.compile(r"\b(?:RUNS|LIMITED|FAILS|UNSAFE|STOP|FAIL|CAUTION)\b")
"""What is bold on a terminal: it is a word, so nothing is lost without."""


def answer(result: Result, as_json: bool) -> int:
    """Print a result; 0 where it works, else 1. Hidden characters are escaped in the JSON document."""
    if as_json:
        from pdcheck.show.clean import clean_json

        document(clean_json(result.to_json()) + "\n")
    else:
        say(str(result))
    return 0 if result else 1


def say(text: str, *, nl: bool = True) -> None:
    """Print whole lines for people: none wider than the terminal, the verdict bold on one that can do it."""
    from pdcheck.show.cells import fitted
    from pdcheck.show.columns import terminal_width

    # Down a pipe a line of hex stays one; sentences and tables are laid out for 80 columns there.
    text = fitted(text, terminal_width()) if _columns_matter(sys.stdout) else text
    if _can_be_bold(sys.stdout):
        text = _VERDICT.sub(lambda found: f"\x1b[1m{found[0]}\x1b[0m", text)
    click.echo(text, nl=nl)


def remark(text: str) -> None:
    """Say something beside the answer, on standard error: one line, which goes on below on a narrow terminal."""
    from pdcheck.show.clean import clean

    # With no terminal before it whoever reads it wants one line; COLUMNS is said on purpose.
    text = clean(" ".join(text.split()))
    if _columns_matter(sys.stderr):
        from pdcheck.show.cells import fitted
        from pdcheck.show.columns import terminal_width

        text = fitted(text, terminal_width())
    click.echo(text, err=True)


def say_kits_found() -> None:
    """Name each kit that was taken because it stands beside the rig, so that nobody is surprised."""
    given = sys.modules.get("pdcheck.asking.given")
    while given is not None and given.kits_found and not sys.stderr.closed:
        remark(f"pdcheck: used {given.kits_found.pop(0)}, the kit beside the rig")


def _columns_matter(stream: IO[str]) -> bool:
    return stream.isatty() or bool(os.environ.get("COLUMNS"))


def _can_be_bold(stream: IO[str]) -> bool:
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
