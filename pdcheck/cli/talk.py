"""``pdcheck talk``: the conversation that would happen, with times."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.option_types import pair_options, quantity_option, told_of

if TYPE_CHECKING:
    from pdcheck.contract.talk.conversation import Conversation
    from pdcheck.parts.cable import Cable
    from pdcheck.parts.kit import Kit
    from pdcheck.parts.source import Source

FAULTS = {
    "no-epr-bit": {"says_epr": False},
    "asks-unmarked": {"heeds_epr": False},
    "no-renewal": {"renews": False},
    "no-keep-alive": {"keeps_alive": False},
}
"""What a trigger may do wrong, and the manner that it then has."""


@click.command("talk", short_help="The conversation that would happen.")
@click.argument("rig", metavar="RIG")
@pair_options("The {} of the kit; may be left out where there is one.")
@click.option(
    "--event",
    "event_texts",
    metavar="EVENT",
    multiple=True,
    help='What happens meanwhile: "second port at 3s", "lower to 30W at 5s", "request 9V at 4s", "sink silent at 2s".',
)
@quantity_option("--until", "s", zero=True, default="20s", show_default=True, help="How long to listen.")
@click.option("--fault", "faults", multiple=True, type=click.Choice(list(FAULTS)), help="What the trigger does wrong.")
@quantity_option(
    "--give-back", "A", zero=True, metavar="CURRENT", help="The trigger offers to go down to this (GiveBack)."
)
@click.option("--seed", type=int, help="Draw each time from what the standard allows instead of its middle.")
@click.option("--states", is_flag=True, help="Show the states of both sides too.")
@click.option("--log", "log_path", metavar="FILE", help="Write the packets as a hex log; - for standard output alone.")
@click.option("--vcd", "vcd_path", metavar="FILE", help="Write the CC line as a VCD; - for standard output alone.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/talk/1.")
def command(
    rig: str,
    kit_path: str | None,
    source_id: str | None,
    cable_id: str | None,
    event_texts: tuple[str, ...],
    until: float,
    faults: tuple[str, ...],
    give_back: float | None,
    seed: int | None,
    states: bool,
    log_path: str | None,
    vcd_path: str | None,
    as_json: bool,
) -> int:
    """Say what RIG's trigger and a source would tell each other, when, and what voltage that gives.

    Exit code 1 where no contract stands in the end, unless there is no PD at all and 5 V come by Type-C.

    \b
    pdcheck talk pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    pdcheck talk pier-box.toml --kit kit.toml --source desk-65 --cable short-5a --event "second port at 3s" --log -
    """
    from pdcheck.asking.given import rig_and_kit
    from pdcheck.contract.talk.conversation import converse
    from pdcheck.contract.talk.events import parse_event
    from pdcheck.contract.talk.sink_port import Manner
    from pdcheck.show.talk import shown

    built, kit = rig_and_kit(rig, kit_path)
    source, cable = chosen_pair(kit, source_id, cable_id)
    with told_of("--event"):
        events = [parse_event(each, source) for each in event_texts]
    manner = Manner(**{key: value for fault in faults for key, value in FAULTS[fault].items()})
    if give_back is not None:
        manner = manner._replace(least_a=give_back)
    talk = converse(built.trigger, source, cable, events=events, until_s=until, manner=manner, seed=seed)
    alone = _write(talk, log_path, vcd_path)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(shown.document(built, talk))
    elif not alone:
        click.echo(shown.text(built, talk, states=states))
    return 1 if talk.result == "failed" else 0


def _write(talk: Conversation, log_path: str | None, vcd_path: str | None) -> bool:
    """Write what was asked for; True where it went to standard output."""
    from pathlib import Path

    from pdcheck.errors import InputError
    from pdcheck.show.talk import shown

    if log_path == vcd_path == "-":
        raise InputError("--log - and --vcd - both want standard output", expected="a path for one of them")
    for path, render in ((log_path, shown.log), (vcd_path, shown.vcd)):
        if path == "-":
            click.echo(render(talk), nl=False)
        elif path is not None:
            try:
                Path(path).write_text(render(talk), encoding="utf-8")
            except OSError as error:
                raise InputError((error.strerror or "cannot be written").lower(), where=path) from None
    return "-" in (log_path, vcd_path)


def chosen_pair(kit: Kit, source_id: str | None, cable_id: str | None) -> tuple[Source, Cable]:
    """The source and cable that are meant; its own cable where one is fixed to the source.

    Raises ``InputError`` where the kit has several and none is named.
    """
    from pdcheck.errors import InputError
    from pdcheck.verdict.judge import pairs_of

    pairs = list(pairs_of(kit, source_id, cable_id))
    if len(pairs) == 1:
        return pairs[0]
    option, ids = "--cable", dict.fromkeys(cable.id for _, cable in pairs)
    if len({source.id for source, _ in pairs}) > 1:
        option, ids = "--source", dict.fromkeys(source.id for source, _ in pairs)
    raise InputError(f"which {option.removeprefix('--')} of the kit?", expected=f"{option} {' or '.join(ids)}")
