"""``pdcheck encode``: a label, or messages in hex, to messages with their CRC in hex, or to a waveform."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pdcheck.intake.sniff import Intake


@click.command("encode", short_help="Turn a label into a message in hex.")
@click.argument("offers", nargs=-1, required=True)
@click.option("--revision", type=click.Choice(["2.0", "3.x"]), default="3.x", show_default=True)
@click.option("--id", "message_id", type=click.IntRange(0, 7), default=0, show_default=True, help="MessageID.")
@click.option("--wave", "wave_path", metavar="FILE", help="Write the CC line as a VCD waveform, - for standard output.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/encode/1.")
def command(offers: tuple[str, ...], revision: str, message_id: int, wave_path: str | None, as_json: bool) -> int:
    """Turn OFFERS, the text of a charger's label, into the message that would offer them, CRC included.

    EPR offers go into EPR_Source_Capabilities, one line of hex a chunk. Messages that are in hex already get their CRC;
    with --wave any of them become a test signal.

    \b
    pdcheck encode "5V 3A, 9V 3A; PPS 3.3-11V 3A"
    pdcheck encode "8210 2cb10430" --wave request.vcd
    """
    from pdcheck.errors import InputError
    from pdcheck.intake.given import given
    from pdcheck.intake.sniff import read_any

    source = given(" ".join(offers))
    try:
        intake = read_any(source.text())
        messages = _messages(intake, revision, message_id)
    except InputError as error:
        raise source.blame(error) from None
    if wave_path is not None:
        _write_wave(intake, [raw for _, raw in messages], wave_path)
        if wave_path == "-":
            return 0
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(
            {"schema": "pdcheck/encode/1", "messages": [{"type": name, "hex": raw.hex()} for name, raw in messages]}
        )
    else:
        for _, raw in messages:
            click.echo(raw.hex(" "))
    return 0


def _messages(intake: Intake, revision: str, message_id: int) -> list[tuple[str, bytes]]:
    """The messages with their CRC: those of the input as they are, else the offers as a source would send them."""
    from pdcheck.bits.capabilities import encode_capabilities

    told = [each.message for each in intake.told]
    if told:
        return [(message.type, message.on_wire() if message.raw else b"") for message in told]
    return encode_capabilities(intake.offers_or_error(), revision=revision, message_id=message_id)


def _write_wave(intake: Intake, messages: list[bytes], path: str) -> None:
    from pdcheck.intake.waveform.writing import Sent, write_vcd
    from pdcheck.parts.keeping import write_whole
    from pdcheck.show.clean import clean

    told = [each.message for each in intake.told]
    # Far enough apart that no packet of the standard's longest reaches into the next.
    spacing_s = 5e-3
    sent = [
        Sent((1 + index) * spacing_s, raw, told[index].sop if told else "SOP") for index, raw in enumerate(messages)
    ]
    text = write_vcd(sent)
    if path == "-":
        click.echo(text, nl=False)
    else:
        write_whole(path, text)
        click.echo(clean(f"wrote {path}"), err=True)
