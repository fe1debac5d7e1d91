"""``pdcheck fuse``: Propose fuses for the bus and each branch of a rig: values, reasons, voltage rating.

Meant by: fuses breaker protect.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option, pair_options
from pdcheck.cli.rig_options import rig_argument


@click.command("fuse")
@pair_options()
@json_option("fuse")
@rig_argument()
def command(as_json: bool, **asked: Any) -> int:
    """Propose fuses for RIG: for the bus and each branch the standard values between what flows and what the wire
    carries, over every source and cable of a kit on which RIG does its job, or over those named.

    Exit code 1 where a branch cannot be protected, or RIG does its job on none of them.

    \b
    pdcheck fuse pier-box.toml --kit kit.toml
    """
    return answer(pdcheck.fuse(**asked), as_json)
