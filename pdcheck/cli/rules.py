"""``pdcheck rules``: every rule with its level and its origin."""

from __future__ import annotations

import click


@click.command("rules", short_help="List every rule.")
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/rules/1.")
def command(name: str | None, as_json: bool) -> int:
    """List every rule, or tell all about the one called NAME.

    \b
    pdcheck rules cable-current
    """
    from pdcheck.show.ruled import document, one_rule, text

    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(document(name))
    elif name is None:
        click.echo(text())
    else:
        click.echo(one_rule(name))
    return 0
