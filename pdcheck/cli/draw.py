"""``pdcheck draw``: Draw a rig: volts and amperes on the wires, watts lost, what limits it.

Meant by: diagram plot picture schematic svg show graph image.
"""

from __future__ import annotations

from typing import Any, get_args

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option, pair_options, picture_options
from pdcheck.cli.rig_options import rig_argument
from pdcheck.show.pictures import PictureName


@click.command("draw")
@pair_options("The {} to draw it on; without it the best of the kit.")
@picture_options("the picture")
@click.option(
    "--picture",
    "which",
    type=click.Choice(get_args(PictureName)),
    default="parts",
    help="Of --svg and --png: every part, the voltage down the chain, or where the watts go.",
)
@click.option("--branch", metavar="NAME", help="The branch of '--picture voltage'; else the first.")
@click.option("--narrow", is_flag=True, help="A picture for a telephone, from top to bottom.")
@json_option("draw")
@rig_argument()
def command(
    svg: str | None,
    png: str | None,
    which: PictureName,
    branch: str | None,
    narrow: bool,
    replace: bool,
    as_json: bool,
    **asked: Any,
) -> int:
    """Draw RIG on a charger and cable: volts and amperes on the wires, watts lost in the parts, what limits it.

    Exit code as for 'check'.

    \b
    pdcheck draw pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    pdcheck draw pier-box.toml --kit kit.toml --source wall-45 --picture watts --svg watts.svg
    """
    from pdcheck.cli.pictures import ready, write_picture
    from pdcheck.parts.writing import PNG, SVG

    ready((svg, SVG), (png, PNG), replace=replace, printed=as_json, read=tuple(asked.values()))
    found = pdcheck.draw(**asked)
    if svg is not None or png is not None:
        from pdcheck.show.pictures.picture import picture

        write_picture(picture(found, which, branch, narrow=narrow), svg, png, replace)
        if not as_json:
            return 0 if found else 1
    return answer(found, as_json)
