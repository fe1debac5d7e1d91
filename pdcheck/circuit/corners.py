"""Tolerance: the network at every corner, and min / typ / max of every node, loss and power over them.

``typ`` is everything as stated. A corner puts each quantity that has a tolerance at one of its ends, in every
combination, because the ends do not always pull the same way: more resistance in front of a resistive load lifts the
bus, in front of a converter it lowers it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import product
from math import isnan
from typing import Any

from pdcheck.circuit.collapse import Collapse, explain_collapse
from pdcheck.circuit.network import Branch, Copper, Heat, Network, Source
from pdcheck.circuit.point import OperatingPoint, describe, is_warm
from pdcheck.circuit.warm import settled
from pdcheck.facts.copper import ABSOLUTE_ZERO
from pdcheck.named import NamedTuple
from pdcheck.parts.converter import Converter
from pdcheck.parts.loads import Load, Turns
from pdcheck.physics.number import Number, anywhere, where
from pdcheck.quantities import Triple

EXACT = Triple(1.0, 1.0, 1.0)


class Conductor(NamedTuple):
    """A loop of wire [ohm]: its copper at 20 degrees C, which warms up, and what does not: contacts, or copper of a
    temperature that is known, ``own_c`` [degrees C]. A current warms it by ``rise_k_a2`` [K/A2] where heat counts."""

    copper_ohm: float = 0.0
    fixed_ohm: float = 0.0
    rise_k_a2: float = 0.0
    own_c: float | None = None


class BranchSpec(NamedTuple):
    """A branch as stated, before tolerance. ``turns`` is what its load is over time where heat counts, ``harshest`` the
    same where it warms the wires most."""

    name: str
    load: Load
    converter: Converter | None = None
    wire: Conductor = Conductor()
    lead: Conductor = Conductor()
    rise_k_w: Triple = Triple(0.0, 0.0, 0.0)
    turns: Turns = ()
    harshest: Turns = ()

    def demanding(self, factor: float) -> BranchSpec:
        """The same with a load that asks for that many times as much, at any time."""
        turns, harshest = (
            tuple((part, load.demand(factor)) for part, load in each) for each in (self.turns, self.harshest)
        )
        return self._replace(load=self.load.demand(factor), turns=turns, harshest=harshest)

    def sharing(self, share: float) -> BranchSpec:
        """The same with what stands in for its load at first power-up, which is there all the time."""
        return self._replace(load=self.load.share(share), turns=(), harshest=())


class HeatSpec(NamedTuple):
    """The air around a build [degrees C], and what counts for heat, each a triple from the coolest to the hottest.

    ``shed_w_k`` [W/K] of its box runs from the most to the least, None on an open bench. ``least_c`` [degrees C]
    is the least that copper has, where the rig states it. ``cold``: the coolest state is the one just switched on,
    with the copper as cold as it is without heat; else it is the coolest that it settles in.
    """

    air_c: Triple
    shed_w_k: Triple | None = None
    surface: Triple = EXACT
    module_k_w: Triple = Triple(0.0, 0.0, 0.0)
    cable_k_a2: Triple = Triple(0.0, 0.0, 0.0)
    least_c: Triple = Triple.exact(ABSOLUTE_ZERO)
    cold: bool = True

    def at(self, end: int) -> Heat | None:
        """The heat at one end; none where it has just been switched on."""
        if self.cold and end < 0:
            return None
        triples = (self.air_c, self.shed_w_k, self.surface, self.module_k_w, self.cable_k_a2)
        figures: list[Any] = [None if each is None else end_of(each, end) for each in triples]
        return Heat(*figures)

    def hottest(self) -> HeatSpec:
        """At its hottest alone."""
        hottest: list[Any] = [None if each is None else Triple.exact(each.max) for each in self[:-1]]
        return HeatSpec(*hottest)._replace(cold=False)


class NetworkSpec(NamedTuple):
    """A network with its tolerances.

    ``source_v`` [V] is a triple of its own, and so is what lies in series between source and bus, by name from the
    source on [ohm]: the cable where there is one, then what the rig has. ``resistance``, ``efficiency`` and
    ``load`` are factors on what is stated; ``copper`` is the factor on copper from 20 degrees C to its temperature.
    ``resistance`` multiplies wires, leads, contacts, and what in ``series`` is known exactly: a cable that
    is known as a range has its tolerance already. ``holds_a`` [A]: where the source holds its current. For many
    circuits at once, ``source_v``, the cable and ``holds_a`` are of arrays, one figure for each. With ``heat`` the
    copper goes from cold to as hot as it gets, and ``typ`` is as warm as it settles.
    """

    source_v: Triple
    branches: tuple[BranchSpec, ...]
    holds_a: Number | None = None
    series: tuple[tuple[str, Triple], ...] = ()
    bus_a: float = 0.0
    resistance: Triple = EXACT
    efficiency: Triple = EXACT
    load: Triple = EXACT
    copper: Triple = EXACT
    heat: HeatSpec | None = None


class Corner(NamedTuple):
    """Which end each quantity is at: -1 the least, 0 as stated, 1 the most."""

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
    typical corner has none they are empty (and ``source_w`` None). ``collapsed`` names the corners without a solution,
    ``fallen`` is the worst of them with what is off in it. ``points`` keeps every solved corner.
    """

    nodes: dict[str, NodeTriple]
    losses: dict[str, Triple]
    loads: dict[str, Triple]
    source_w: Triple | None
    points: dict[Corner, OperatingPoint]
    collapsed: tuple[Corner, ...]
    fallen: tuple[Network, frozenset[str]] | None

    @property
    def collapse(self) -> Collapse | None:
        """Why the worst of the corners without a solution has none: sought when it is asked for."""
        return None if self.fallen is None else explain_collapse(*self.fallen)

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
_AIR = "air:c"
WORST = Corner(source=-1, series=1, resistance=1, efficiency=-1, load=1, copper=1)


