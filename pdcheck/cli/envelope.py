"""``pdcheck envelope``: what each output of a rig can deliver, on every contract that can occur."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import pair_options

MOST_PAIRS = 500
"""Worked out one by one within seconds."""


@click.command("envelope", short_help="What each output can deliver, and what limits it.")
@click.argument("rig", metavar="RIG")
@pair_options("Only this {} of the kit.")
@click.option("--branch", metavar="NAME", help="Only this branch of the rig.")
@click.option("--voltages", "asked", metavar="LIST", help="Output voltages to try: 5V,9V,12V or 5V..24V.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a CSV table, one line for each point.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/envelope/1.")
def command(
    rig: str,
    kit_path: str | None,
    source_id: str | None,
    cable_id: str | None,
    branch: str | None,
    asked: str | None,
    as_csv: bool,
    as_json: bool,
) -> int:
    """Give the greatest current and power at each output of RIG, and the part that sets the limit.

    \b
    pdcheck envelope pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    """
    from pdcheck.cli.files import rig_and_kit
    from pdcheck.cli.option_types import Voltages, told_of
    from pdcheck.show import enveloped
    from pdcheck.verdict.envelopes import envelopes
    from pdcheck.verdict.judge import few_pairs

    if as_csv and as_json:
        raise click.UsageError("--csv and --json exclude each other")
    with told_of("--voltages"):
        places = None if asked is None else Voltages().read(asked)
    built, kit = rig_and_kit(rig, kit_path)
    found = [
        envelopes(built, source, cable, branch=branch, voltages=places)
        for source, cable in few_pairs(kit, source_id, cable_id, MOST_PAIRS)
    ]
    if as_csv:
        click.echo(enveloped.csv_text(found), nl=False)
    elif as_json:
        from pdcheck.show.emit import emit_json

        emit_json(enveloped.document(found, built.title))
    else:
        click.echo("\n\n".join(enveloped.text(each) for each in found))
    return 0
