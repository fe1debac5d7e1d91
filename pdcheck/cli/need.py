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
    from pdcheck.parts.tomlfile import load_rig
    from pdcheck.show import needed
    from pdcheck.verdict.need.around import all_needs

    built = load_rig(rig)
    needs = all_needs(built)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(needed.document(built, needs))
    else:
        click.echo(needed.text(built, needs))
    return 1 if needs.least is None else 0
