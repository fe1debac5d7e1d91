"""Rules on wires, loads, LED strings and the capacitance on the bus."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.trade import CELL_END, CELL_END_MOST, LEAD_DROP_SHARE, RESISTOR_WASTE_SHARE, WIRE_DROP_SHARE
from pdcheck.facts.voltage import BULK_AT_ATTACH, BULK_IN_CONTRACT, SLEW_RISING, charging_current_a
from pdcheck.parts.loads.led import Led, LedLoad
from pdcheck.parts.loads.pack import PackLoad
from pdcheck.parts.rig import Branch
from pdcheck.parts.wire import GUESSED_WIRE
from pdcheck.physics.number import Condition, Number, any_of
from pdcheck.quantities import format_quantity, over, under
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, rig_rule

LED_SUM = Origin("n x Vf plus headroom", "common practice")


@rig_rule("note", COMMON_PRACTICE, "Read its gauge off the jacket and put a ruler to it.", scope="supply")
def wire_guessed(case: Case, find: Find) -> Iterator[Finding]:
    """A wire of which nothing is known."""
    for branch in case.branches():
        for wire, what in ((branch.wire, "wire"), (branch.lead, "lead")):
            if wire is not None and wire.guess:
                yield find(f"{branch.name} {what}", f"not known: {GUESSED_WIRE} assumed")


_ENDS = (("bus", "in", "wire", WIRE_DROP_SHARE), ("out", "load", "lead", LEAD_DROP_SHARE))


def _drops(case: Case) -> Iterator[tuple[Branch, str, float, Number, Number, Condition]]:
    """Of each wire and lead its share, the greatest drop, the voltage it starts with [V], and whether that is much."""
    for branch in case.branches():
        for start, end, what, share in _ENDS:
            first = start if start == "bus" else f"{branch.name}/{start}"
            drop, whole = case.greatest_drop(first, f"{branch.name}/{end}")
            yield branch, what, share.value, drop, whole, (whole > 0) & over(drop, share.value * whole)


@rig_rule(
    "warn",
    WIRE_DROP_SHARE.origin,
    "Use a thicker or shorter wire, or better contacts.",
    title=f"A wire that drops more than {format_quantity(WIRE_DROP_SHARE.value, '%')} of the voltage",
    may=lambda case: any_of(much for *_, much in _drops(case)),
)
def wire_drop(case: Case, find: Find) -> Iterator[Finding]:
    """Drop in each wire and lead in the worst case against a share of what it starts with."""
    for branch, what, share, drop, whole, much in _drops(case):
        if much:
            text = f"drops {format_quantity(drop, 'V', 3)} of {whole:.3g} V in the worst case"
            yield find(f"{branch.name} {what}", text, drop, share * whole, "V")


def _strings(case: Case) -> Iterator[tuple[Branch, Led]]:
    for branch in case.branches():
        if isinstance(branch.load, LedLoad):
            yield branch, branch.load.led


@rig_rule("note", LED_SUM, "Normal: it lights when the contract comes.", scope="supply")
def led_before_contract(case: Case, find: Find) -> Iterator[Finding]:
    """An LED string that is dark before the contract."""
    for branch, led in _strings(case):
        needed = led.needs_v
        if branch.converter is None and case.contract.kind != "type-c" and under(case.before_v.max, needed):
            text = f"dark on the {case.before_v.typ:g} V before the contract: it needs {needed:.3g} V"
            yield find(branch.name, text, case.before_v.max, needed, "V")


@rig_rule(
    "note",
    RESISTOR_WASTE_SHARE.origin,
    "A driver, or more LEDs in series, wastes less; the resistor gets hot.",
    title=f"More than {format_quantity(RESISTOR_WASTE_SHARE.value, '%')} of an LED string's power lost in its resistor",
    may=lambda case: any(_strings(case)),
)
def led_waste(case: Case, find: Find) -> Iterator[Finding]:
    """Part of a string's power that burns in its resistor."""
    for branch, led in _strings(case):
        voltage = case.node_voltage(f"{branch.name}/load")
        if led.driver != "resistor" or voltage is None or voltage.typ <= led.string_v:
            continue
        share = (voltage.typ - led.string_v) / voltage.typ
        if over(share, RESISTOR_WASTE_SHARE.value):
            text = f"its resistor turns {format_quantity(share, '%', 2)} of the power into heat"
            yield find(branch.name, text, share, RESISTOR_WASTE_SHARE.value, "1")


