"""``pdcheck schema``: the JSON Schema of a file or of a document."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable

import click
from click.shell_completion import CompletionItem

from pdcheck.errors import InputError


def _shipped() -> dict[str, Traversable]:
    found = (files("pdcheck") / "schemas").iterdir()
    return {each.name.removesuffix(".json"): each for each in sorted(found, key=lambda each: each.name)}


def _names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    return [CompletionItem(name) for name in _shipped() if name.startswith(incomplete)]


@click.command("schema", short_help="Print a JSON Schema.")
@click.argument("name", required=False, shell_complete=_names)
@click.option("--json", "as_json", is_flag=True, help="A schema is JSON either way; without NAME: the list as JSON.")
def command(name: str | None, as_json: bool) -> int:
    """Print the JSON Schema NAME: of a kit or rig file (kit-file, rig-file), or of what a command prints with --json.

    Without NAME: list them.

    \b
    pdcheck schema rig-file > rig.schema.json
    """
    import json

    shipped = _shipped()
    if name is None:
        titles = {each: json.loads(path.read_text(encoding="utf-8"))["title"] for each, path in shipped.items()}
        if as_json:
            from pdcheck.show.emit import emit_json

            rows = [{"name": each, "title": title} for each, title in titles.items()]
            emit_json({"schema": "pdcheck/schema/1", "schemas": rows})
        else:
            from pdcheck.show.columns import table

            click.echo(table(["name", "what it is"], [[each, title] for each, title in titles.items()]))
        return 0
    plain = name.removeprefix("pdcheck/").partition("/")[0]
    if plain not in shipped:
        from difflib import get_close_matches

        near = get_close_matches(plain, shipped, n=3, cutoff=0.4)
        raise InputError(f"no schema {name!r}", expected=" or ".join(near) if near else "a name from 'pdcheck schema'")
    click.echo(shipped[plain].read_text(encoding="utf-8"), nl=False)
    return 0
