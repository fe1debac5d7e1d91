"""``pdcheck need``: Tell the least source, cable and wires to buy for a rig.

Meant by: buy shop shopping purchase order least cheapest recommend.
"""

from __future__ import annotations

from typing import Any

import click

import pdcheck
from pdcheck.cli.answering import answer
from pdcheck.cli.options import json_option
from pdcheck.cli.rig_options import rig_argument


@click.command("need")
@json_option("need")
@rig_argument()
def command(as_json: bool, **asked: Any) -> int:
    """Tell the smallest charger and the plainest cable that RIG, a TOML file, works with; its thinnest wires; what
    other trigger settings and fall-backs would need; and which single change would let you buy less.

    Exit code 1 where no standard charger works.

    \b
    pdcheck need pier-box.toml
    """
    return answer(pdcheck.need(**asked), as_json)
