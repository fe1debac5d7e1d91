"""What the shell offers while a command line is typed: ids of the kit on that line, names of rules, files."""

from __future__ import annotations

import click
from click.shell_completion import CompletionItem

from pdcheck.errors import InputError


def files(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Files, as the shell lists them."""
    return [CompletionItem(incomplete, type="file")]


def source_ids(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Ids of the sources in the kit, or in the rig, that stands on the line already."""
    return _ids(ctx, "source", incomplete)


def cable_ids(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Ids of the cables in the kit, or in the rig, that stands on the line already."""
    return _ids(ctx, "cable", incomplete)


def part_ids(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Ids of sources and cables alike."""
    return _ids(ctx, "source", incomplete) + _ids(ctx, "cable", incomplete)


def branch_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of the branches of the rig that stands on the line already."""
    rows = _tables(ctx.params.get("rig"), "branch")
    return _items([(row.get("name"), "") for row in rows], incomplete)


def rule_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of all rules, with what they ask for."""
    from pdcheck.verdict.rules import RIG_RULES

    return _items([(each.id, each.title) for each in RIG_RULES], incomplete)


def _ids(ctx: click.Context, kind: str, incomplete: str) -> list[CompletionItem]:
    for name in ("kit_path", "kit", "rig"):
        rows = _tables(ctx.params.get(name), kind)
        if rows:
            return _items([(row.get("id"), row.get("title", "")) for row in rows], incomplete)
    return []


def _tables(path: object, kind: str) -> list[dict[str, object]]:
    """The tables of one kind in a file, as far as it can be read: nobody wants a complaint while typing."""
    import tomllib

    from pdcheck.parts.toml_places import read_toml
    from pdcheck.parts.tomlfile import read_toml_text

    if isinstance(path, tuple | list):
        path = path[0] if path else None
    if not isinstance(path, str):
        return []
    try:
        data = read_toml(read_toml_text(path))
    except (InputError, tomllib.TOMLDecodeError, ValueError, RecursionError):
        return []
    found = data.get(kind, data.get("kit", {}).get(kind, []) if isinstance(data.get("kit"), dict) else [])
    return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []


def _items(rows: list[tuple[object, object]], incomplete: str) -> list[CompletionItem]:
    return [
        CompletionItem(value, help=str(told) if told else None)
        for value, told in rows
        if isinstance(value, str) and value.startswith(incomplete)
    ]
