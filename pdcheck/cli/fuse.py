"""``pdcheck fuse``: which fuse fits on the bus and in each branch of a rig."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pdcheck.cli.options import json_option, pair_options
from pdcheck.cli.rig_options import rig_argument

if TYPE_CHECKING:
    from pdcheck.asking.given import AnyKit, AnyRig


@click.command("fuse")
@pair_options()
@json_option("fuse")
@rig_argument()
def command(rig: AnyRig, kit_path: AnyKit | None, source_id: str | None, cable_id: str | None, as_json: bool) -> int:
    """Propose fuses for RIG: for the bus and each branch the standard values between what flows and what the wire
    carries, over every source and cable of a kit on which RIG does its job, or over those named.

    Exit code 1 where a branch cannot be protected, or RIG does its job on none of them.

    \b
    pdcheck fuse pier-box.toml --kit kit.toml
    """
    from pdcheck.asking.fuse import fuse
    from pdcheck.cli.answering import answer

    return answer(fuse(rig, kit_path, source_id, cable_id), as_json)
