"""``pdcheck drop``: Work out a loop resistance from two readings, and what it drops.

Meant by: loss resistance ohm voltage-drop loop.

Both readings with the current flowing, at the two ends of the same cable or wire.

Exit code 1 where the loop is above what the standard allows any cable; the answer has the figure.

\b
pdcheck drop --source 5.12V --sink 4.80V --at 2A
"""

import click

from pdcheck.cli.questions import question

command = question(
    __name__,
    click.option("--source", required=True, metavar="V", help="Voltage read at the source."),
    click.option("--sink", required=True, metavar="V", help="Voltage read at the far end, at the same time."),
    click.option("--at", required=True, metavar="A", help="The current that flowed."),
    click.option("--error", default="0V", metavar="V", help="How far off each reading may be, as in 5mV."),
    click.option("--also", default="1A,2A,3A,5A", metavar="LIST", help="Currents to tell drop and loss at."),
)
