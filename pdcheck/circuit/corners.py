"""Tolerance: the network at every corner, and min / typ / max of every node, loss and power over them.

``typ`` is everything as stated. A corner puts each quantity that has a tolerance at one of its ends, in every
combination, because the ends do not always pull the same way: more resistance in front of a resistive load lifts the
bus, in front of a converter it lowers it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from math import isnan
from typing import TYPE_CHECKING, NamedTuple

from pdcheck.circuit.collapse import Collapse, explain_collapse
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import OperatingPoint, describe
from pdcheck.parts.converter import Converter
from pdcheck.parts.loads import Load
from pdcheck.physics.number import anywhere, where
from pdcheck.quantities import Triple

if TYPE_CHECKING:
    from pdcheck.physics.number import Number

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
    is known as a range has its tolerance already. ``holds_a`` [A]: where the source holds its current. For many
    circuits at once, ``source_v``, ``cable`` and ``holds_a`` are of arrays, one figure for each.
    """

    source_v: Triple
    branches: tuple[BranchSpec, ...]
    holds_a: Number | None = None
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
    and ``collapse`` explains the worst of them. ``points`` keeps every solved corner.
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

    @property
    def held_v(self) -> float | None:
        """The lowest voltage [V] to which a source that holds its current falls; None where it does at no corner."""
        held = (point.nodes["source"].voltage_v for point in self.points.values() if point.constant_current)
        return min(held, default=None)


TYPICAL = Corner()
WORST = Corner(source=-1, series=1, resistance=1, efficiency=-1, load=1, copper=1)


def end_of(triple: Triple, end: int) -> Number:
    """One end of a triple: -1 min, 0 typ, 1 max."""
    return triple[end + 1]


def spec_corners(spec: NetworkSpec) -> list[Corner]:
    """The typical corner, then every combination of ends; a quantity without tolerance stays as stated.

    >>> [corner.source for corner in spec_corners(NetworkSpec(Triple(4.75, 5.0, 5.25), ()))]
    [0, -1, 1]
    """
    one_by_one = (spec.resistance, spec.efficiency, spec.load, spec.copper)
    ranged = [_ranged(spec.source_v), _ranged(spec.cable) or _ranged(spec.trigger), *map(_ranged, one_by_one)]
    ends = [(-1, 1) if wide else (0,) for wide in ranged]
    corners = [Corner(*chosen) for chosen in product(*ends)]
    return corners if corners == [TYPICAL] else [TYPICAL, *corners]


def _ranged(part: Triple) -> bool:
    return anywhere(part.max > part.min)


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
                branch.load.tolerance(load),
                None if branch.converter is None else branch.converter.with_efficiency_times(efficiency),
                branch.wire.copper_ohm * copper + branch.wire.fixed_ohm * resistance,
                branch.lead.copper_ohm * copper + branch.lead.fixed_ohm * resistance,
            )
            for branch in spec.branches
        ]
    )
    return Network(
        Source(end_of(spec.source_v, corner.source), spec.holds_a),
        branches,
        _series_part(spec.cable, corner.series, resistance),
        _series_part(spec.trigger, corner.series, resistance),
        spec.bus_a,
    )


def _series_part(part: Triple, end: int, resistance: float) -> Number:
    return where(part.max > part.min, end_of(part, end), part.typ * resistance)


def corners(spec: NetworkSpec, off: frozenset[str] = frozenset()) -> OperatingTriple:
    """Min, typ and max of everything over the corners of tolerance, without the branches in ``off``.

    >>> lamp = BranchSpec("lamp", Load("36W"))
    >>> triple = corners(NetworkSpec(Triple(19.0, 20.0, 21.0), (lamp,), cable=Triple(0.0, 0.125, 0.25)))
    >>> [round(volts, 3) for volts in triple.nodes["bus"].voltage_v]
    [18.514, 19.772, 21.0]
    """
    points: dict[Corner, OperatingPoint] = {}
    collapsed: list[Corner] = []
    for corner, network in networks(spec):
        solution = network.solve(off)
        if isnan(solution.bus_v):
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
    return max(collapsed, key=agreement)


def agreement(corner: Corner) -> int:
    """How many of its ends are those of the worst corner, less those of the best."""
    return sum(a * b for a, b in zip(corner, WORST, strict=True))


def networks(spec: NetworkSpec) -> Iterator[tuple[Corner, Network]]:
    """Every corner with its network, the typical one first."""
    for corner in spec_corners(spec):
        yield corner, network_at(spec, corner)
