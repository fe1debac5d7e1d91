"""``pdcheck envelope``: Give what each output can deliver on every contract, and what limits it.

Meant by: power watts deliver current amps maximum max output.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import csv_or_json, json_option, pair_options
from pdcheck.cli.rig_options import rig_argument


@click.command("envelope")
@pair_options()
@click.option("--branch", metavar="NAME", help="Only this branch of the rig.")
@click.option(
    "--voltages",
    metavar="LIST",
    help="Output voltages to try: 5V,9V,12V or 5V..24V; default: what each converter is set to, and its range.",
)
@click.option("--csv", "as_csv", is_flag=True, help="Print a CSV table, one line for each point.")
@json_option("envelope")
@rig_argument()
def command(as_csv: bool, as_json: bool, **asked: Any) -> int:
    """Give the greatest current and power at each output of RIG, and the part that sets the limit.

    \b
    pdcheck envelope pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    """
    csv_or_json(as_csv, as_json)
    found = pdcheck.envelope(**asked)
    if as_csv:
        from pdcheck.cli.streams import document
        from pdcheck.show.emit import csv_lines
        from pdcheck.show.envelope import CSV_COLUMNS

        document(csv_lines(found.rows(), CSV_COLUMNS))
        return 0
    return answer(found, as_json)
