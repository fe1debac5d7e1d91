"""``pdcheck talk``: the conversation that would happen, with times."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

import pdcheck
from pdcheck.cli.answering import answer, say
from pdcheck.cli.options import json_option, pair_options
from pdcheck.cli.rig_options import rig_argument
from pdcheck.contract.talk.faults import FAULTS

if TYPE_CHECKING:
    from pdcheck.contract.talk.conversation import Conversation


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
@click.option("--replace", is_flag=True, help="Write over a file of another kind that is there.")
@json_option("talk")
@rig_argument()
def command(log: str | None, vcd: str | None, replace: bool, states: bool, as_json: bool, **asked: Any) -> int:
    """Say what RIG's trigger and a source would tell each other, when, and what voltage that gives.

    Exit code 1 where there is no contract in the end, unless there is no PD at all and 5 V come by Type-C.

    \b
    pdcheck talk pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    pdcheck talk pier-box.toml --kit kit.toml --source desk-65 --cable short-5a --event "second port at 3s" --log -
    """
    said = pdcheck.talk(**asked)
    alone = _write(said.conversation, log, vcd, replace)
    if as_json or not (alone or states):
        return answer(said, as_json)
    if not alone:
        from pdcheck.show.talk import text

        say(text(said, states=states))
    return 0 if said else 1


def _write(said: Conversation, log: str | None, vcd: str | None, replace: bool) -> bool:
    """Write what was asked for; True where it went to standard output."""
    from pdcheck.cli.streams import document
    from pdcheck.errors import InputError
    from pdcheck.parts.writing import LOG, VCD, outputs_differ, writable, write_whole

    if log == vcd == "-":
        raise InputError("--log - and --vcd - both want standard output", expected="a path for one of them")
    outputs_differ(log, vcd)
    wanted = ((log, LOG, said.log), (vcd, VCD, said.vcd))
    for path, kind, _ in wanted:
        if path not in (None, "-"):
            writable(str(path), kind=kind, replace=replace)
    for path, kind, render in wanted:
        if path == "-":
            document(render())
        elif path is not None:
            write_whole(path, render(), kind=kind, replace=replace)
    return "-" in (log, vcd)
