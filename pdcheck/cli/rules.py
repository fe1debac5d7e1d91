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
    from pdcheck.cli.answering import answer
    from pdcheck.verdict.rule_list import rules

    return answer(rules(name), as_json)
