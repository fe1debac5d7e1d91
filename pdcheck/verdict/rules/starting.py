"""Rules on the first second: what starts on 5 V or beside others, dips, the ring of a live plug, swinging inputs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial

from pdcheck.circuit.plug_in import Start, Trouble
from pdcheck.circuit.transient.closed_forms import (
    filter_damper,
    hold_up_f,
    least_damping_ohm,
    resistance_for_peak,
    ring_damper,
    ring_peak_v,
    settles,
)
from pdcheck.facts.current import PULL_UPS
from pdcheck.facts.motion import ASSUMED
from pdcheck.facts.origin import Origin
from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import CONNECTOR, SAFE_5V, VALID_MARGIN
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.parts.rig import Branch
from pdcheck.physics.number import Condition, Number, any_of, where
from pdcheck.quantities import format_quantity, over, under
from pdcheck.verdict.case import Case
from pdcheck.verdict.cut_off import dip_at
from pdcheck.verdict.finding import Find, Finding, rig_rule

BUS = Origin("Ohm's law, any circuits textbook", "physics")
RING = Origin("step response of R, L and C in series, any circuits textbook", "physics")
NEGATIVE = Origin("a constant power looks like -V^2 / P; R. D. Middlebrook 1976 gives the general form", "physics")
_AT_INPUT = ("inductance", "ESR", "input capacitance")


_volts, _farads, _henries, _ohms = (
    partial(format_quantity, unit=unit, digits=digits) for unit, digits in (("V", 3), ("F", 2), ("H", 2), ("ohm", 2))
)


def _beside(value: float, limit: float) -> str:
    return format_quantity(value, "A", 3, beside=limit)


def _taken(start: Start, what: tuple[str, ...]) -> str:
    """What was taken for granted, in brackets; nothing where all of it is stated."""
    told = [each.text for each in start.assumed if each.text.startswith(what)]
    return f" (not stated, so taken as usual: {'; '.join(told)})" if told else ""


def _pulled(found: Trouble, limit_a: float, stage: str, level: Level) -> str:
    names = " and ".join(", ".join([*found.beside, found.start.branch]).rsplit(", ", 1))
    wants = f"{names} together want" if found.beside else "wants"
    amounts = f"{wants} {_beside(found.wanted_a, limit_a)}"
    sure = _beside(limit_a, found.wanted_a)
    begins = f"starts on {stage}, at {_volts(found.start.start_v)}, and then"
    if not found.start.start_v:
        begins = f"is on already on {stage}, and then"
    if level == "note":
        may = begins.replace("starts", "start", 1).replace("is on", "be on", 1)
        return f"may {may} {amounts}; only {sure} is sure"
    if over(found.wanted_a, limit_a):
        why = f"{amounts}; the charger gives only {sure}"
    else:
        why = f"{amounts}, more than cable and wires can pass at that voltage"
    taken = _taken(found.start, ("converter starts at", "its start voltage"))
    return f"{begins} {why}: the voltage falls, it stops and starts again, over and over{taken}"


@rig_rule(
    "fail",
    PULL_UPS,
    f"Use a converter that starts above {SAFE_5V.require_max():g} V (some have a pin or a resistor for that), or a "
    "switch that puts the load on once the contract is made.",
)
def start_overload(case: Case, find: Find) -> Iterator[Finding]:
    """The voltage breaks down when something starts.

    All that starts on the 5 V before the contract, added up; then all that starts on the contract.
    """
    sure_a = case.before_a
    if sure_a is not None:
        tries: tuple[tuple[Level, float, bool], ...] = (
            ("fail", sure_a, False),
            ("warn", sure_a, True),
            ("note", case.seen.typec_a, True),
        )
        for level, limit_a, every in tries:
            found = case.trouble_before(limit_a, every=every)
            if found is not None:
                text = _pulled(found, limit_a, f"the {case.before_v.typ:g} V before the contract", level)
                yield find(found.start.branch, text, found.wanted_a, limit_a, "A", level=level)
                break
    found = case.trouble_on_contract()
    limit_a = case.contract.current_a
    if found is None or found.what != "pulls down" or case.collapses:
        return
    if not over(case.worst_current("source"), limit_a):
        advice = "Take a slower soft start or a smaller capacitor at its output, or switch the load on later."
        text = _pulled(found, limit_a, f"the {case.contract.voltage_v:g} V of the contract", "fail")
        yield find(found.start.branch, text, found.wanted_a, limit_a, "A", advice=advice)


@rig_rule(
    "note",
    ASSUMED,
    "Where the first second matters, state them in the rig file; 'pdcheck transient' shows it.",
    scope="supply",
)
def start_assumed(case: Case, find: Find) -> Iterator[Finding]:
    """Figures of the first second that nobody states.

    What is taken as usual of each branch: start and cut-off, soft start, capacitors and their ESR, inductance.
    """
    for start in case.starts if case.contract.outcome != "off" else ():
        if start.assumed:
            yield find(start.branch, f"taken as usual: {'; '.join(each.text for each in start.assumed)}")


@rig_rule("fail", BUS, "Switch the other load on later, set a higher voltage, or use a cable and wires that drop less.")
def start_blocked(case: Case, find: Find) -> Iterator[Finding]:
    """Something cannot start beside what already draws.

    The start voltage against the bus that the others leave, not against one without load.
    """
    found = case.trouble_on_contract()
    if found is None or found.what != "never starts":
        return
    start_v = found.start.start_v
    names = " and ".join(found.beside)
    text = (
        f"never starts: it needs {_volts(start_v, beside=found.bus_v)}, and with {names} running "
        f"the bus has only {_volts(found.bus_v, beside=start_v)}"
    )
    advice = f"Switch {names} on later, take one that starts below {_volts(found.bus_v)}, or set a higher voltage."
    yield find(found.start.branch, text, found.bus_v, start_v, "V", advice=advice)


def _near_cut_off(case: Case) -> Iterator[tuple[Start, Branch, Condition]]:
    """What runs, and whether a dip may switch it off.

    At constant power less voltage takes more current, so more is lost on the way: looked at where it may matter.
    """
    for start, branch in zip(case.starts, case.branches(), strict=False):
        volts = None if start.branch in case.off else case.node_voltage(f"{start.branch}/in")
        if volts is not None:
            yield start, branch, under(volts.min - 2.0 * VALID_MARGIN.value, start.stop_v)


@rig_rule(
    "warn",
    CONNECTOR,
    "Set a higher voltage, or put more capacitance across the input.",
    may=lambda case: any_of(near for *_, near in _near_cut_off(case)),
)
def dip_cuts_off(case: Case, find: Find) -> Iterator[Finding]:
    """A dip of the charger switches something off.

    vSrcValid: so far below its band the charger may be for some milliseconds after a load step.
    """
    lasts_s, margin_v = timer("tSrcTransient").require_max(), VALID_MARGIN.value
    for start, branch, near in _near_cut_off(case):
        volts = case.node_voltage(f"{start.branch}/in")
        dip = dip_at(case, branch, case.source_v.min - margin_v) if near else None
        if volts is None or dip is None or not dip.cuts_off(lasts_s) or under(volts.min, dip.stop_v):
            continue
        power_w = case.greatest_power(f"{start.branch}/in") or 0.0
        more = ""
        if power_w and over(volts.min, dip.stop_v):
            needed = _farads(hold_up_f(lasts_s, volts.min, dip.stop_v, power_w))
            more = f" {needed} there would carry it."
        advice = f"Set a higher voltage, or put more capacitance across its input.{more}"
        yield find(start.branch, dip.words(lasts_s), dip.input_v, dip.stop_v, "V", advice=advice)


def _ring_ohm(case: Case, start: Start, branch: Branch) -> float:
    return start.esr_ohm + (0.0 if branch.wire is None else branch.wire.resistance_ohm(case.rig.tolerance.copper.min))


def live_peak_v(case: Case, start: Start, branch: Branch) -> float | None:
    """How high the input of a converter rings [V] when it is plugged into the live bus; None where it never is."""
    if not branch.live or not start.inductance_h:
        return None
    return ring_peak_v(case.idle_high(), _ring_ohm(case, start, branch), start.inductance_h, start.input_f)


@rig_rule("stop", RING, "Switch the charger on only once it is plugged in.", scope="supply")
def live_ring(case: Case, find: Find) -> Iterator[Finding]:
    """Too much voltage when it is plugged into a live bus."""
    bus_v = case.idle_high()
    for start, branch in zip(case.starts, case.branches(), strict=False):
        most = None if branch.converter is None else branch.converter.survives_v
        peak_v = live_peak_v(case, start, branch)
        if most is None or peak_v is None or over(bus_v, most) or not over(peak_v, most):
            continue
        ohm = _ring_ohm(case, start, branch)
        damper = ring_damper(start.inductance_h, start.input_f)
        limiter = resistance_for_peak(bus_v, most, start.inductance_h, start.input_f) - ohm
        text = (
            f"plugged into the live bus its input rings up to {_volts(peak_v, beside=most)}, and its "
            f"converter is rated for {_volts(most)}{_taken(start, _AT_INPUT)}"
        )
        advice = (
            "Switch the charger on only once it is plugged in. Or put "
            f"{_farads(damper.capacitance_f)} with an ESR of about {_ohms(damper.esr_ohm)} "
            f"across its input, or an inrush limiter of {_ohms(limiter)} or more into its wire; a "
            "shorter wire helps too."
        )
        yield find(start.branch, text, peak_v, most, "V", advice=advice)


@rig_rule("fail", NEGATIVE, "Put a capacitor with some ESR across its input, or take a shorter wire.")
def input_swings(case: Case, find: Find) -> Iterator[Finding]:
    """The input of a converter never comes to rest."""
    for found in case.running_inputs():
        if not found.runs or found.settles:
            continue
        start = found.start
        needed_ohm = least_damping_ohm(found.power_w, found.input_v, start.inductance_h, start.input_f)
        ohm = found.wire_ohm + start.esr_ohm
        figures = found.power_w, found.input_v, found.wire_ohm, start.inductance_h, start.input_f
        text = (
            f"{_henries(start.inductance_h)} of wire and {_farads(start.input_f)} at its input swing on and on at "
            f"{format_quantity(found.power_w, 'W', 3)} and {_volts(found.input_v)}: they come to rest from "
            f"{_ohms(needed_ohm)} on, and wire and capacitor have {_ohms(ohm)}{_taken(start, _AT_INPUT)}"
        )
        yield find(start.branch, text, ohm, needed_ohm, "ohm", advice=_damping(filter_damper(*figures)))


def _damping(damper: Iterable[float] | None) -> str:
    if damper is None:
        return "Take a shorter wire, a larger capacitor at its input, or a higher voltage."
    capacitance_f, esr_ohm = damper
    return (
        f"Put {_farads(capacitance_f)} with an ESR of about {_ohms(esr_ohm)} across its input, or take a shorter wire."
    )


class _Bus(NamedTuple):
    """The bus at its weakest: power [W], voltage [V], and resistance, inductance and capacitance on it [SI]."""

    power_w: Number
    volts: Number
    ohm: Number
    inductance_h: Number
    capacitance_f: Number


def _bus(case: Case) -> _Bus | None:
    volts = case.node_voltage("bus")
    if volts is None or not any(start.input_f for start in case.starts):
        return None
    inductance_h, bulk_f = case.feed
    capacitance_f = bulk_f + sum(start.input_f for start in case.starts)
    power_w = volts.min * case.worst_current("bus")
    return _Bus(power_w, volts.min, case.series_ohm, inductance_h, capacitance_f)


def _bus_may_swing(case: Case) -> Condition:
    bus = _bus(case)
    return bus is not None and where(settles(*bus), False, bus.power_w > 0.0)


@rig_rule(
    "warn", NEGATIVE, "Put a capacitor with some ESR across the bus, or take a shorter cable.", may=_bus_may_swing
)
def bus_swings(case: Case, find: Find) -> Iterator[Finding]:
    """The bus may never come to rest.

    The cable's inductance and all that stands on the bus, taken as one, against all that draws.
    """
    bus = _bus(case)
    if bus is None or bus.power_w <= 0.0 or settles(*bus):
        return
    text = (
        f"the cable's {_henries(bus.inductance_h)} and the {_farads(bus.capacitance_f)} on the bus "
        f"may swing on and on at {format_quantity(bus.power_w, 'W', 3)} and {_volts(bus.volts)}"
    )
    advice = _damping(filter_damper(*bus))
    yield find("bus", text, advice=advice.replace("its input", "the bus").replace("wire", "cable"))
