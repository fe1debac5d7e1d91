"""``pdcheck encode``: a label, to a Source_Capabilities message in hex."""

from __future__ import annotations

import click


@click.command("encode", short_help="Turn a label into a message in hex.")
@click.argument("offers", nargs=-1, required=True)
@click.option("--revision", type=click.Choice(["2.0", "3.x"]), default="3.x", show_default=True)
@click.option("--id", "message_id", type=click.IntRange(0, 7), default=0, show_default=True, help="MessageID.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/encode/1.")
def command(offers: tuple[str, ...], revision: str, message_id: int, as_json: bool) -> int:
    """Turn OFFERS, the text of a charger's label, into the message that would offer them, CRC included.

    EPR offers go into EPR_Source_Capabilities, one line of hex a chunk.

    \b
    pdcheck encode "5V 3A, 9V 3A; PPS 3.3-11V 3A"
    """
    from pdcheck.bits.capabilities import encode_capabilities
    from pdcheck.intake.given import given
    from pdcheck.intake.sniff import read_any

    source = given(" ".join(offers))
    messages = encode_capabilities(read_any(source.text()).offers_or_error(), revision=revision, message_id=message_id)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(
            {"schema": "pdcheck/encode/1", "messages": [{"type": name, "hex": raw.hex()} for name, raw in messages]}
        )
    else:
        for _, raw in messages:
            click.echo(raw.hex(" "))
    return 0