@rig_rule("note", COMMON_PRACTICE, "Read the cautions on charging a pack before you join one.", scope="supply")
def lithium_pack(case: Case, find: Find) -> Iterator[Finding]:
    """A lithium pack that is charged.

    A load that asks for cautions of its own; said of every rig that has one, powered or not.
    """
    for branch in case.rig.branches:
        if branch.load.cautions:
            yield find(branch.name, branch.load.cautions[0].text)


@rig_rule(
    "stop",
    CELL_END_MOST.origin,
    "Do not connect it: set the charger to the end voltage on the cell's sheet.",
    title=f"Cells that are charged to more than {format_quantity(CELL_END_MOST.value, 'V')}",
    scope="supply",
)
def pack_end(case: Case, find: Find) -> Iterator[Finding]:
    """End voltage of one cell: what no cell takes, and what only cells made for it do."""
    for branch in case.rig.branches:
        if not isinstance(branch.load, PackLoad):
            continue
        end_v, usual = branch.load.pack.end_v, CELL_END.value
        told, volts = (
            f"charges each cell to {format_quantity(end_v, 'V', 3, beside=usual)}",
            format_quantity(usual, "V"),
        )
        if over(end_v, CELL_END_MOST.value):
            most = format_quantity(CELL_END_MOST.value, "V")
            yield find(
                branch.name, f"{told}, and no lithium-ion cell takes more than {most}", end_v, CELL_END_MOST.value, "V"
            )
        elif over(end_v, usual):
            advice = f"Make sure that the cell's sheet says so; a common cell takes {volts}."
            yield find(
                branch.name, f"{told}; a common cell takes {volts}", end_v, usual, "V", level="warn", advice=advice
            )


def bulk_f(case: Case) -> float:
    """All stated capacitance that hangs on the bus [F]: the trigger's and every converter's."""
    parts = [case.rig.trigger.bulk_f, *(branch.converter.bulk_f for branch in case.branches() if branch.converter)]
    return sum(part for part in parts if part is not None)


@rig_rule(
    "note",
    BULK_AT_ATTACH.origin,
    "Most chargers cope; where one clicks off at plugging in, put a switch or a surge limiter before the capacitors.",
    title=f"More than {format_quantity(BULK_AT_ATTACH.require_max(), 'F')} on VBUS at attach",
    scope="supply",
)
def bulk_attach(case: Case, find: Find) -> Iterator[Finding]:
    """Without an output switch on the trigger all capacitance is there from the start."""
    total, limit = bulk_f(case), BULK_AT_ATTACH.require_max()
    if over(total, limit):
        size = format_quantity(total, "F", 3)
        text = (
            f"{size} on the bus from the first moment; at attach there should be {format_quantity(limit, 'F')} at most"
        )
        yield find("bus", text, total, limit, "F")


@rig_rule(
    "warn",
    BULK_IN_CONTRACT.origin,
    "Put a surge limiter before the capacitors: the step to a higher voltage draws C x dV/dt on top of the load.",
    title=f"More than {format_quantity(BULK_IN_CONTRACT.require_max(), 'F')} on VBUS in a contract",
    scope="supply",
)
def bulk_contract(case: Case, find: Find) -> Iterator[Finding]:
    """cSnkBulkPd, and what charging it draws at the greatest slope of the standard."""
    total, limit = bulk_f(case), BULK_IN_CONTRACT.require_max()
    if case.steps_up and over(total, limit):
        draw, slope = charging_current_a(total), SLEW_RISING.value / 1000
        size = format_quantity(total, "F", 3)
        text = f"{size} on the bus draws {draw:.3g} A more while the voltage rises at {slope:g} mV/µs"
        yield find("bus", text, total, limit, "F")


@rig_rule("note", COMMON_PRACTICE, "Read it off the board: the large cans at the converter's input.", scope="supply")
def bulk_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """Capacitance that is not known."""
    for branch in case.branches():
        if branch.converter is not None and branch.converter.bulk_f is None:
            yield find(branch.name, "its input capacitance is not stated: inrush is not judged")
