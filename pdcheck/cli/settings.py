"""``pdcheck settings``: Tell what each setting of a trigger would give on a source.

Meant by: trigger setting set switch.

Tell what a trigger would give at each SETTING (usual voltages, the highest and the most power if none is named).

\b
pdcheck settings --source wall-45 --kit kit.toml
pdcheck settings 12V 15V "pps 13.2V 3A" --source "5V 3A, 9V 3A, 15V 3A" --cable "C-C 5A"
"""

from typing import get_args

import click

from pdcheck.cli.options import LOOKED_UP, cable_option, kit_option, source_option
from pdcheck.cli.questions import question
from pdcheck.parts.choices import Fallback

command = question(
    __name__,
    click.argument("requests", metavar="[SETTING]...", nargs=-1),
    source_option,
    cable_option,
    kit_option(LOOKED_UP),
    click.option(
        "--fallback",
        type=click.Choice(get_args(Fallback)),
        default="next-lower",
        help="What the trigger does without its voltage.",
    ),
)
