"""Manual pages out of the helps of all commands: ``python -m pdcheck.cli.man_pages FOLDER``."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from inspect import cleandoc
from pathlib import Path

import click

from pdcheck.cli import group
from pdcheck.cli.commands import COMMANDS

_SECTION = "1"
_CODES = (
    ("0", "It works."),
    ("1", "Something was judged and found wanting, or a capture holds what is wrong."),
    ("2", "The input could not be read; one line on standard error says what, where and what was expected."),
    ("130", "Stopped at the keyboard."),
)


def roff(text: str) -> str:
    """A text in which nothing acts on whoever sets the page.

    >>> roff("-o FILE"), roff(".file"), roff("a\\\\b")
    ('\\\\-o FILE', '\\\\&.file', 'a\\\\eb')
    """
    plain = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{plain}" if plain[:1] in (".", "'") else plain


def page(command: click.Command, ctx: click.Context, beside: list[str]) -> str:
    """One page of a command; ``beside`` are the names of pages to see also."""
    name = ctx.command_path.replace(" ", "-")
    lines = [f'.TH "{name.upper()}" "{_SECTION}"', ".SH NAME"]
    lines.append(f"{roff(name)} \\- {roff(command.get_short_help_str(limit=400).rstrip('.'))}")
    lines += [".SH SYNOPSIS", f".B {roff(ctx.command_path)}", roff(" ".join(command.collect_usage_pieces(ctx)))]
    lines += [".SH DESCRIPTION", *_body(cleandoc(command.help or ""))]
    options = [record for each in command.params if (record := each.get_help_record(ctx)) is not None]
    if options:
        lines.append(".SH OPTIONS")
        for names, told in options:
            lines += [".TP", f".B {roff(names)}", roff(told)]
    lines.append(".SH EXIT STATUS")
    for code, told in _CODES:
        lines += [".TP", f".B {code}", roff(told)]
    if beside:
        lines += [".SH SEE ALSO", ", ".join(f".BR {roff(each)} ({_SECTION})".removeprefix(".BR ") for each in beside)]
    return "\n".join(lines) + "\n"


def _body(text: str) -> Iterator[str]:
    """The paragraphs of a help; what is set as it stands, after its mark, stays so."""
    for at, paragraph in enumerate(re.split(r"\n\s*\n", text.strip())):
        if at:
            yield ".PP"
        if paragraph.lstrip().startswith("\b"):
            yield from (".nf", *map(roff, paragraph.lstrip("\b\n ").splitlines()), ".fi")
        else:
            yield roff(" ".join(paragraph.split()))


def pages() -> dict[str, str]:
    """Every page by the name of its file: the program's, each command's, and those of commands in it."""
    top = click.Context(group, info_name="pdcheck")
    out: dict[str, str] = {}

    def add(command: click.Command, ctx: click.Context) -> None:
        inner = [COMMANDS, getattr(command, "commands", {})][ctx is not top]
        beside = (
            [f"{ctx.command_path} {each}".replace(" ", "-") for each in inner] if hasattr(command, "commands") else []
        )
        beside += [ctx.parent.command_path.replace(" ", "-")] if ctx.parent is not None else []
        out[f"{ctx.command_path.replace(' ', '-')}.{_SECTION}"] = page(command, ctx, beside)
        for name in inner:
            found = command.get_command(ctx, name) if isinstance(command, click.Group) else None
            if found is not None:
                add(found, click.Context(found, info_name=name, parent=ctx))

    add(group, top)
    return out


def main(folder: str) -> None:
    """Write every page into a folder."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    for name, text in pages().items():
        (Path(folder) / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
