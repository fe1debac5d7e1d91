"""``pdcheck talk``: Say what trigger and source would tell each other, when, and what voltage that gives.

Meant by: conversation negotiate negotiation protocol simulate.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer, say
from pdcheck.cli.options import json_option, pair_options, replace_option
from pdcheck.cli.rig_options import rig_argument
from pdcheck.contract.talk.faults import FAULTS


@click.command("talk")
@pair_options("The {}; may be left out where the kit has one.")
@click.option(
    "--event",
    "events",
    metavar="EVENT",
    multiple=True,
    help='What happens meanwhile: "second port at 3s", "lower to 30W at 5s", "request 9V at 4s", "sink silent at 2s".',
)
@click.option("--until", metavar="TIME", default="20s", help="How long to listen.")
@click.option("--fault", "faults", multiple=True, type=click.Choice(list(FAULTS)), help="What the trigger does wrong.")
@click.option("--give-back", metavar="CURRENT", help="The trigger offers to go down to this (GiveBack).")
@click.option("--seed", type=int, help="Draw each time from what the standard allows instead of its middle.")
@click.option("--states", is_flag=True, help="Show the states of both sides too.")
@click.option("--log", metavar="FILE", help="Write the packets as a hex log; - for standard output alone.")
@click.option("--vcd", metavar="FILE", help="Write the CC line as a VCD; - for standard output alone.")
@replace_option
@json_option("talk")
@rig_argument()
def command(log: str | None, vcd: str | None, replace: bool, states: bool, as_json: bool, **asked: Any) -> int:
    """Say what RIG's trigger and a source would tell each other, when, and what voltage that gives.

    Exit code 1 where there is no contract in the end, unless there is no PD at all and 5 V come by Type-C.

    \b
    pdcheck talk pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    pdcheck talk pier-box.toml --kit kit.toml --source desk-65 --cable short-5a --event "second port at 3s" --log -
    """
    from pdcheck.cli.pictures import ready, write
    from pdcheck.parts.writing import LOG, VCD

    ready((log, LOG), (vcd, VCD), replace=replace, printed=as_json, read=tuple(asked.values()))
    said = pdcheck.talk(**asked)
    write(log, said.conversation.log, LOG, replace)
    write(vcd, said.conversation.vcd, VCD, replace)
    if "-" in (log, vcd):
        return 0 if said else 1
    if as_json or not states:
        return answer(said, as_json)
    from pdcheck.show.talk import text

    say(text(said, states=states))
    return 0 if said else 1
