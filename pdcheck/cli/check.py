"""``pdcheck check``: a rig judged on a source and cable, or on every pair of a kit."""

from __future__ import annotations

import click

from pdcheck.cli.options import json_option, pair_options


@click.command("check")
@click.argument("rig", metavar="RIG")
@pair_options()
@click.option("--brief", is_flag=True, help="One line for each pair.")
@json_option("check")
def command(
    rig: str, kit_path: str | None, source_id: str | None, cable_id: str | None, brief: bool, as_json: bool
) -> int:
    """Judge RIG, a TOML file, on every source and cable of a kit, or on those named.

    Exit code 1 where any pair fails or is unsafe.

    \b
    pdcheck check pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    """
    from pdcheck.asking.check import check
    from pdcheck.cli.answering import answer

    found = check(rig, kit_path, source_id, cable_id)
    if brief and not as_json:
        from pdcheck.show.check import summary

        click.echo(summary(found.results))
        return 0 if found else 1
    return answer(found, as_json)
