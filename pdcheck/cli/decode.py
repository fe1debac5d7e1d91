"""``pdcheck decode``: a capture, hex or a label, to messages and offers."""

from __future__ import annotations

import click


@click.command("decode", short_help="Read a capture, hex or a label.")
@click.argument("input_", metavar="INPUT...", nargs=-1, required=True)
@click.option(
    "--from",
    "form",
    type=click.Choice(["hex", "label"]),
    help="What the input is, where its look would mislead.",
)
@click.option(
    "--request-as",
    type=click.Choice(["fixed", "battery", "pps", "avs"]),
    help="How to read a Request whose capabilities are not in the input; bare words are then requests.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/decode/1.")
def command(input_: tuple[str, ...], form: str | None, request_as: str | None, as_json: bool) -> int:
    """Read INPUT: hex text, a path, a charger's label, or - for standard input.

    Exit code 1 where a message's CRC is wrong.

    \b
    pdcheck decode "5V 3A, 9V 3A, 15V 3A, 20V 2.25A"
    pdcheck decode capture.log --json
    """
    from pdcheck.errors import InputError
    from pdcheck.intake.given import given
    from pdcheck.intake.sniff import read_any

    source = given(" ".join(input_))
    try:
        intake = read_any(source.text(), form, request_as)
    except InputError as error:
        raise source.blame(error) from None
    from pdcheck.show import decoded

    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(decoded.document(intake))
    else:
        click.echo(decoded.text(intake))
    return 1 if intake.bad_crc() else 0
