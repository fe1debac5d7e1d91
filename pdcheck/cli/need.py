"""``pdcheck need``: the least source and cable that a rig works on."""

from __future__ import annotations

import click


@click.command("need", short_help="Tell what to buy for a rig.")
@click.argument("rig", metavar="RIG")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/need/1.")
def command(rig: str, as_json: bool) -> int:
    """Tell the lowest power, the voltages and the least cable that RIG, a TOML file, works on; its thinnest wires; what
    other trigger settings and fall-back rules would ask for; and which single change would lower the need.

    Exit code 1 where no source by the power rules will do.

    \b
    pdcheck need pier-box.toml
    """
    from pdcheck.asking.need import need
    from pdcheck.cli.answering import answer

    return answer(need(rig), as_json)
