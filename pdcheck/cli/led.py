"""``pdcheck led``: the resistor or the driver's headroom of an LED string, and the waste, on each voltage."""

from __future__ import annotations

import click

from pdcheck.cli.option_types import Voltages, quantity_option


@click.command("led", short_help="Resistor or headroom of an LED string, and the waste.")
@click.option("--count", required=True, type=click.IntRange(1, 1000), metavar="N", help="LEDs in series.")
@quantity_option("--vf", "V", required=True, help="Forward voltage of one, as in 3.4V.")
@quantity_option("--current", "A", help="Current of the string, as in 250mA.")
@click.option(
    "--on", type=Voltages(), default="5V,9V,12V,15V,20V", metavar="LIST", help="Supply voltages: 9V,12V or 5V..20V."
)
@click.option("--resistor", "way", flag_value="resistor", default=True, help="A series resistor (the default).")
@click.option("--driver", "way", flag_value="driver", help="A step-down driver.")
@quantity_option("--ohm", "ohm", help="This series resistor is there: what current flows.")
@quantity_option("--headroom", "V", zero=True, default="0V", help="What the driver needs above the string.")
@quantity_option("--efficiency", "%", default="100%", help="Of the driver.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON document pdcheck/led/1.")
def command(
    count: int,
    vf: float,
    current: float | None,
    on: tuple[float, ...],
    way: str,
    ohm: float | None,
    headroom: float,
    efficiency: float,
    as_json: bool,
) -> int:
    """Say for each voltage whether the string lights, with which resistor or how much headroom, and what is wasted.

    Exit code 1 where it lights on none of them.

    \b
    pdcheck led --count 3 --vf 3.4V --current 250mA --on 9V,12V,20V
    pdcheck led --count 3 --vf 3.4V --current 250mA --on 9V,12V --driver --headroom 1V
    """
    from pdcheck.circuit.led import on_driver, on_resistor, with_resistor
    from pdcheck.show import sums

    if (current is None) == (ohm is None):
        raise click.UsageError("--current or --ohm is needed, one of them")
    if ohm is not None and way == "driver":
        raise click.UsageError("--ohm is for a series resistor, not for --driver")
    if ohm is not None:
        rows = on_resistor(count, vf, ohm, on)
    elif way == "driver":
        rows = on_driver(count, vf, current or 0.0, on, headroom_v=headroom, efficiency=efficiency)
    else:
        rows = with_resistor(count, vf, current or 0.0, on)
    if as_json:
        from pdcheck.show.emit import emit_json

        document = {"schema": sums.LED_SCHEMA, "count": count, "vf_v": vf, "string_v": round(count * vf, 12)}
        found = {"way": way, "formula": sums.LED_FORMULAS[way], "on": [sums.led_json(row) for row in rows]}
        emit_json(document | found)
    else:
        click.echo(f"{count} x {vf:g} V = {count * vf:.4g} V, by a {way} [{sums.LED_FORMULAS[way]}]")
        for row in rows:
            click.echo(f"  {sums.led_line(row, way)}")
    return 0 if any(row.lights for row in rows) else 1
