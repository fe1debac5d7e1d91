"""What ``wire``, ``led`` and ``drop`` show: one question, its answer in one line each, and where the sum is from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.circuit.drop import drop
from pdcheck.circuit.led import LedOnVoltage
from pdcheck.circuit.wire import LeastWire, WireCost
from pdcheck.facts.cable import IR_DROP, MARKED_CURRENT, UNMARKED_CURRENT, loop_limit_ohm
from pdcheck.facts.copper import ANNEALED, FLEXIBLE, GAUGE, STILL_AIR
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, format_quantity, over
from pdcheck.show.check import triple_json

WIRE_SCHEMA, LED_SCHEMA, DROP_SCHEMA = "pdcheck/wire/1", "pdcheck/led/1", "pdcheck/drop/1"
LED_FORMULAS = {
    "resistor": f"R = (V - n x Vf) / I; Ohm's law; Vf from your LED's sheet [{COMMON_PRACTICE}]",
    "driver": f"V >= n x Vf + headroom, for a step-down driver [{COMMON_PRACTICE}]",
}
DROP_FORMULA = "R = (V source - V sink) / I, Ohm's law"


def wire_origin(wire: Wire) -> str:
    """The formula of a wire's resistance with its source."""
    source = f"{GAUGE.text} and {ANNEALED}" if wire.awg is not None else str(FLEXIBLE)
    return f"R = 2 x length x R' + contacts; {source}"


def wire_name(wire: Wire) -> str:
    """A wire's size.

    >>> wire_name(Wire(awg=20, length_m=1)), wire_name(Wire(mm2=0.75, length_m=1))
    ('AWG 20', '0.75 mm²')
    """
    return f"AWG {wire.awg}" if wire.awg is not None else f"{wire.mm2:g} mm²"


def cost_json(cost: WireCost) -> dict[str, Any]:
    """A wire at a current."""
    return {
        "awg": cost.wire.awg,
        "mm2": cost.wire.mm2,
        "resistance_ohm": cost.resistance_ohm,
        "drop_v": cost.drop_v,
        "loss_w": cost.loss_w,
        "stays_cool_a": cost.ampacity_a,
        "origin": wire_origin(cost.wire),
        "stays_cool_origin": str(STILL_AIR),
    }


def least_json(least: LeastWire | None) -> dict[str, Any] | None:
    """The thinnest wire, or null."""
    return None if least is None else cost_json(least.cost) | {"decided_by": least.decided_by}


def cost_line(cost: WireCost, current_a: float, limit_v: float | None) -> str:
    """What a wire costs, in one line."""
    return f"{_cost_words(cost, current_a, limit_v)} [{_origins(cost.wire)}]"


def _cost_words(cost: WireCost, current_a: float, limit_v: float | None) -> str:
    drops = format_quantity(cost.drop_v, "V", 3, beside=limit_v)
    limit = "" if limit_v is None else f" of {format_quantity(limit_v, 'V', 3, beside=cost.drop_v)}"
    cool = format_quantity(cost.ampacity_a, "A", 3, beside=current_a)
    verb = "too warm at more than" if over(current_a, cost.ampacity_a) else "stays cool up to"
    return (
        f"{wire_name(cost.wire)}: {format_quantity(cost.resistance_ohm, 'ohm', 3)} drops {drops}{limit} and burns "
        f"{format_quantity(cost.loss_w, 'W', 3)} at {format_quantity(current_a, 'A')}; {verb} {cool}"
    )


def _origins(wire: Wire) -> str:
    return f"{wire_origin(wire)}; {STILL_AIR}"


def least_line(least: LeastWire | None, kind: str, current_a: float, limit_v: float) -> str:
    """The thinnest wire that does, in one line; or that none does."""
    if least is None:
        return f"no {kind} that is known here keeps within {format_quantity(limit_v, 'V', 3)} and stays cool"
    why = "the next thinner gets too warm" if least.decided_by == "warmth" else "the next thinner drops more"
    return f"at least {_cost_words(least.cost, current_a, limit_v)}; {why} [{_origins(least.cost.wire)}]"


