"""``pdcheck cable``: Read an e-marker or a description: what a cable may carry and what it loses.

Meant by: emarker e-marker cables cord lead.
"""

from __future__ import annotations

from typing import get_args

import click

import pdcheck
from pdcheck.bits.header import Revision
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option


@click.command("cable")
@click.argument("input_", metavar="INPUT...", nargs=-1, required=True)
@click.option("--at", metavar="A", help="Also tell what it drops and loses at this current, as in 3A.")
@click.option(
    "--revision",
    type=click.Choice(get_args(Revision)),
    help="Read the words as this revision lays them out; without it the VDM header decides.",
)
@json_option("cable")
def command(input_: tuple[str, ...], at: str | None, revision: str | None, as_json: bool) -> int:
    """Tell what a cable may carry. INPUT is the e-marker's words (ID Header or VDM header first), the whole message,
    a path to either, - for standard input, or a description.

    Exit code 1 where --at is more than it carries.

    \b
    pdcheck cable "C-C 5A 1m" --at 3A
    pdcheck cable 0x18000000 0x00000000 0x00000000 0x000A2640
    """
    return answer(pdcheck.cable(" ".join(input_), at, revision), as_json)