def end_of(triple: Triple, end: int) -> Number:
    """One end of a triple: -1 min, 0 typ, 1 max."""
    return triple[end + 1]


def spec_corners(spec: NetworkSpec) -> list[Corner]:
    """The typical corner, then every combination of ends; a quantity without tolerance stays as stated.

    >>> [corner.source for corner in spec_corners(NetworkSpec(Triple(4.75, 5.0, 5.25), ()))]
    [0, -1, 1]
    """
    one_by_one = (spec.resistance, spec.efficiency, spec.load)
    ranged = [_ranged(spec.source_v), any(_ranged(ohm) for _, ohm in spec.series), *map(_ranged, one_by_one)]
    ranged.append(_ranged(spec.copper) or (spec.heat is not None and _warms(spec, spec.heat)))
    ends = [(-1, 1) if wide else (0,) for wide in ranged]
    corners = [Corner(*chosen) for chosen in product(*ends)]
    return corners if corners == [TYPICAL] else [TYPICAL, *corners]


def _warms(spec: NetworkSpec, heat: HeatSpec) -> bool:
    """Whether what is warm has more than one state."""
    triples = [each for each in heat[:-1] if isinstance(each, Triple)]
    triples += [branch.rise_k_w for branch in spec.branches]
    shaped = any(branch.turns != branch.harshest for branch in spec.branches)
    return heat.cold or shaped or any(len(set(each)) > 1 for each in triples)


def _ranged(part: Triple) -> bool:
    return anywhere(part.max > part.min)


def network_at(spec: NetworkSpec, corner: Corner = TYPICAL) -> Network:
    """The network at one corner.

    >>> spec = NetworkSpec(Triple(19.0, 20.0, 21.0), (), series=(("cable", Triple(0.0, 0.125, 0.25)),))
    >>> network_at(spec, WORST).source.open_v, network_at(spec, WORST).series_ohm
    (19.0, 0.25)
    """
    resistance = end_of(spec.resistance, corner.resistance)
    efficiency = end_of(spec.efficiency, corner.efficiency)
    load = end_of(spec.load, corner.load)
    copper = resistance * end_of(spec.copper, corner.copper)
    stated = isinstance(load, float) and load == 1.0
    heat = None if spec.heat is None else spec.heat.at(corner.copper)
    least_c = ABSOLUTE_ZERO if spec.heat is None else end_of(spec.heat.least_c, corner.copper)
    branches = tuple(
        [
            Branch(
                branch.name,
                branch.load if stated else branch.load.tolerance(load),
                None if branch.converter is None else branch.converter.with_efficiency_times(efficiency),
                branch.wire.copper_ohm * copper + branch.wire.fixed_ohm * resistance,
                branch.lead.copper_ohm * copper + branch.lead.fixed_ohm * resistance,
                _copper(branch.wire, heat, resistance, least_c),
                _copper(branch.lead, heat, resistance, least_c),
                end_of(branch.rise_k_w, corner.copper),
                None if heat is None else branch.wire.own_c,
                None if heat is None else branch.lead.own_c,
                () if heat is None else _turned(branch.harshest if corner.copper > 0 else branch.turns, load),
            )
            for branch in spec.branches
        ]
    )
    return Network(
        Source(end_of(spec.source_v, corner.source), spec.holds_a),
        branches,
        tuple([(name, _series_part(ohm, corner.series, resistance)) for name, ohm in spec.series]),
        spec.bus_a,
        heat,
    )


