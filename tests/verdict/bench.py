"""A bench with hidden faults: what a meter with so many digits would show at each reading of a bring-up sheet."""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.corners import BranchSpec, NetworkSpec, network_at, with_shares
from pdcheck.circuit.point import OperatingPoint
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.loads import Load
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.sheet import Filled, Measured, read_measured
from pdcheck.verdict.bringup.steps import BringUp, Step
from pdcheck.verdict.bringup.words import Path
from pdcheck.verdict.case import Case
from tests.circuit.making import changed
from tests.circuit.operating import operating_point


class Faults(NamedTuple):
    """What is really there, beside what was stated: added ohms, factors on efficiency and load, watts and amperes."""

    supply_ohm: float = 0.0
    wire_ohm: float = 0.0
    lead_ohm: float = 0.0
    efficiency: float = 1.0
    load: float = 1.0
    idle_w: float = 0.0
    bus_a: float = 0.0
    branch: str = ""
    open_v: float | None = None


def truth(case: Case, faults: Faults) -> NetworkSpec:
    """The network as it really is, without any tolerance left."""
    spec = case.spec
    branches = tuple(_branch(each, faults) if each.name == faults.branch else each for each in spec.branches)
    open_v = spec.source_v.typ if faults.open_v is None else faults.open_v
    exact = Triple.exact
    (first, cable), *others = spec.series
    return spec._replace(
        source_v=exact(open_v),
        series=((first, exact(cable.typ + faults.supply_ohm)), *((name, exact(ohm.typ)) for name, ohm in others)),
        bus_a=faults.bus_a,
        branches=branches,
        resistance=exact(1.0),
        efficiency=exact(1.0),
        load=exact(1.0),
        copper=exact(spec.copper.typ),
    )


def _branch(branch: BranchSpec, faults: Faults) -> BranchSpec:
    converter = branch.converter
    if converter is not None:
        stated = converter.counted_efficiency
        assert not isinstance(stated, EfficiencyTable)
        converter = changed(
            converter,
            efficiency=min(1.0, stated * faults.efficiency),
            idle_w=converter.idle_w + faults.idle_w,
        )
    wire = branch.wire._replace(fixed_ohm=branch.wire.fixed_ohm + faults.wire_ohm)
    lead = branch.lead._replace(fixed_ohm=branch.lead.fixed_ohm + faults.lead_ohm)
    return branch._replace(converter=converter, wire=wire, lead=lead, load=_load_times(branch.load, faults.load))


def _load_times(load: Load, factor: float) -> Load:
    """A load of that many times what is stated: more power, more current, or fewer ohms; LEDs are what they are."""
    return load.demand(factor) if load.unit else load


def typed(plan: BringUp, written: str) -> Filled:
    """Readings as somebody writes them down: a name and what the meter shows, one a line."""
    units = {each.name: (each.path, each.key, each.unit) for step in plan.steps for each in step.readings}
    found: dict[tuple[Path, str], Measured] = {}
    for line in filter(None, written.splitlines()):
        name, shows = line.split(maxsplit=1)
        path, key, unit = units[name]
        found[path, key] = read_measured(shows, unit)
    return Filled({}, found)


def readings(
    plan: BringUp,
    spec: NetworkSpec,
    digits: dict[str, int],
    *,
    optional: bool = True,
    off: frozenset[str] = frozenset(),
) -> Filled:
    """Every reading of a plan, rounded as a meter does; ``digits`` are decimals of V and A."""
    found: dict[tuple[Path, str], Measured] = {}
    for step in plan.steps:
        point = _point(plan, spec, step, off)
        if point is None:
            break
        for reading in step.readings:
            if reading.optional and not optional:
                continue
            value = _value(reading.key, reading.node, reading.expected.typ, point)
            if reading.key == "input_ohm" and value is not None:
                value = next(each for each in spec.branches if each.name == reading.path[-1]).load.ohmmeter_ohm
            if value is None:
                text = "yes" if reading.unit == "" else "OL"
            else:
                text = f"{value:.{digits.get(reading.unit, 1)}f}"
            found[reading.path, reading.key] = read_measured(text, reading.unit)
    return Filled({}, found)


def _point(plan: BringUp, spec: NetworkSpec, step: Step, off: frozenset[str]) -> OperatingPoint | None:
    apart = off | {branch.name for branch in spec.branches if branch.name not in step.branches}
    network = network_at(with_shares(spec, dict.fromkeys(step.branches, step.share)))
    point = operating_point(network, apart)
    return point if isinstance(point, OperatingPoint) else None


def _value(key: str, node: str, typical: float | None, point: OperatingPoint) -> float | None:
    if key in ("polarity", "input_ohm"):
        return typical
    if key == "before_v":
        return 5.08
    found = point.nodes[node]
    return found.current_a if key.endswith("_a") else found.voltage_v
