"""``pdcheck kit``: Keep sources and cables in a kit file: add, list, show, remove.

Meant by: add remove list own inventory delete edit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.commands import SuggestingGroup
from pdcheck.cli.options import form_option, id_options, input_argument, json_option
from pdcheck.intake.forms import FORMS
from pdcheck.parts.choices import CableClass

if TYPE_CHECKING:
    from pdcheck.parts.kit_result import Kind


@click.group("kit", cls=SuggestingGroup, short_help="Keep sources and cables in a kit file.")
def command() -> None:
    """Keep a kit file: what you own, with the captures that say so. Comments and order of the file stay.

    \b
    pdcheck kit add kit.toml --source wall-65 "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"
    pdcheck kit list kit.toml
    """


@command.command("list", short_help="One line for each source and cable.")
@click.argument("kit", metavar="KIT")
@json_option("kit")
def list_(kit: str, as_json: bool) -> int:
    """List what KIT holds.

    \b
    pdcheck kit list kit.toml
    """
    return answer(pdcheck.kit(kit), as_json)


@command.command("show", short_help="All about one source or cable.")
@click.argument("kit", metavar="KIT")
@click.argument("id_", metavar="ID")
@json_option("kit")
def show(kit: str, id_: str, as_json: bool) -> int:
    """Tell all about the source or cable ID of KIT.

    \b
    pdcheck kit show kit.toml wall-45
    """
    return answer(pdcheck.kit(kit, id_), as_json)


@command.command("add", short_help="Add a source or a cable, from any input.")
@click.argument("kit", metavar="KIT")
@input_argument("INPUT", required=False)
@id_options("Add a {} of this id.")
@click.option("--title", metavar="TEXT", help="One line that says which one it is.")
@form_option("input", tuple(FORMS))
@click.option("--port", metavar="NAME", help="With --from sysfs: the port to read.")
@click.option(
    "--captured-over",
    type=click.Choice(get_args(CableClass), case_sensitive=False),
    help="The cable that a source's offers were read with; default: not known.",
)
@click.option("--pdp", metavar="W", help="The power printed on a source, as in 65W; default: worked out of its offers.")
@click.option("--replace", is_flag=True, help="Change the one that has this id; what is not said stays.")
@json_option("kit-change")
def add(
    kit: str,
    input: str | None,
    source: str | None,
    cable: str | None,
    replace: bool,
    as_json: bool,
    **said: str | None,
) -> int:
    """Add a source or a cable to KIT, which is made if there is none.

    INPUT is what 'decode' and 'cable' take: a label, hex, e-marker words, a description, the path of a capture, or -
    for standard input. A file is kept beside the kit, in captures/. A power alone, as in 65W, stands for the offers
    that the standard asks of it. Of a cable also what is printed on its jacket, and two voltmeter readings, at the
    charger and at the far end, with the current that flowed: 5.12V/4.80V@2A. With --replace all that is not said anew
    stays, and INPUT may be left out.

    \b
    pdcheck kit add kit.toml --source wall-65 "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"
    pdcheck kit add kit.toml --source desk desk.vcd --captured-over 5A
    pdcheck kit add kit.toml --source spare 65W --title "Black, in the bag"
    pdcheck kit add kit.toml --cable thin-2m "C-C 3A 2m loop=240mOhm"
    pdcheck kit add kit.toml --cable thin-2m "240W 48V/5A 1m 5.12V/4.80V@2A" --replace
    """
    kind, id_ = _one_id(source, cable)
    if input is None and said["form"] != "sysfs" and not replace:
        raise click.UsageError("Missing argument 'INPUT...'.")
    if kind == "cable" and (said["captured_over"] or said["pdp"]):
        raise click.UsageError("--captured-over and --pdp are of a source")
    return answer(pdcheck.kit_add(kit, kind, id_, input or "", **said, replace=replace), as_json)


@command.command("remove", short_help="Take a source or a cable out.")
@click.argument("kit", metavar="KIT")
@click.argument("id_", metavar="ID", required=False)
@id_options("The {} of this id.")
@json_option("kit-change")
def remove(kit: str, id_: str | None, source: str | None, cable: str | None, as_json: bool) -> int:
    """Take ID out of KIT, with the comment right above it. A capture that was kept stays where it is.

    \b
    pdcheck kit remove kit.toml old-18
    """
    if id_ is None:
        kind, id_ = _one_id(source, cable)
        return answer(pdcheck.kit_remove(kit, id_, kind), as_json)
    if source is not None or cable is not None:
        raise click.UsageError("give ID, or --source ID, or --cable ID")
    return answer(pdcheck.kit_remove(kit, id_), as_json)


def _one_id(source: str | None, cable: str | None) -> tuple[Kind, str]:
    if (source is None) == (cable is None):
        raise click.UsageError("say which it is: --source ID or --cable ID")
    return ("source", source) if source is not None else ("cable", cable or "")