def led_json(row: LedOnVoltage) -> dict[str, Any]:
    """A string on one voltage."""
    return row._asdict()


def led_line(row: LedOnVoltage, way: str) -> str:
    """A string on one voltage, in one line.

    >>> from pdcheck.circuit.led import with_resistor
    >>> led_line(with_resistor(3, 3.4, 0.25, [20.0])[0], "resistor")
    '20 V: 39.2 Ω at 250 mA, which burns 2.45 W; 5 W in all, 49 % of it wasted'
    >>> from pdcheck.circuit.led import on_driver
    >>> led_line(on_driver(3, 3.4, 0.25, [12.0])[0], "driver")
    '12 V: lights at 250 mA with 1.8 V over; 2.55 W and what the driver itself takes (--efficiency)'
    """
    volts = format_quantity(row.supply_v, "V")
    over_v = format_quantity(abs(row.over_v), "V", 3)
    if not row.lights:
        return f"{volts}: stays dark, {over_v} short" if row.over_v else f"{volts}: stays dark, nothing left over"
    total = f"{format_quantity(row.supply_w, 'W', 3)} in all, {row.waste:.0%} of it wasted".replace("%", " %")
    current = format_quantity(row.current_a, "A", 3)
    if row.resistor_ohm is not None:
        size, burnt = format_quantity(row.resistor_ohm, "ohm", 3), format_quantity(row.waste_w, "W", 3)
        return f"{volts}: {size} at {current}, which burns {burnt}; {total}"
    if not row.waste:
        total = f"{format_quantity(row.supply_w, 'W', 3)} and what the driver itself takes (--efficiency)"
    return f"{volts}: lights at {current} with {over_v} over; {total}"


def drop_document(
    loop: Triple, source_v: float, sink_v: float, at_a: float, currents: Sequence[float]
) -> dict[str, Any]:
    """The JSON document of ``drop``."""
    return {
        "schema": DROP_SCHEMA,
        "source_v": source_v,
        "sink_v": sink_v,
        "current_a": at_a,
        "drop_v": source_v - sink_v,
        "loop_ohm": triple_json(loop),
        "formula": DROP_FORMULA,
        "limits": [
            {
                "rated_a": rated.value,
                "limit_ohm": loop_limit_ohm(rated.value),
                "within": not over(loop.max, loop_limit_ohm(rated.value)),
                "origin": str(IR_DROP),
            }
            for rated in (UNMARKED_CURRENT, MARKED_CURRENT)
        ],
        "costs": [{"current_a": amps} | drop(loop.typ, amps)._asdict() for amps in currents],
    }


def drop_lines(loop: Triple, currents: Sequence[float]) -> list[str]:
    """The loop with the standard's limits, then what it costs at each current, one line each."""
    judged = []
    for rated in (UNMARKED_CURRENT.value, MARKED_CURRENT.value):
        limit = loop_limit_ohm(rated)
        side = "above" if over(loop.max, limit) else "within"
        judged.append(f"{side} the {format_quantity(limit, 'ohm', beside=loop.max)} of a {rated:g} A cable")
    size = format_quantity(loop.typ, "ohm", 3)
    if loop.max > loop.min:
        size += f" ({format_quantity(loop.min, 'ohm', 3)} to {format_quantity(loop.max, 'ohm', 3)})"
    lines = [f"{size} around the loop: {', '.join(judged)} [{DROP_FORMULA}; {IR_DROP}]"]
    for amps in currents:
        cost = drop(loop.typ, amps)
        burnt = format_quantity(cost.loss_w, "W", 3)
        lines.append(f"  {format_quantity(amps, 'A')}: drops {format_quantity(cost.drop_v, 'V', 3)}, burns {burnt}")
    return lines
