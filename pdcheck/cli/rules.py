"""``pdcheck rules``: List every rule with its level and where its limit comes from.

Meant by: cautions rule safety sources origins limits.

List every rule, or tell all about the one called NAME.

\b
pdcheck rules cable-current
"""

import click

from pdcheck.cli.questions import question

command = question(
    __name__,
    click.argument("name", required=False),
)
