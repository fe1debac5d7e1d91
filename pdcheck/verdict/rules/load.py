"""Rules on wires, loads, LED strings and the capacitance on the bus."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.facts.capacitance import BULK_AT_ATTACH, BULK_IN_CONTRACT, charging_current_a
from pdcheck.facts.copper import STILL_AIR
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.trade import LEAD_DROP_SHARE, LED_OVERDRIVE_SHARE, RESISTOR_WASTE_SHARE, WIRE_DROP_SHARE
from pdcheck.parts.loads.led import Led, LedLoad
from pdcheck.parts.rig import Branch
from pdcheck.quantities import format_quantity
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, over, rule, under

LED_SUM = Origin("n x Vf plus headroom", "common practice")
MAKER = Origin("the load's own figures, from the rig file", "rig")


@rule(
    "wire-current",
    "fail",
    "No wire carries more than it stays cool with",
    STILL_AIR,
    "Use a thicker wire, and fuse the branch for the wire, not for the source.",
)
def wire_current(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case current of each wire and lead against its ampacity."""
    for branch in case.branches():
        for wire, node, what in ((branch.wire, "in", "wire"), (branch.lead, "load", "lead")):
            if wire is None:
                continue
            worst, most = case.worst_current(f"{branch.name}/{node}"), wire.ampacity_a()
            if over(worst, most):
                text = f"the {what} carries {worst:.4g} A at worst and stays cool up to {most:.3g} A"
                yield find(f"{branch.name} {what}", text, worst, most, "A")


@rule(
    "wire-drop",
    "warn",
    "No wire eats more than 5 % of the voltage",
    WIRE_DROP_SHARE.origin,
    "Use a thicker or shorter wire, or better contacts.",
)
def wire_drop(case: Case, find: Find) -> Iterator[Finding]:
    """Drop in each wire and lead at the worst corner against 5 % of what it starts with."""
    for branch in case.branches():
        pairs = (("bus", "in", "wire", WIRE_DROP_SHARE), ("out", "load", "lead", LEAD_DROP_SHARE))
        for start, end, what, share in pairs:
            first = start if start == "bus" else f"{branch.name}/{start}"
            drop, whole = case.greatest_drop(first, f"{branch.name}/{end}")
            if whole > 0 and over(drop, share.value * whole):
                text = f"the {what} drops {format_quantity(drop, 'V', 3)} of {whole:.4g} V at worst"
                yield find(f"{branch.name} {what}", text, drop, share.value * whole, "V")


def _strings(case: Case) -> Iterator[tuple[Branch, Led]]:
    for branch in case.branches():
        if isinstance(branch.load, LedLoad):
            yield branch, branch.load.led


@rule(
    "led-headroom",
    "fail",
    "Every LED string has its forward voltage, and its driver's headroom, at the worst corner",
    LED_SUM,
    "Fewer LEDs in series, a higher voltage, or a boost driver.",
)
def led_headroom(case: Case, find: Find) -> Iterator[Finding]:
    """Voltage at the string against n x Vf plus headroom."""
    for branch, led in _strings(case):
        needed = led.string_v + led.headroom_v
        voltage = case.node_voltage(f"{branch.name}/load")
        if branch.name in case.off and branch.converter is None:
            high = case.source_v.max
            text = f"{led.count} LEDs need {needed:.4g} V and the bus is never above {high:.4g} V: they stay dark"
            yield find(branch.name, text, high, needed, "V")
        elif branch.name not in case.off and voltage is not None and under(voltage.min, needed):
            text = f"{led.count} LEDs need {needed:.4g} V and get {voltage.min:.4g} V at worst: they stay dark or dim"
            yield find(branch.name, text, voltage.min, needed, "V")


@rule(
    "led-before-contract",
    "note",
    "What each LED string does on the 5 V before the contract is known",
    LED_SUM,
    "Nothing to do; it lights with the contract.",
    scope="supply",
)
def led_before_contract(case: Case, find: Find) -> Iterator[Finding]:
    """A string straight on the bus is dark while the bus is at 5 V."""
    for branch, led in _strings(case):
        needed = led.string_v + led.headroom_v
        if branch.converter is None and case.contract.kind != "type-c" and under(case.before_v.max, needed):
            text = f"dark on the 5 V before the contract: it needs {needed:.4g} V"
            yield find(branch.name, text, case.before_v.max, needed, "V")


@rule(
    "led-current",
    "warn",
    "No LED string on a resistor gets much more current than stated",
    LED_OVERDRIVE_SHARE.origin,
    "Choose the resistor for the highest voltage that can occur, or use a driver.",
)
def led_current(case: Case, find: Find) -> Iterator[Finding]:
    """Worst-case current of a resistor string against its stated current."""
    for branch, led in _strings(case):
        worst = case.worst_current(f"{branch.name}/load")
        limit = led.current_a * (1 + LED_OVERDRIVE_SHARE.value)
        if led.driver == "resistor" and over(worst, limit):
            text = f"{worst:.3g} A at worst through LEDs meant for {led.current_a:g} A"
            yield find(branch.name, text, worst, limit, "A")


