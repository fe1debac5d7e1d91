"""``pdcheck pick``: the offers of a source ranked for a wanted output."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import cable_option, kit_option, source_option


@click.command("pick", short_help="Rank a source's offers for an output.")
@source_option
@click.option("--output", metavar="V@A", required=True, help="What you want out, as in 12V@2A.")
@click.option(
    "--converter",
    "converter_text",
    metavar="C",
    help="kind:input range:input limit:efficiency, as in buck-boost:6-36V:5A:92%; leave off what you do not know.",
)
@cable_option
@kit_option("Kit file that ids are looked up in.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/pick/1.")
def command(
    source_text: str,
    output: str,
    converter_text: str | None,
    cable_text: str | None,
    kit_path: str | None,
    as_json: bool,
) -> int:
    """Say which offer to set the trigger to, why each other one loses, and the request word.

    Exit code 1 where no offer will do.

    \b
    pdcheck pick --source "5V 3A, 9V 3A, 15V 3A" --output 12V@2A --converter buck-boost:6-36V:5A:92%
    """
    from pdcheck.cli.named import named_cable, named_source
    from pdcheck.errors import InputError
    from pdcheck.parts.converter import read_converter_description
    from pdcheck.quantities import parse_at
    from pdcheck.show import picked as shown
    from pdcheck.verdict.judge import UNKNOWN_CABLE
    from pdcheck.verdict.pick import Wanted, pick

    try:
        voltage_v, current_a = parse_at(output)
        if not (voltage_v > 0 and current_a > 0):
            raise InputError(f"{output!r} is no output", expected="volts and amperes above zero, as in 12V@2A")
    except InputError as error:
        raise error.inside("--output") from None
    try:
        converter = None if converter_text is None else read_converter_description(converter_text, voltage_v)
    except InputError as error:
        raise error.inside("--converter") from None
    source = named_source(source_text, kit_path)
    if source.cable is not None and cable_text is None:
        cable = source.cable
    else:
        cable = UNKNOWN_CABLE if cable_text is None else named_cable(cable_text, kit_path)
    result = pick(source, cable, Wanted(voltage_v, current_a, converter))
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(shown.document(result, source, cable))
    else:
        click.echo(shown.text(result, source, cable))
    return 0 if result.choice is not None else 1
