"""``pdcheck talk``: the conversation that would happen, with times."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.options import json_option, pair_options
from pdcheck.cli.rig_options import rig_argument
from pdcheck.contract.talk.faults import FAULTS

if TYPE_CHECKING:
    from pdcheck.asking.given import AnyKit, AnyRig


@click.command("talk")
@pair_options("The {}; may be left out where the kit has one.")
@click.option(
    "--event",
    "event_texts",
    metavar="EVENT",
    multiple=True,
    help='What happens meanwhile: "second port at 3s", "lower to 30W at 5s", "request 9V at 4s", "sink silent at 2s".',
)
@click.option("--until", metavar="TIME", default="20s", help="How long to listen.")
@click.option("--fault", "faults", multiple=True, type=click.Choice(list(FAULTS)), help="What the trigger does wrong.")
@click.option("--give-back", metavar="CURRENT", help="The trigger offers to go down to this (GiveBack).")
@click.option("--seed", type=int, help="Draw each time from what the standard allows instead of its middle.")
@click.option("--states", is_flag=True, help="Show the states of both sides too.")
@click.option("--log", "log_path", metavar="FILE", help="Write the packets as a hex log; - for standard output alone.")
@click.option("--vcd", "vcd_path", metavar="FILE", help="Write the CC line as a VCD; - for standard output alone.")
@click.option("--replace", is_flag=True, help="Write over a file of another kind that is there.")
@json_option("talk")
@rig_argument()
def command(
    rig: AnyRig,
    kit_path: AnyKit | None,
    source_id: str | None,
    cable_id: str | None,
    event_texts: tuple[str, ...],
    until: str,
    faults: tuple[str, ...],
    give_back: str | None,
    seed: int | None,
    states: bool,
    log_path: str | None,
    vcd_path: str | None,
    replace: bool,
    as_json: bool,
) -> int:
    """Say what RIG's trigger and a source would tell each other, when, and what voltage that gives.

    Exit code 1 where there is no contract in the end, unless there is no PD at all and 5 V come by Type-C.

    \b
    pdcheck talk pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    pdcheck talk pier-box.toml --kit kit.toml --source desk-65 --cable short-5a --event "second port at 3s" --log -
    """
    from pdcheck.asking.talk import talk
    from pdcheck.cli.answering import answer, say
    from pdcheck.cli.pictures import ready, write
    from pdcheck.parts.writing import LOG, VCD

    asked = (rig, kit_path, source_id, cable_id)
    ready((log_path, LOG), (vcd_path, VCD), replace=replace, printed=as_json, read=asked)
    said = talk(
        *asked,
        events=event_texts,
        until=until,
        faults=faults,
        give_back=give_back,
        seed=seed,
    )
    if log_path is not None:
        write(log_path, said.conversation.log(), LOG, replace)
    if vcd_path is not None:
        write(vcd_path, said.conversation.vcd(), VCD, replace)
    if "-" in (log_path, vcd_path):
        return 0 if said else 1
    if as_json or not states:
        return answer(said, as_json)
    from pdcheck.show.talk import text

    say(text(said, states=states))
    return 0 if said else 1
