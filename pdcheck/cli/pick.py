"""``pdcheck pick``: Rank a source's offers for a wanted output; give the request word.

Meant by: voltage volts choose select best offer which converter.

Say which offer to set the trigger to, why each other one loses, and the request word.

Exit code 1 where no offer works.

\b
pdcheck pick --source "5V 3A, 9V 3A, 15V 3A" --output 12V@2A --converter buck-boost:6-36V:5A:92%
"""

import click

from pdcheck.cli.options import LOOKED_UP, cable_option, kit_option, source_option
from pdcheck.cli.questions import question

command = question(
    __name__,
    source_option,
    click.option("--output", metavar="V@A", required=True, help="What you want out, as in 12V@2A."),
    click.option(
        "--converter",
        metavar="C",
        help="kind:input range:input limit:efficiency, as in buck-boost:6-36V:5A:92%; leave off what you do not know.",
    ),
    cable_option,
    kit_option(LOOKED_UP),
)
