"""``pdcheck runtime``: Tell how long a power bank feeds a rig, and what takes its energy.

Meant by: battery hours bank powerbank power-bank duration energy lasts last.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option, pair_options
from pdcheck.cli.rig_options import rig_argument


@click.command("runtime")
@pair_options()
@json_option("runtime")
@rig_argument()
def command(as_json: bool, **asked: Any) -> int:
    """Tell how many hours a power bank feeds RIG, what takes the energy, and what one change would bring.

    The power bank says what it holds in its kit, or on the label that --source takes. Exit code 1 where the rig does
    not do its job on it.

    \b
    pdcheck runtime field-sensor.toml --source "74Wh; 5V 3A, 20V 3A"
    """
    return answer(pdcheck.runtime(**asked), as_json)
