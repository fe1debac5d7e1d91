"""``pdcheck cable``: an e-marker or a description, to what a cable may carry and what it costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pdcheck.bits.cable import CableReading
    from pdcheck.parts.cable import Cable


@click.command("cable", short_help="Read an e-marker or a description.")
@click.argument("input_", metavar="INPUT...", nargs=-1, required=True)
@click.option("--at", metavar="A", help="Also tell what it costs in volts and watts at this current.")
@click.option(
    "--revision",
    type=click.Choice(["2.0", "3.x"]),
    help="Read the words as this revision lays them out; without it the VDM header decides.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/cable/1.")
def command(input_: tuple[str, ...], at: str | None, revision: str | None, as_json: bool) -> int:
    """Tell what a cable may carry. INPUT is the e-marker's words (ID Header or VDM header first), the whole message,
    a path to either, - for standard input, or a description.

    Exit code 1 where --at is more than it carries.

    \b
    pdcheck cable "C-C 5A 1m" --at 3A
    pdcheck cable 0x18000000 0x00000000 0x00000000 0x000A2640
    """
    from pdcheck.bits.cable import looks_like_words
    from pdcheck.errors import InputError
    from pdcheck.intake.given import Given, given
    from pdcheck.quantities import over, parse_quantity

    try:
        amps = None if at is None else parse_quantity(at, "A")
    except InputError as error:
        raise error.inside("--at") from None
    typed = " ".join(input_)
    source = Given("", typed.encode("utf-8", "surrogateescape")) if _described(typed) else given(typed)
    try:
        text = source.text().strip()
        cable, reading = _read(text, looks_like_words(text) or "\n" in text, revision)
    except InputError as error:
        raise source.blame(error) from None
    from pdcheck.show import cabled

    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(cabled.document(cable, reading, amps))
    else:
        click.echo(cabled.text(cable, reading, amps))
    return 1 if amps is not None and over(amps, cable.current_a) else 0


def _described(text: str) -> bool:
    """Whether the argument starts as a description does, so that it is not taken for a path."""
    return text[:3].upper() in ("C-C", "A-C", "EPR", "CAP", "B-C") or "loop=" in text


def _read(text: str, as_words: bool, revision: str | None) -> tuple[Cable, CableReading | None]:
    from pdcheck.bits.cable import read_cable_words
    from pdcheck.parts.cable import Cable, read_cable_description
    from pdcheck.parts.cable_face import words_in

    if not as_words:
        return read_cable_description(text), None
    reading = read_cable_words(words_in(text), revision)
    stated = {
        "id": "cable",
        "construction": reading.construction,
        "emarker": reading.emarker,
        "pd": reading.pd,
        "current_a": reading.current_ma / 1000,
        "voltage_v": reading.voltage_mv / 1000,
        "epr": reading.epr,
    }
    return Cable.model_validate(stated), reading
