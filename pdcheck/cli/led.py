"""``pdcheck led``: Tell resistor or headroom of an LED string, and the waste, on each voltage.

Meant by: leds resistor strip lamp light.

Say for each voltage whether the string lights, with which resistor or how much headroom, and what is wasted.

Exit code 1 where it lights on none of them.

\b
pdcheck led --count 3 --vf 3.4V --current 250mA --on 9V,12V,20V
pdcheck led --count 3 --vf 3.4V --current 250mA --on 9V,12V --driver --headroom 1V
"""

from typing import Any

import click

from pdcheck.cli.questions import question


def _fits(said: dict[str, Any]) -> None:
    if (said["current"] is None) == (said["ohm"] is None):
        raise click.UsageError("--current or --ohm is needed, one of them")
    if said["ohm"] is not None and said["way"] == "driver":
        raise click.UsageError("--ohm is for a series resistor, not for --driver")


command = question(
    __name__,
    click.option("--count", required=True, type=click.IntRange(1, 1000), metavar="N", help="LEDs in series."),
    click.option("--vf", required=True, metavar="V", help="Forward voltage of one, as in 3.4V."),
    click.option("--current", metavar="A", help="Current of the string, as in 250mA."),
    click.option("--on", default="5V,9V,12V,15V,20V", metavar="LIST", help="Supply voltages: 9V,12V or 5V..20V."),
    click.option("--resistor", "way", flag_value="resistor", default=True, help="A series resistor (the default)."),
    click.option("--driver", "way", flag_value="driver", help="A step-down driver."),
    click.option("--ohm", metavar="OHM", help="This series resistor is there, as in 39ohm: what current flows."),
    click.option("--headroom", default="0V", metavar="V", help="What the driver needs above the string, as in 1V."),
    click.option("--efficiency", default="100%", metavar="RATIO", help="Of the driver, as in 88%."),
    fits=_fits,
)
