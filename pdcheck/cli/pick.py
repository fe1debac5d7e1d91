"""``pdcheck pick``: Rank a source's offers for a wanted output; give the request word.

Meant by: voltage volts choose select best offer which converter.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import LOOKED_UP, cable_option, json_option, kit_option, source_option


@click.command("pick")
@source_option
@click.option("--output", metavar="V@A", required=True, help="What you want out, as in 12V@2A.")
@click.option(
    "--converter",
    metavar="C",
    help="kind:input range:input limit:efficiency, as in buck-boost:6-36V:5A:92%; leave off what you do not know.",
)
@cable_option
@kit_option(LOOKED_UP)
@json_option("pick")
def command(as_json: bool, **asked: Any) -> int:
    """Say which offer to set the trigger to, why each other one loses, and the request word.

    Exit code 1 where no offer works.

    \b
    pdcheck pick --source "5V 3A, 9V 3A, 15V 3A" --output 12V@2A --converter buck-boost:6-36V:5A:92%
    """
    return answer(pdcheck.pick(**asked), as_json)
