"""``pdcheck rules``: List every rule with its level and where its limit comes from.

Meant by: cautions rule safety sources origins limits.
"""

from __future__ import annotations

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option


@click.command("rules")
@click.argument("name", required=False)
@json_option("rules")
def command(name: str | None, as_json: bool) -> int:
    """List every rule, or tell all about the one called NAME.

    \b
    pdcheck rules cable-current
    """
    return answer(pdcheck.rules(name), as_json)
