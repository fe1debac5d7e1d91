"""``pdcheck wire``: Tell what a wire drops and loses as heat, or the thinnest that is enough.

Meant by: gauge awg wires thickness.

Without --awg or --mm2: the thinnest gauge and cross-section that keep within --drop and stay cool. With one of
them: what that wire drops and loses as heat, and up to what current it stays cool.

Exit code 1 where the wire drops more than --drop or gets too warm, or none is enough.

\b
pdcheck wire --length 2m --current 3A --drop 0.3V
pdcheck wire --awg 20 --length 2m --current 3A
"""

from typing import Any

import click

from pdcheck.cli.questions import question


def _fits(said: dict[str, Any]) -> None:
    if all(said[name] is None for name in ("drop", "awg", "mm2")):
        raise click.UsageError("--drop is needed to find a wire, or --awg or --mm2 to look at one")


command = question(
    __name__,
    click.option("--length", required=True, metavar="M", help="One way, as in 2m; the way back is added."),
    click.option("--current", required=True, metavar="A", help="Current, as in 3A."),
    click.option("--drop", metavar="V", help="The most that it may drop, as in 0.3V."),
    click.option("--awg", metavar="N", help="This gauge, as in 20; default: the thinnest that is enough."),
    click.option("--mm2", metavar="N", help="This cross-section, as in 0.75; default: the thinnest that is enough."),
    click.option("--contacts", default="0ohm", metavar="OHM", help="Contacts of the pair in all, as in 10mOhm."),
    click.option("--temperature", default="20C", metavar="C", help="Of the copper."),
    click.option("--stranded", is_flag=True, help="A gauge is of stranded wire; metric sizes always are."),
    fits=_fits,
)
