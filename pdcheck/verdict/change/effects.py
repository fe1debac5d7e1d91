"""What a change does beside stopping branches: inrush into the capacitance, hold-up, loads straight on the bus."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import BULK_AT_ATTACH, BULK_IN_CONTRACT, SLEW_RISING, STANDBY_CURRENT
from pdcheck.parts.limits import Level
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.load import MAKER
from pdcheck.parts.rig import Branch
from pdcheck.quantities import format_quantity, over, under
from pdcheck.verdict.case import Case, kept_v
from pdcheck.verdict.change.bus_path import BusPath
from pdcheck.verdict.finding import Find, Finding
from pdcheck.verdict.rules.load import bulk_f

EFFECTS = ("bulk-attach", "bulk-contract", "load-voltage-high", "load-voltage-low")
"""The rules that these findings are of."""


def hold_up_s(case: Case, branch: Branch) -> float | None:
    """How long the stated capacitance carries all loads once VBUS is gone, until a branch stops [s], as stated.

    All of it is taken to sit on the bus and to feed every load at the power that it takes now. ``None`` where no
    capacitance is stated, or the branch just fades with the bus. Source: C (V1^2 - V2^2) / 2 = P t.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> box = {"kind": "buck", "output": "5V", "input": "6V-30V", "bulk": "470uF", "efficiency": 1.0}
    >>> rig = Rig(trigger={"request": "20V"}, branch=[{"name": "box", "load": "10W", "converter": box}])
    >>> case = Case(rig, Source(id="s", offers="5V 3A, 20V 3A"), Cable(id="c", kind="C-C", loop="0ohm"))
    >>> round(hold_up_s(case, rig.branches[0]), 6)
    0.008554
    """
    capacitance, bus = bulk_f(case), case.node_voltage("bus")
    drawn = case.node_current("bus")
    least = kept_v(branch)
    if not capacitance or bus is None or drawn is None or least <= 0.0:
        return None
    power_w = bus.typ * drawn.typ
    energy_j = capacitance * (bus.typ * bus.typ - least * least) / 2
    return max(energy_j, 0.0) / power_w if power_w > 0.0 else None


def inrush_findings(path: BusPath, after: Case) -> Iterator[Finding]:
    """Charging the stated capacitance: at attach or after a reset from 0 V, then from 5 V to the contract.

    Source: Q = C V, I = C dV/dt [any circuits textbook].
    """
    total = bulk_f(after)
    rising = path.interrupted and after.contract.outcome != "off"
    if not rising or not total:
        return
    five = after.before_v
    loop = after.series_ohm
    most = BULK_AT_ATTACH.require_max()
    size = format_quantity(total, "F", 3)
    if over(total, most):
        surge = f", up to {five.max / loop:.3g} A for a moment through {loop * 1000:.3g} mΩ" if loop > 0.0 else ""
        text = (
            f"from 0 V to {five.typ:g} V it charges {size} ({total * five.max * 1000:.3g} mC){surge}; "
            f"at attach there should be no more than {format_quantity(most, 'F')}"
        )
        advice = "Where a source clicks off at this, put a switch or a surge limiter before the capacitors."
        yield Finding("bulk-attach", "note", "bus", total, most, "F", BULK_AT_ATTACH.origin, text, advice)
    if not after.steps_up:
        return
    granted, limit = after.contract.current_a, BULK_IN_CONTRACT.require_max()
    standby = STANDBY_CURRENT.value
    slow_s = total * (after.source_v.max - five.min) / standby
    text = (
        f"from {five.typ:g} V to {after.contract.voltage_v:g} V at {SLEW_RISING.value / 1e3:g} mV/µs {size} draws "
        f"{total * SLEW_RISING.value:.3g} A on top of the loads, of the charger's {granted:g} A; with {standby:g} A "
        f"alone it would take {format_quantity(slow_s, 's', 3)}"
    )
    advice = "Put a surge limiter before the capacitors, or switch the loads on afterwards."
    level: Level = "warn" if over(total, limit) else "note"
    yield Finding("bulk-contract", level, "bus", total, limit, "F", BULK_IN_CONTRACT.origin, text, advice)


def accessory_findings(path: BusPath, before: Case, after: Case) -> Iterator[Finding]:
    """Loads straight on the bus: what they see on the way against the range of voltages that they take."""
    lowest = path.lowest_v
    highest = max(before.idle_high(), after.idle_high(), before.before_v.max if path.interrupted else 0.0)
    for branch in before.rig.branches:
        if branch.converter is not None or isinstance(branch.load, LedLoad):
            continue
        span = branch.load.voltage_v
        low = Find("load-voltage-low", "note", MAKER, "State its voltage range.")
        seen = f"gets {lowest:.4g} to {highest:.4g} V on the way"
        if span is None:
            text = f"hangs straight on the bus and {seen}; what voltages it takes is not stated: not judged"
            yield low(branch.name, text, unit="V")
            continue
        if over(highest, span[1]):
            text = f"{seen}, and is rated for {span[1]:g} V"
            advice = "Do not connect it: put a converter before it."
            yield Finding("load-voltage-high", "stop", branch.name, highest, span[1], "V", MAKER, text, advice)
        passing = path.five_s is not None and under(before.before_v.max, span[0])
        if passing and path.five_s is not None and path.five_s[1] is not None:
            lasts = format_quantity(path.five_s[1], "s", 3)
            text = f"is at {before.before_v.typ:g} V for up to {lasts} in between, and needs {span[0]:g} V"
            advice = "Check that it simply waits there: some things draw more, or start wrongly, on too little."
            yield low(branch.name, text, before.before_v.max, span[0], "V", advice=advice)
        elif not path.interrupted and under(lowest, span[0]) and not under(after.source_v.min, span[0]):
            lasts = format_quantity(timer("tSrcTransient").require_max(), "s")
            text = f"{seen}, for up to {lasts} less than the {span[0]:g} V that it needs"
            yield low(branch.name, text, lowest, span[0], "V", advice="")
