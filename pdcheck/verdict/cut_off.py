"""Cutting off and starting again: a converter's input in a dip of the source, and the bus beside what already draws."""

from __future__ import annotations

from pdcheck.circuit.corners import corners
from pdcheck.circuit.transient.closed_forms import hold_up_s
from pdcheck.circuit.transient.from_rig import start_of, stop_of
from pdcheck.facts.motion import INPUT_BULK
from pdcheck.named import NamedTuple
from pdcheck.parts.rig import Branch
from pdcheck.quantities import Triple, format_quantity, under
from pdcheck.verdict.case import Case


class Dip(NamedTuple):
    """What a dip of the source to ``source_v`` [V] does to a converter.

    ``input_v`` [V] is then at its input at worst, ``stop_v`` where it cuts off; ``holds_s`` [s] is how long its input
    capacitance carries it down to there. ``assumed``: nobody states where it cuts off.
    """

    source_v: float
    input_v: float
    stop_v: float
    holds_s: float
    assumed: bool

    def cuts_off(self, lasts_s: float) -> bool:
        """Whether it cuts off in a dip of so many seconds."""
        return under(self.input_v, self.stop_v) and self.holds_s < lasts_s

    def words(self, lasts_s: float) -> str:
        """Why it cuts off."""
        taken = " (assumed)" if self.assumed else ""
        holds = format_quantity(self.holds_s, "s", 2)
        return (
            f"for up to {format_quantity(lasts_s, 's', 3)} the charger may be at {self.source_v:.3g} V, "
            f"{_figure(self.input_v, self.stop_v)} at its input: it cuts off at {self.stop_v:.3g} V{taken} and its "
            f"capacitors keep it up for {holds}"
        )


def _figure(value: float, beside: float) -> str:
    return format_quantity(value, "V", 3, beside=beside)


def stops_below_v(branch: Branch) -> float:
    """The input voltage [V] below which a converter cuts off, as stated or assumed; 0 without a converter."""
    return 0.0 if branch.converter is None else stop_of(branch.converter)


def dip_at(case: Case, branch: Branch, source_v: float) -> Dip | None:
    """What happens to a running converter when its source is at ``source_v`` [V] for a moment; None without one.

    ``case`` is what it runs on before and after that. Sources: the circuit at its worst corner; the energy of its own
    input capacitance, C (V1^2 - V2^2) / (2 P) [any circuits textbook].

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> box = {"kind": "buck", "output": "5V", "input": "6V-30V", "start": "8.6V", "bulk": "100uF", "efficiency": 1.0}
    >>> rig = Rig(trigger="9V", branch=[{"name": "box", "load": "10W", "converter": box}])
    >>> case = Case(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C", loop="0ohm"))
    >>> dip = dip_at(case, rig.branches[0], 8.05)
    >>> dip.stop_v, dip.input_v, f"{dip.holds_s * 1e6:.1f} us", dip.cuts_off(5e-3)
    (8.1, 8.05, '37.5 us', True)
    """
    converter = branch.converter
    if converter is None:
        return None
    node, stop_v = f"{branch.name}/in", stops_below_v(branch)
    low = case.in_a_dip(source_v)
    input_v = 0.0 if low.collapsed or node not in low.nodes else low.nodes[node].voltage_v.min
    power_w = case.greatest_power(node) if case.point is not None else None
    capacitance = INPUT_BULK.value if converter.bulk_f is None else converter.bulk_f
    from_v = case.worst_low(node)
    holds_s = hold_up_s(capacitance, from_v, stop_v, power_w) if power_w and from_v > stop_v else 0.0
    return Dip(source_v, input_v, stop_v, holds_s, converter.stop_v is None)


def bus_beside(case: Case, branch: Branch) -> Triple | None:
    """The voltage [V] at the input of a converter that is not started yet, beside all that starts before it.

    None for a branch without a converter, and where the bus has no operating point.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> box = {"kind": "buck", "output": "5V", "input": "6V-30V", "start": "8.6V"}
    >>> heater = {"name": "heater", "load": "4.5ohm"}
    >>> rig = Rig(trigger="9V", branch=[heater, {"name": "box", "load": "5W", "converter": box}])
    >>> case = Case(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C", loop="265mOhm"))
    >>> round(bus_beside(case, rig.branches[1]).typ, 2)
    8.5
    """
    if branch.converter is None or case.contract.outcome == "off":
        return None
    start_v = start_of(branch.converter)
    later = {
        other.name
        for other in case.rig.branches
        if other.converter is not None and start_of(other.converter) >= start_v
    }
    point = corners(case.spec, case.off | later)
    node = f"{branch.name}/in"
    return point.nodes[node].voltage_v if not point.collapsed and node in point.nodes else None


def never_starts(case: Case, branch: Branch) -> tuple[bool, str] | None:
    """Whether a converter surely never starts beside what already draws, and why; None where it starts."""
    bus_v = bus_beside(case, branch)
    if bus_v is None or branch.converter is None or branch.name in case.off:
        return None
    start_v = start_of(branch.converter)
    if not under(bus_v.min, start_v):
        return None
    surely = under(bus_v.max, start_v)
    most = _figure(bus_v.max if surely else bus_v.min, start_v)
    word = "never starts" if surely else "may never start"
    least = f"the bus is {'at most' if surely else 'perhaps only'} {most} beside what already draws"
    return surely, f"{word}: it starts at {start_v:.3g} V and {least}"


def falls_below(case: Case, branch: Branch) -> tuple[bool, str] | None:
    """Whether a converter's input is surely below its cut-off under load, and why; None where it never is."""
    input_v = case.node_voltage(f"{branch.name}/in")
    if branch.converter is None or input_v is None:
        return None
    stop_v = stops_below_v(branch)
    if not under(input_v.min, stop_v):
        return None
    assumed = " (assumed)" if branch.converter.stop_v is None else ""
    why = f"its input falls to {_figure(input_v.min, stop_v)} and it cuts off at {stop_v:.3g} V{assumed}"
    return under(input_v.max, stop_v), why
