"""``pdcheck check``: a rig judged on a source and cable, or on every pair of a kit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.options import json_option, pair_options, watch_option
from pdcheck.cli.rig_options import rig_argument

if TYPE_CHECKING:
    from pdcheck.asking.given import AnyKit, AnyRig


@click.command("check")
@pair_options()
@click.option("--brief", is_flag=True, help="One line for each pair.")
@click.option("--notes", is_flag=True, help="Also what is harmless or good to know, and by which rule.")
@watch_option
@click.option("--strict", is_flag=True, help="Exit code 1 also where something was not judged.")
@json_option("check")
@rig_argument()
def command(
    rig: AnyRig,
    kit_path: AnyKit | None,
    source_id: str | None,
    cable_id: str | None,
    brief: bool,
    notes: bool,
    strict: bool,
    watch: bool,
    as_json: bool,
) -> int:
    """Judge RIG, a TOML file, on every source and cable of a kit, or on those named.

    Exit code 1 where any pair fails or is unsafe; with --strict also where the verdict depends on a figure that is
    missing in RIG.

    \b
    pdcheck check pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    """
    if watch:
        from pdcheck.cli.watching import watched

        if as_json:
            raise click.UsageError("--watch and --json exclude each other")
        paths = (rig, kit_path, source_id)
        return watched(lambda: _check(rig, kit_path, source_id, cable_id, brief, notes, strict, as_json), paths)
    return _check(rig, kit_path, source_id, cable_id, brief, notes, strict, as_json)


def _check(
    rig: AnyRig,
    kit_path: AnyKit | None,
    source_id: str | None,
    cable_id: str | None,
    brief: bool,
    notes: bool,
    strict: bool,
    as_json: bool,
) -> int:
    from pdcheck.asking.check import check
    from pdcheck.cli.answering import answer, say

    found = check(rig, kit_path, source_id, cable_id)
    if brief and not as_json:
        from pdcheck.show.check import summary

        say(summary(found.results))
        code = 0 if found else 1
    elif notes and not as_json:
        from pdcheck.show.check import text_with_notes

        say("\n\n".join(map(text_with_notes, found.results)))
        code = 0 if found else 1
    else:
        code = answer(found, as_json)
    return max(code, int(strict and any(each.not_judged for each in found.results)))
