"""``pdcheck change``: Say what happens in a rig when its source offers less, or is unplugged.

Meant by: unplug event fallback drops derate.

Say which branches of RIG go on, stop or restart when a second port is used, a power bank runs low or the plug is
pulled, what the bus does in between and for how long, and what that means for what hangs on it.

Exit code 1 where a branch that runs does not surely run afterwards.

\b
pdcheck change pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m --to 9V
"""

import click

from pdcheck.cli.options import THE_PAIR, pair_options
from pdcheck.cli.questions import question

command = question(
    __name__,
    pair_options(THE_PAIR),
    click.option(
        "--to",
        metavar="WHAT",
        help="9V or 'offer 2' (nothing above that), 30W (less current), unplug; else all that may be.",
    ),
    of_rig=True,
)
