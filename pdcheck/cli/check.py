"""``pdcheck check``: Judge a rig on a source and cable, or on every pair of a kit.

Meant by: verify test judge validate run works compatible evaluate try heat temperature thermal hot warm watch.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer, say
from pdcheck.cli.options import json_option, judged_option, pair_options, watch_option
from pdcheck.cli.rig_options import rig_argument


@click.command("check")
@pair_options()
@click.option("--brief", is_flag=True, help="One line for each pair.")
@click.option("--notes", is_flag=True, help="Also what is harmless or good to know, and by which rule.")
@watch_option
@judged_option
@json_option("check")
@rig_argument()
def command(watch: bool, brief: bool, notes: bool, strict: bool, as_json: bool, **asked: Any) -> int:
    """Judge RIG, a TOML file, on every source and cable of a kit, or on those named.

    Exit code 1 where any pair fails or is unsafe; with --strict also where the verdict depends on a figure that is
    missing in RIG.

    \b
    pdcheck check pier-box.toml --kit kit.toml --source wall-45 --cable thin-2m
    """

    def once() -> int:
        found = pdcheck.check(**asked)
        if as_json or not (brief or notes):
            code = answer(found, as_json)
        else:
            from pdcheck.show.check import summary, text_with_notes

            say(summary(found.results) if brief else "\n\n".join(map(text_with_notes, found.results)))
            code = 0 if found else 1
        return max(code, int(strict and any(each.not_judged for each in found.results)))

    if not watch:
        return once()
    from pdcheck.cli.watching import watched

    if as_json:
        raise click.UsageError("--watch and --json exclude each other")
    return watched(once, (asked["rig"], asked["kit"], asked["source"]))