@rule(
    "led-waste",
    "note",
    "An LED string's resistor burns less than 30 % of the power",
    RESISTOR_WASTE_SHARE.origin,
    "A driver, or more LEDs in series, wastes less; mind the resistor's heat.",
)
def led_waste(case: Case, find: Find) -> Iterator[Finding]:
    """Part of a string's power that burns in its resistor."""
    for branch, led in _strings(case):
        voltage = case.node_voltage(f"{branch.name}/load")
        if led.driver != "resistor" or voltage is None or voltage.typ <= led.string_v:
            continue
        share = (voltage.typ - led.string_v) / voltage.typ
        if over(share, RESISTOR_WASTE_SHARE.value):
            text = f"{share:.0%} of its power burns in the resistor"
            yield find(branch.name, text, share, RESISTOR_WASTE_SHARE.value, "1")


@rule(
    "load-voltage-high",
    "stop",
    "No load on the bus sees more voltage than it stands",
    MAKER,
    "Do not connect it: set a lower voltage, or put a converter before it.",
    scope="supply",
)
def load_voltage_high(case: Case, find: Find) -> Iterator[Finding]:
    """A load without converter against the end of its own range, unloaded and with the source at its highest."""
    high = case.idle_high()
    for branch in case.branches():
        span = branch.load.voltage_v
        reached = high if branch.converter is None else branch.converter.output_v
        if span is not None and over(reached, span[1]):
            yield find(branch.name, f"{reached:.4g} V can stand at a load for {span[1]:g} V", reached, span[1], "V")


@rule(
    "load-voltage-low",
    "fail",
    "Every load gets the voltage that it needs at the worst corner",
    MAKER,
    "Set a higher voltage, or use wires that drop less.",
)
def load_voltage_low(case: Case, find: Find) -> Iterator[Finding]:
    """Voltage at a load's terminals against the start of its own range."""
    for branch in case.branches():
        span, voltage = branch.load.voltage_v, case.node_voltage(f"{branch.name}/load")
        if branch.name in case.off:
            continue
        if span is not None and voltage is not None and under(voltage.min, span[0]):
            text = f"gets {voltage.min:.4g} V at worst and needs {span[0]:g} V"
            yield find(branch.name, text, voltage.min, span[0], "V")


def bulk_f(case: Case) -> float:
    """All stated capacitance that hangs on the bus [F]: the trigger's and every converter's."""
    parts = [case.rig.trigger.bulk_f, *(branch.converter.bulk_f for branch in case.branches() if branch.converter)]
    return sum(part for part in parts if part is not None)


@rule(
    "bulk-attach",
    "note",
    "No more than 10 uF hangs on VBUS at attach",
    BULK_AT_ATTACH.origin,
    "Most sources cope; where one clicks off at plugging in, put a switch or a surge limiter before the capacitors.",
    scope="supply",
)
def bulk_attach(case: Case, find: Find) -> Iterator[Finding]:
    """Without an output switch on the trigger all capacitance is there from the start."""
    total, limit = bulk_f(case), BULK_AT_ATTACH.require_max()
    if over(total, limit):
        text = f"{format_quantity(total, 'F', 3)} on the bus from the first moment; cSnkBulk is at most 10 µF"
        yield find("bus", text, total, limit, "F")


@rule(
    "bulk-contract",
    "warn",
    "No more than 100 uF hangs on VBUS once a contract stands",
    BULK_IN_CONTRACT.origin,
    "Put a surge limiter before the capacitors: the step to a higher voltage draws C x dV/dt on top of the load.",
    scope="supply",
)
def bulk_contract(case: Case, find: Find) -> Iterator[Finding]:
    """cSnkBulkPd, and what charging it draws at 30 mV/us."""
    total, limit = bulk_f(case), BULK_IN_CONTRACT.require_max()
    if over(total, limit):
        draw = charging_current_a(total)
        text = (
            f"{format_quantity(total, 'F', 3)} on the bus draws {draw:.3g} A more while the voltage rises at 30 mV/µs"
        )
        yield find("bus", text, total, limit, "F")


@rule(
    "bulk-unknown",
    "note",
    "The capacitance on the bus is known",
    COMMON_PRACTICE,
    "Read it off the board: the large cans at the converter's input.",
    scope="supply",
)
def bulk_unknown(case: Case, find: Find) -> Iterator[Finding]:
    """A converter whose input capacitance nobody states."""
    for branch in case.branches():
        if branch.converter is not None and branch.converter.bulk_f is None:
            yield find(branch.name, "its input capacitance is not stated: inrush is not judged")


RULES = (
    load_voltage_high,
    load_voltage_low,
    wire_current,
    wire_drop,
    led_headroom,
    led_current,
    led_before_contract,
    led_waste,
    bulk_contract,
    bulk_attach,
    bulk_unknown,
)
