"""What the shell offers while a command line is typed: ids of the kit on that line, names of rules, files."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import click
from click.shell_completion import CompletionItem

from pdcheck.errors import InputError
from pdcheck.facts.characters import is_name
from pdcheck.parts.toml_reading import read_toml_text
from pdcheck.show.clean import clean

Offered = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]


def files(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Files, as the shell lists them."""
    return [CompletionItem(incomplete, type="file")]


def _ids(*kinds: str) -> Offered:
    """Ids of the sources, or cables, or both, of the kit or the rig that stands on the line already."""

    def offered(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        # While an option still lacks its value, the arguments before it are not sorted under their names yet.
        paths = (ctx.params.get("kit"), ctx.params.get("rig"), *ctx.args)
        found = (next((rows for path in paths if (rows := _tables(path, kind))), []) for kind in kinds)
        return _items([(row.get("id"), row.get("title", "")) for rows in found for row in rows], incomplete)

    return offered


def branch_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of the branches of the rig that stands on the line already."""
    rows = next((rows for path in (ctx.params.get("rig"), *ctx.args) if (rows := _tables(path, "branch"))), [])
    return _items([(row.get("name"), "") for row in rows], incomplete)


def rule_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of all rules, with what they ask for."""
    from pdcheck.verdict.rules.every import RIG_RULES

    return _items([(each.id, each.title) for each in RIG_RULES], incomplete)


_BY_NAME: dict[str, Offered] = {
    **dict.fromkeys(("rig", "rigs", "kit", "input", "keep", "sheet", "measured"), files),
    **dict.fromkeys(("page", "log", "vcd", "svg", "png", "wave", "pcapng"), files),
    "source": _ids("source"),
    "cable": _ids("cable"),
    **dict.fromkeys(("show id_", "remove id_"), _ids("source", "cable")),
    "branch": branch_names,
    "rules name": rule_names,
}


class _Completed(click.ParamType):  # type: ignore[type-arg]
    """A parameter's own type with completions of its own; only while a shell asks for them."""

    def __init__(self, inner: Any, complete: str) -> None:
        self.name = inner.name
        self._inner = inner
        self._complete = complete

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return self._inner.convert(value, param, ctx)

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        return _BY_NAME[self._complete](ctx, param, incomplete)


def equip(command: click.Command) -> None:
    """Give the parameters of a command completions by what they are called, so that no command has to say so."""
    for inner in getattr(command, "commands", {}).values():
        equip(inner)
    for param in command.params:
        key = f"{command.name} {param.name}" if f"{command.name} {param.name}" in _BY_NAME else str(param.name)
        if key in _BY_NAME and type(param.type) is type(click.STRING):
            param.type = _Completed(param.type, key)


def _tables(path: object, kind: str) -> list[dict[str, object]]:
    """The tables of one kind in a file, as far as it can be read: nobody wants a complaint, or a wait, while typing."""
    import tomllib

    from pdcheck.parts.toml_text import read_toml

    if isinstance(path, tuple | list):
        path = path[0] if path else None
    try:
        if not isinstance(path, str) or not os.path.isfile(path):  # noqa: PTH113 - pathlib refuses a zero byte
            return []
        data = read_toml(read_toml_text(path, settled=False))
    except (InputError, tomllib.TOMLDecodeError, ValueError, RecursionError, OSError):
        return []
    found = data.get(kind, data.get("kit", {}).get(kind, []) if isinstance(data.get("kit"), dict) else [])
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def _items(rows: list[tuple[object, object]], incomplete: str) -> list[CompletionItem]:
    """Candidates that may stand on a line as they are: what is no name could act there, or on the terminal."""
    return [
        CompletionItem(value, help=clean(told) if isinstance(told, str) and told else None)
        for value, told in rows
        if isinstance(value, str) and value.startswith(incomplete) and is_name(value)
    ]
