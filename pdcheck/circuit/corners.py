"""Tolerance: the network at every corner, and min / typ / max of every node, loss and power over them.

``typ`` is everything as stated. A corner puts each quantity that has a tolerance at one of its ends, in every
combination, because the ends do not always pull the same way: more resistance in front of a resistive load lifts the
bus, in front of a converter it lowers it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from typing import NamedTuple

from pdcheck.circuit.collapse import Collapse, explain_collapse
from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    EfficiencyTable,
    LedDriver,
    LedString,
    LimitKind,
    Load,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.point import Flag, OperatingPoint, describe
from pdcheck.circuit.solve import solve_network
from pdcheck.quantities import Triple

EXACT = Triple(1.0, 1.0, 1.0)


class Conductor(NamedTuple):
    """A loop of wire [ohm]: its copper at 20 degrees C, which warms up, and what does not: contacts, or copper of a
    temperature that is known."""

    copper_ohm: float = 0.0
    fixed_ohm: float = 0.0


class BranchSpec(NamedTuple):
    """A branch as stated, before tolerance."""

    name: str
    load: Load
    converter: Converter | None = None
    wire: Conductor = Conductor()
    lead: Conductor = Conductor()


class NetworkSpec(NamedTuple):
    """A network with its tolerances.

    ``source_v`` [V], ``cable`` and ``trigger`` [ohm] are triples of their own. ``resistance``, ``efficiency`` and
    ``load`` are factors on what is stated; ``copper`` is the factor on copper from 20 degrees C to its temperature.
    ``resistance`` multiplies wires, leads, contacts, and cable and trigger where these are known exactly: a cable that
    is known as a range has its tolerance already.
    """

    source_v: Triple
    branches: tuple[BranchSpec, ...]
    limit_a: float | None = None
    limit_kind: LimitKind = "trip"
    cable: Triple = Triple(0.0, 0.0, 0.0)
    trigger: Triple = Triple(0.0, 0.0, 0.0)
    bus_a: float = 0.0
    resistance: Triple = EXACT
    efficiency: Triple = EXACT
    load: Triple = EXACT
    copper: Triple = EXACT


class Corner(NamedTuple):
    """Which end each quantity is at: -1 the least, 0 as stated, 1 the most. ``series`` is cable and trigger."""

    source: int = 0
    series: int = 0
    resistance: int = 0
    efficiency: int = 0
    load: int = 0
    copper: int = 0


class NodeTriple(NamedTuple):
    """Voltage [V] and current [A] of a node over all corners."""

    voltage_v: Triple
    current_a: Triple


class OperatingTriple(NamedTuple):
    """All corners together.

    ``nodes``, ``losses`` [W], ``loads`` [W] and ``source_w`` [W] run over the corners that have a solution; where the
    typical corner has none they are empty (and ``source_w`` None). ``collapsed`` names the corners without a solution
    and ``collapse`` explains the worst of them. ``points`` keeps every solved corner with its flags.
    """

    nodes: dict[str, NodeTriple]
    losses: dict[str, Triple]
    loads: dict[str, Triple]
    source_w: Triple | None
    points: dict[Corner, OperatingPoint]
    collapsed: tuple[Corner, ...]
    collapse: Collapse | None

    @property
    def typical(self) -> OperatingPoint | None:
        """The point with everything as stated; None where it collapses."""
        return self.points.get(TYPICAL)

    def worst_flags(self) -> dict[tuple[str, str], tuple[Flag, Corner]]:
        """Per node and kind of flag, the one that is furthest out, and its corner."""
        worst: dict[tuple[str, str], tuple[Flag, Corner]] = {}
        for corner, point in self.points.items():
            for flag in point.flags:
                known = worst.get((flag.node, flag.kind))
                if known is None or abs(flag.value - flag.limit) > abs(known[0].value - known[0].limit):
                    worst[flag.node, flag.kind] = (flag, corner)
        return worst


TYPICAL = Corner()
WORST = Corner(source=-1, series=1, resistance=1, efficiency=-1, load=1, copper=1)


def end_of(triple: Triple, end: int) -> float:
    """One end of a triple: -1 min, 0 typ, 1 max."""
    return triple[end + 1]


def spec_corners(spec: NetworkSpec) -> list[Corner]:
    """The typical corner, then every combination of ends; a quantity without tolerance stays as stated.

    >>> [corner.source for corner in spec_corners(NetworkSpec(Triple(4.75, 5.0, 5.25), ()))]
    [0, -1, 1]
    """
    series = max(spec.cable, spec.trigger, key=lambda triple: triple.max - triple.min)
    factors = (spec.source_v, series, spec.resistance, spec.efficiency, spec.load, spec.copper)
    ends = [(-1, 1) if triple.max > triple.min else (0,) for triple in factors]
    corners = [Corner(*chosen) for chosen in product(*ends)]
    return corners if corners == [TYPICAL] else [TYPICAL, *corners]


def network_at(spec: NetworkSpec, corner: Corner = TYPICAL) -> Network:
    """The network at one corner.

    >>> spec = NetworkSpec(Triple(19.0, 20.0, 21.0), (), cable=Triple(0.0, 0.125, 0.25))
    >>> network_at(spec, WORST).source.open_v, network_at(spec, WORST).cable_ohm
    (19.0, 0.25)
    """
    resistance = end_of(spec.resistance, corner.resistance)
    efficiency = end_of(spec.efficiency, corner.efficiency)
    load = end_of(spec.load, corner.load)
    copper = resistance * end_of(spec.copper, corner.copper)
    branches = tuple(
        [
            Branch(
                branch.name,
                loaded(branch.load, load),
                None if branch.converter is None else with_efficiency(branch.converter, efficiency),
                branch.wire.copper_ohm * copper + branch.wire.fixed_ohm * resistance,
                branch.lead.copper_ohm * copper + branch.lead.fixed_ohm * resistance,
            )
            for branch in spec.branches
        ]
    )
    return Network(
        Source(end_of(spec.source_v, corner.source), spec.limit_a, spec.limit_kind),
        branches,
        _series_part(spec.cable, corner.series, resistance),
        _series_part(spec.trigger, corner.series, resistance),
        spec.bus_a,
    )


def _series_part(part: Triple, end: int, resistance: float) -> float:
    return end_of(part, end) if part.max > part.min else part.typ * resistance


def loaded(load: Load, factor: float) -> Load:
    """A load with its stated figure off by a factor; for a resistance, more load is fewer ohms by the same share.

    >>> loaded(Resistance(6.0), 1.25)
    Resistance(resistance_ohm=4.5)
    """
    if factor == 1.0:
        return load
    match load:
        case ConstantPower(power_w):
            return ConstantPower(power_w * factor)
        case ConstantCurrent(current_a):
            return ConstantCurrent(current_a * factor)
        case Resistance(resistance_ohm):
            return Resistance(resistance_ohm * (2.0 - factor))
        case LedString():
            return load._replace(resistor_ohm=load.resistor_ohm * (2.0 - factor))
        case LedDriver():
            return load._replace(current_a=load.current_a * factor)


def with_efficiency(converter: Converter, factor: float) -> Converter:
    """A converter with its efficiency off by a factor, but never above 1."""
    if factor == 1.0:
        return converter
    stated = converter.efficiency
    if isinstance(stated, EfficiencyTable):
        rows = tuple(tuple(min(value * factor, 1.0) for value in row) for row in stated.values)
        return converter._replace(efficiency=stated._replace(values=rows))
    return converter._replace(efficiency=min(stated * factor, 1.0))


def corners(spec: NetworkSpec, off: frozenset[str] = frozenset()) -> OperatingTriple:
    """Min, typ and max of everything over the corners of tolerance, without the branches in ``off``.

    Raises:
        InputError: a resistive load without any resistance.

    >>> lamp = BranchSpec("lamp", ConstantPower(36.0))
    >>> triple = corners(NetworkSpec(Triple(19.0, 20.0, 21.0), (lamp,), cable=Triple(0.0, 0.125, 0.25)))
    >>> [round(volts, 3) for volts in triple.nodes["bus"].voltage_v]
    [18.514, 19.772, 21.0]
    """
    points: dict[Corner, OperatingPoint] = {}
    collapsed: list[Corner] = []
    for corner, network in networks(spec):
        solution = solve_network(network, off)
        if solution is None:
            collapsed.append(corner)
        else:
            points[corner] = describe(network, solution, off)
    collapse = None
    if collapsed:
        worst = _worst_of(collapsed)
        collapse = explain_collapse(network_at(spec, worst), off)
    typical = points.get(TYPICAL)
    if typical is None:
        return OperatingTriple({}, {}, {}, None, points, tuple(collapsed), collapse)
    solved = list(points.values())
    nodes = {
        name: NodeTriple(
            _triple(node.voltage_v, (point.nodes[name].voltage_v for point in solved)),
            _triple(node.current_a, (point.nodes[name].current_a for point in solved)),
        )
        for name, node in typical.nodes.items()
    }
    losses = {name: _triple(loss, (p.losses[name] for p in solved)) for name, loss in typical.losses.items()}
    loads = {name: _triple(power, (p.loads[name] for p in solved)) for name, power in typical.loads.items()}
    source_w = _triple(typical.source_w, (point.source_w for point in solved))
    return OperatingTriple(nodes, losses, loads, source_w, points, tuple(collapsed), collapse)


def _triple(typical: float, values: Iterable[float]) -> Triple:
    listed = list(values)
    return Triple(min(listed), typical, max(listed))


def _worst_of(collapsed: list[Corner]) -> Corner:
    """The corner that asks most of the least: the one with the most ends at their worst."""
    return max(collapsed, key=lambda corner: sum(a * b for a, b in zip(corner, WORST, strict=True)))


def networks(spec: NetworkSpec) -> Iterator[tuple[Corner, Network]]:
    """Every corner with its network, the typical one first."""
    for corner in spec_corners(spec):
        yield corner, network_at(spec, corner)