def _turned(turns: Turns, load: float) -> Turns:
    return tuple((part, each.tolerance(load)) for part, each in turns)


def _copper(wire: Conductor, heat: Heat | None, resistance: float, least_c: float) -> Copper | None:
    if heat is None or wire.copper_ohm == 0.0:
        return None
    # A wire of more resistance is a warmer one.
    return Copper(wire.copper_ohm * resistance, wire.fixed_ohm * resistance, wire.rise_k_a2 * resistance, least_c)


def _series_part(part: Triple, end: int, resistance: float) -> Number:
    return where(part.max > part.min, end_of(part, end), part.typ * resistance)


def corners(spec: NetworkSpec, off: frozenset[str] = frozenset()) -> OperatingTriple:
    """Min, typ and max of everything over the corners of tolerance, without the branches in ``off``.

    >>> lamp = BranchSpec("lamp", Load("36W"))
    >>> triple = corners(NetworkSpec(Triple(19.0, 20.0, 21.0), (lamp,), series=(("cable", Triple(0.0, 0.125, 0.25)),)))
    >>> [round(volts, 3) for volts in triple.nodes["bus"].voltage_v]
    [18.514, 19.772, 21.0]
    """
    points: dict[Corner, OperatingPoint] = {}
    collapsed: dict[Corner, Network] = {}
    for corner, network in networks(spec):
        warm, solution = settled(network, off)
        if isnan(solution.bus_v):
            collapsed[corner] = warm
        else:
            points[corner] = describe(warm, solution, off)
    # The worst of them asks most of the least: it has the most ends at their worst.
    fallen = (collapsed[max(collapsed, key=agreement)], off) if collapsed else None
    typical = points.get(TYPICAL) or _cold_typical(spec, off)
    if typical is None:
        return OperatingTriple({}, {}, {}, None, points, tuple(collapsed), fallen)
    solved = [*points.values(), typical]
    # What is just switched on has no temperature yet.
    heated = [point for point in solved if _AIR in point.nodes]
    nodes = {}
    for name, node in typical.nodes.items():
        volts, amperes = zip(*(point.nodes[name] for point in (heated if is_warm(name) else solved)), strict=True)
        nodes[name] = NodeTriple(_triple(node.voltage_v, volts), _triple(node.current_a, amperes))
    losses = {name: _triple(loss, (p.losses[name] for p in solved)) for name, loss in typical.losses.items()}
    loads = {name: _triple(power, (p.loads[name] for p in solved)) for name, power in typical.loads.items()}
    source_w = _triple(typical.source_w, (point.source_w for point in solved))
    return OperatingTriple(nodes, losses, loads, source_w, points, tuple(collapsed), fallen)


def _cold_typical(spec: NetworkSpec, off: frozenset[str]) -> OperatingPoint | None:
    """The typical point of what collapses only once it is warm, as it is just after it is switched on."""
    if spec.heat is None or not spec.heat.cold:
        return None
    network = network_at(spec._replace(heat=None))
    solution = network.solve(off)
    return None if isnan(solution.bus_v) else describe(network, solution, off)


def _triple(typical: float, values: Iterable[float]) -> Triple:
    listed = list(values)
    return Triple(min(listed), typical, max(listed))


def agreement(corner: Corner) -> int:
    """How many of its ends are those of the worst corner, less those of the best."""
    return sum(a * b for a, b in zip(corner, WORST, strict=True))


def networks(spec: NetworkSpec) -> Iterator[tuple[Corner, Network]]:
    """Every corner with its network, the typical one first."""
    for corner in spec_corners(spec):
        yield corner, network_at(spec, corner)


def with_shares(spec: NetworkSpec, shares: Mapping[str, float]) -> NetworkSpec:
    """The network with the loads of the named branches at their shares, the others as they are."""
    branches = tuple(branch.sharing(shares.get(branch.name, 1.0)) for branch in spec.branches)
    return spec._replace(branches=branches)


def with_output_scaled(spec: NetworkSpec, factor: float) -> NetworkSpec:
    """The network with every converter set that much off."""
    branches = tuple(
        branch
        if branch.converter is None
        else branch._replace(converter=branch.converter.with_output(branch.converter.output_v * factor))
        for branch in spec.branches
    )
    return spec._replace(branches=branches)
