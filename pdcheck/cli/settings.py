"""``pdcheck settings``: what each setting of a trigger would give on a source."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import cable_option, kit_option, source_option


@click.command("settings", short_help="What each setting of a trigger would give.")
@click.argument("requests", metavar="[SETTING]...", nargs=-1)
@source_option
@cable_option
@kit_option("Kit file that ids are looked up in.")
@click.option(
    "--fallback",
    type=click.Choice(["next-lower", "5V", "none"]),
    default="next-lower",
    show_default=True,
    help="What the trigger does without its voltage.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/settings/1.")
def command(
    requests: tuple[str, ...],
    source_text: str,
    cable_text: str | None,
    kit_path: str | None,
    fallback: str,
    as_json: bool,
) -> int:
    """Tell what a trigger would give at each SETTING (5 V to 20 V, the highest and the most power where none is named).

    \b
    pdcheck settings --source wall-45 --kit kit.toml
    pdcheck settings 12V 15V "pps 13.2V 3A" --source "5V 3A, 9V 3A, 15V 3A" --cable "C-C 5A"
    """
    from pdcheck.cli.named import named_cable, named_source
    from pdcheck.contract.trigger_settings import settings_on, usual_settings
    from pdcheck.errors import InputError
    from pdcheck.parts.request import parse_request
    from pdcheck.show import trigger_settings as shown
    from pdcheck.verdict.judge import UNKNOWN_CABLE

    source = named_source(source_text, kit_path)
    if source.cable is not None and cable_text is None:
        cable = source.cable
    else:
        cable = UNKNOWN_CABLE if cable_text is None else named_cable(cable_text, kit_path)
    try:
        asked = tuple(parse_request(text) for text in requests) or usual_settings(source)
    except InputError as error:
        raise error.inside("SETTING") from None
    seen, given = settings_on(source, cable, asked, fallback)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(shown.document(source, cable, seen, given, fallback))
    else:
        click.echo(shown.text(source, cable, seen, given, fallback))
    return 0
