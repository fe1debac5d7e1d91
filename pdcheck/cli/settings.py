"""``pdcheck settings``: Tell what each setting of a trigger would give on a source.

Meant by: trigger setting set switch.
"""

from __future__ import annotations

from typing import Any, get_args

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import LOOKED_UP, cable_option, json_option, kit_option, source_option
from pdcheck.parts.choices import Fallback


@click.command("settings")
@click.argument("requests", metavar="[SETTING]...", nargs=-1)
@source_option
@cable_option
@kit_option(LOOKED_UP)
@click.option(
    "--fallback",
    type=click.Choice(get_args(Fallback)),
    default="next-lower",
    help="What the trigger does without its voltage.",
)
@json_option("settings")
def command(as_json: bool, **asked: Any) -> int:
    """Tell what a trigger would give at each SETTING (usual voltages, the highest and the most power if none is named).

    \b
    pdcheck settings --source wall-45 --kit kit.toml
    pdcheck settings 12V 15V "pps 13.2V 3A" --source "5V 3A, 9V 3A, 15V 3A" --cable "C-C 5A"
    """
    return answer(pdcheck.settings(**asked), as_json)
