"""``pdcheck share``: Share a charger with several ports: which rig on which, what each gets.

Meant by: ports two split both multi.

Say what each RIG gets on each port of a charger, alone and together, which port is best for which, and what
happens to the first when the second is plugged in.

Exit code 1 where even the best assignment does not work in every order.

\b
pdcheck share pier-box.toml field-sensor.toml --source "C1 65W, C2 30W, C1+C2 45W+18W" --cable "C-C 5A 1m"
"""

import click

from pdcheck.cli.options import kit_option
from pdcheck.cli.questions import question

command = question(
    __name__,
    click.argument("rigs", metavar="RIG...", nargs=-1, required=True),
    kit_option(),
    click.option("--source", metavar="S", required=True, help="An id of the kit, or a label, with its ports."),
    click.option(
        "--cable",
        metavar="C",
        multiple=True,
        callback=lambda ctx, param, given: given or None,
        help="One for all, or once for each RIG in turn; id or description.",
    ),
)
