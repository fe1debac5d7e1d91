"""``pdcheck transient``: Say what happens in a rig in the first second after it is plugged in.

Meant by: inrush startup start-up surge first-second time.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import THE_PAIR, csv_or_json, json_option, pair_options, picture_options
from pdcheck.cli.rig_options import rig_argument


@click.command("transient")
@pair_options(THE_PAIR)
@click.option(
    "--event",
    "events",
    metavar="EVENT",
    multiple=True,
    help='What happens meanwhile: "join NAME at 1s", "load NAME off at 1s", "unplug at 1s", "replug at 2s", '
    '"lower to 30W at 1s", "second port at 1s", "request 9V at 1s", "hard reset at 1s".',
)
@click.option("--until", metavar="S", default="1s", help="How long to look.")
@picture_options("the picture")
@click.option("--csv", "as_csv", is_flag=True, help="Print the voltage of each node over time as CSV.")
@json_option("transient")
@rig_argument()
def command(svg: str | None, png: str | None, as_csv: bool, replace: bool, as_json: bool, **asked: Any) -> int:
    """Say what happens when RIG is plugged in: which branch starts, hangs, or starts and fails again and again, what
    the bus does meanwhile, and what each part gets at worst.

    Exit code 1 where a branch does not run in the end, or something gets more volts than it is rated for.

    \b
    pdcheck transient pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    pdcheck transient pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m --event "load mount off at 500ms"
    """
    csv_or_json(as_csv, as_json)
    from pdcheck.cli.pictures import ready, write_picture
    from pdcheck.parts.writing import PNG, SVG

    printed = as_json or as_csv
    ready((svg, SVG), (png, PNG), replace=replace, printed=printed, read=tuple(asked.values()))
    found = pdcheck.transient(**asked)
    if svg is not None or png is not None:
        from pdcheck.show.pictures.transient_picture import transient_picture

        write_picture(transient_picture(found).headed(), svg, png, replace)
    if "-" in (svg, png):
        return 0 if found else 1
    if as_csv:
        from pdcheck.cli.streams import document
        from pdcheck.show.emit import csv_lines

        curves = {"time_s": found.samples.time_s, **found.samples.nodes}
        rows = (dict(zip(curves, row, strict=True)) for row in zip(*curves.values(), strict=True))
        document(csv_lines(rows, {name: name for name in curves}))
        return 0 if found else 1
    return answer(found, as_json)
