"""What ``wire`` says, as people read it: a line for each wire, with where the sum is from."""

from __future__ import annotations

from pdcheck.circuit.wire import LeastWire, WireCost
from pdcheck.quantities import format_quantity, over
from pdcheck.result import shows
from pdcheck.show.columns import paragraph
from pdcheck.verdict.wire import OneWire, WireResult, size


@shows(WireResult)
def text(result: WireResult) -> str:
    amps, limit_v, found = result.current_a, result.limit_v, result.found
    if isinstance(found, OneWire):
        return _with_origins(_cost(found.wire, amps, limit_v), found.wire)
    lines = [
        _least(found.least_awg, "gauge", amps, limit_v or 0.0),
        _least(found.least_mm2, "cross-section", amps, limit_v or 0.0),
    ]
    if found.least_copper_mm2 is None:
        lines.append(paragraph(f"The contacts alone drop {format_quantity(found.contacts_v, 'V', 3)}.", hang=2))
    return "\n".join(lines)


def _cost(cost: WireCost, current_a: float, limit_v: float | None) -> str:
    drops = format_quantity(cost.drop_v, "V", 3, beside=limit_v)
    limit = "" if limit_v is None else f" ({format_quantity(limit_v, 'V', 3, beside=cost.drop_v)} allowed)"
    cool = format_quantity(cost.ampacity_a, "A", 3, beside=current_a)
    verb = "too warm at more than" if over(current_a, cost.ampacity_a) else "stays cool up to"
    resistance, lost = format_quantity(cost.resistance_ohm, "ohm", 3), format_quantity(cost.loss_w, "W", 3)
    return (
        f"{size(cost.wire)}: {resistance}, drops {drops} at {format_quantity(current_a, 'A')}{limit}, "
        f"{lost} lost as heat; {verb} {cool}"
    )


def _with_origins(said: str, cost: WireCost) -> str:
    return f"{paragraph(said, hang=2)}\n{paragraph(f'[{cost.origin}; {cost.stays_cool_origin}]', indent=2, hang=1)}"


def _least(least: LeastWire | None, kind: str, current_a: float, limit_v: float) -> str:
    if least is None:
        allowed = format_quantity(limit_v, "V", 3)
        return paragraph(f"No {kind} in the tables drops at most {allowed} and stays cool.", hang=2)
    why = "the next thinner gets too warm" if least.decided_by == "warmth" else "the next thinner drops more"
    return _with_origins(f"at least {_cost(least.cost, current_a, limit_v)}; {why}", least.cost)
