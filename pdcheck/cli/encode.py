"""``pdcheck encode``: Turn a charger's label into a Source_Capabilities message in hex.

Meant by: build generate.
"""

from __future__ import annotations

from typing import Any, get_args

import click

import pdcheck
from pdcheck.bits.header import Revision
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option, replace_option


@click.command("encode")
@click.argument("offers", nargs=-1, required=True)
@click.option("--revision", type=click.Choice(get_args(Revision)), default="3.x")
@click.option("--id", "message_id", type=click.IntRange(0, 7), default=0, help="MessageID.")
@click.option("--wave", metavar="FILE", help="Write the CC line as a VCD waveform, - for standard output.")
@click.option("--pcapng", metavar="FILE", help="Write the messages as packets in pcapng, - for standard output.")
@replace_option
@json_option("encode")
def command(
    offers: tuple[str, ...], wave: str | None, pcapng: str | None, replace: bool, as_json: bool, **asked: Any
) -> int:
    """Turn OFFERS, the text of a charger's label, into the message that would offer them, CRC included.

    EPR offers go into EPR_Source_Capabilities, one line of hex a chunk. Messages that are in hex already get their CRC;
    with --wave any of them become a test signal.

    \b
    pdcheck encode "5V 3A, 9V 3A; PPS 3.3-11V 3A"
    pdcheck encode "8210 2cb10430" --wave request.vcd
    """
    from pdcheck.cli.pictures import ready, write
    from pdcheck.parts.writing import PCAPNG, VCD

    found = pdcheck.encode(" ".join(offers), **asked)
    ready((wave, VCD), (pcapng, PCAPNG), replace=replace, printed=as_json)
    write(wave, found.vcd, VCD, replace)
    write(pcapng, found.pcapng, PCAPNG, replace)
    return 0 if "-" in (wave, pcapng) else answer(found, as_json)
