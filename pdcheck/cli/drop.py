"""``pdcheck drop``: the loop resistance from two voltmeter readings, and what it costs."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import Quantities, quantity_option


@click.command("drop", short_help="Loop resistance from two readings, and what it costs.")
@quantity_option("--source", "V", required=True, help="Voltage read at the source.")
@quantity_option("--sink", "V", zero=True, required=True, help="Voltage read at the far end, at the same time.")
@quantity_option("--at", "A", required=True, help="The current that flowed.")
@quantity_option("--error", "V", zero=True, default="0V", help="How far off each reading may be, as in 5mV.")
@click.option(
    "--also", type=Quantities("A"), default="1A,2A,3A,5A", metavar="LIST", help="Currents to tell the cost at."
)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/drop/1.")
def command(source: float, sink: float, at: float, error: float, also: tuple[float, ...], as_json: bool) -> int:
    """Both readings with the current flowing, at the two ends of the same cable or wire.

    Exit code 1 where the loop is above what any cable may have, 250 mOhm.

    \b
    pdcheck drop --source 5.12V --sink 4.80V --at 2A
    """
    from pdcheck.circuit.drop import loop_resistance_from_readings
    from pdcheck.facts.cable import UNMARKED_CURRENT, loop_limit_ohm
    from pdcheck.quantities import Triple
    from pdcheck.show import sums
    from pdcheck.verdict.finding import over

    typical = loop_resistance_from_readings(source, sink, at)
    off = 2 * error / at
    loop = Triple(max(typical - off, 0.0), typical, typical + off)
    if as_json:
        from pdcheck.show.emit import emit_json

        emit_json(sums.drop_document(loop, source, sink, at, also))
    else:
        click.echo("\n".join(sums.drop_lines(loop, also)))
    return int(over(loop.max, loop_limit_ohm(UNMARKED_CURRENT.value)))
