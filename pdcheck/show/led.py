"""What ``led`` says, as people read it: a line for each voltage."""

from __future__ import annotations

from pdcheck.circuit.led import LedOnVoltage
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.columns import paragraph
from pdcheck.verdict.led import LedResult


@shows(LedResult)
def text(result: LedResult) -> str:
    head = paragraph(f"{result.count} x {result.vf_v:g} V = {result.string_v:.4g} V, by a {result.way}", hang=2)
    formula = paragraph(f"[{result.formula}]", indent=2, hang=1)
    return "\n".join([head, formula, *(paragraph(line(row), indent=2, hang=4) for row in result.on)])


def line(row: LedOnVoltage) -> str:
    """A string on one voltage, in one line.

    >>> from pdcheck.circuit.led import with_resistor
    >>> line(with_resistor(3, 3.4, 0.25, [20.0])[0])
    '20 V: 39.2 Ω at 250 mA, which turns 2.45 W into heat; 5 W in all, 49 % of it wasted'
    >>> from pdcheck.circuit.led import on_driver
    >>> line(on_driver(3, 3.4, 0.25, [12.0])[0])
    '12 V: lights at 250 mA with 1.8 V to spare; 2.55 W and what the driver itself takes (--efficiency)'
    """
    volts = format_quantity(row.supply_v, "V")
    over_v = format_quantity(abs(row.over_v), "V", 3)
    if not row.lights:
        return f"{volts}: stays dark, {over_v} short" if row.over_v else f"{volts}: stays dark, nothing to spare"
    total = f"{format_quantity(row.supply_w, 'W', 3)} in all, {row.waste_share:.0%} of it wasted".replace("%", " %")
    current = format_quantity(row.current_a, "A", 3)
    if row.resistor_ohm is not None:
        size, burnt = format_quantity(row.resistor_ohm, "ohm", 3), format_quantity(row.waste_w, "W", 3)
        return f"{volts}: {size} at {current}, which turns {burnt} into heat; {total}"
    if not row.waste_share:
        total = f"{format_quantity(row.supply_w, 'W', 3)} and what the driver itself takes (--efficiency)"
    return f"{volts}: lights at {current} with {over_v} to spare; {total}"
