"""``pdcheck cable``: Read an e-marker or a description: what a cable may carry and what it loses.

Meant by: emarker e-marker cables cord lead.

Tell what a cable may carry. INPUT is the e-marker's words (ID Header or VDM header first), the whole message,
a path to either, - for standard input, or a description.

Exit code 1 where --at is more than it carries.

\b
pdcheck cable "C-C 5A 1m" --at 3A
pdcheck cable 0x18000000 0x00000000 0x00000000 0x000A2640
"""

from typing import get_args

import click

from pdcheck.bits.header import Revision
from pdcheck.cli.options import input_argument
from pdcheck.cli.questions import question

command = question(
    __name__,
    input_argument("INPUT"),
    click.option("--at", metavar="A", help="Also tell what it drops and loses at this current, as in 3A."),
    click.option(
        "--revision",
        type=click.Choice(get_args(Revision)),
        help="Read the words as this revision lays them out; without it the VDM header decides.",
    ),
)
