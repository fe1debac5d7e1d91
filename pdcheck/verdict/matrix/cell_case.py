"""CellCase: a case of which the circuit was solved on arrays, together with many others."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

import numpy as np

from pdcheck.circuit.carried import Cells, LoadedCells
from pdcheck.circuit.cells import Bools, Floats, cells_over_corners
from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import WORST, NetworkSpec, network_at
from pdcheck.circuit.network import Source as Feed
from pdcheck.circuit.plug_in import Input, Start, Trouble, before_voltages, inputs, troubled
from pdcheck.circuit.startup import Latch, latching
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case

_NOT_WORKED_OUT = float("nan")
_SOMEWHERE = Collapse("bus", _NOT_WORKED_OUT, _NOT_WORKED_OUT, _NOT_WORKED_OUT, _NOT_WORKED_OUT)
_SOME = Start("", _NOT_WORKED_OUT)
_PULLED = Trouble("pulls down", _SOME, (), _NOT_WORKED_OUT, _NOT_WORKED_OUT)
_NEVER = Trouble("never starts", _SOME, (), _NOT_WORKED_OUT, _NOT_WORKED_OUT)
_SWINGS = (Input(Start("", 0.0, inductance_h=1.0, input_f=1.0), 1.0, 1.0, 1.0, True, False),)
_LATCHED = (Latch("", _NOT_WORKED_OUT, _NOT_WORKED_OUT, _NOT_WORKED_OUT, None),)

Rows = tuple[list[float], list[float], list[float]]
_NOWHERE: Rows = [], [], []


class Circuit(NamedTuple):
    """What a rig's circuit depends on; cells that agree in all of it share one solution.

    ``limit_a`` [A] is where the source holds its current, infinite where it does not. ``kind`` counts the sets of
    branches that there are: one for each rig, and for each resistor that its LEDs get. ``before_a`` [A] is there before
    the contract, 0 where there is none or nothing draws then; ``contract_a`` [A] after it, infinite where no start
    takes more than running does.
    """

    source_v: Triple
    cable: Triple
    limit_a: float
    kind: int
    off: frozenset[str]
    before_a: float = 0.0
    contract_a: float = float("inf")

    @property
    def group(self) -> tuple[object, ...]:
        """Circuits that agree in this can be solved together."""
        return self.kind, self.off, self.limit_a < float("inf"), self.before_a > 0.0

    @property
    def ranged(self) -> tuple[bool, bool]:
        """Circuits that agree in this too have as many corners; where there are many, others are solved apart."""
        return self.source_v.max > self.source_v.min, self.cable.max > self.cable.min


def spec_of(circuits: Sequence[Circuit], spec: NetworkSpec) -> NetworkSpec:
    """The circuits of a group as one spec, with an array for each figure that differs among them."""
    limits = np.array([circuit.limit_a for circuit in circuits])
    rest = [part for part in spec.series if part[0] != "cable"]
    return spec._replace(
        source_v=Triple(*np.array([circuit.source_v for circuit in circuits]).T),
        series=(("cable", Triple(*np.array([circuit.cable for circuit in circuits]).T)), *rest),
        holds_a=limits if np.isfinite(limits).all() else None,
    )


def latched(spec: NetworkSpec, limit_a: Floats, cells: Cells, factor: Floats | None = None) -> Bools:
    """Whether a converter latches low in each of some cells at the worst corner, with all loads scaled or as stated."""
    worst = LoadedCells(network_at(spec, WORST))
    loaded = worst.demanding(cells, np.ones(cells.shape) if factor is None else factor)
    stuck: Bools = latching(loaded, limit_a[cells])
    return stuck


class Plugged(NamedTuple):
    """The first second of each of some cells: what breaks down on 5 V, with what is known to start or with everything;
    what breaks down or never starts on the contract; which inputs swing."""

    sure: Bools
    every: Bools
    pulled: Bools
    never: Bools
    swings: Bools

    @property
    def fails(self) -> Bools:
        """Which of the cells do not get to run."""
        found: Bools = self.sure | self.pulled | self.never | self.swings
        return found


def plugged_in(
    spec: NetworkSpec,
    circuits: Sequence[Circuit],
    starts: tuple[Start, ...],
    cells: Cells,
    factor: Floats | None = None,
) -> Plugged:
    """What ``Case`` tells of the first second, for some of many circuits, with all loads scaled or as stated."""
    off = circuits[0].off
    none: Bools = np.zeros(cells.shape, dtype=np.bool_)
    sure = every = pulled = never = swings = none
    worst = LoadedCells(network_at(spec._replace(holds_a=None), WORST))
    network = worst.demanding(cells, np.ones(cells.shape) if factor is None else factor)
    if circuits[0].before_a:
        limit_a = np.array([circuit.before_a for circuit in circuits])[cells]
        unsure = frozenset(start.branch for start in starts if not start.sure)
        for volts, waiting in before_voltages(starts):
            before = network._replace(source=Feed(np.full(cells.shape, volts)))
            sure = sure | troubled(before, starts, limit_a, off | unsure | waiting, last=False)[0]
            every = every | (troubled(before, starts, limit_a, off | waiting, last=False)[0] if unsure else sure)
    if any(start.demanding for start in starts):
        limit_a = np.array([circuit.contract_a for circuit in circuits])[cells]
        pulled, never = troubled(network, starts, limit_a, off, last=True)
    if any(start.may_swing for start in starts):
        for found in inputs(network, starts, off):
            swings = swings | (found.runs & ~found.settles)
    return Plugged(sure, every, pulled, never, swings)


class SolvedTogether:
    """The circuits of a group, solved: plain lists, since the rules look at one cell after the other."""

    def __init__(
        self, spec: NetworkSpec, off: frozenset[str], circuits: Sequence[Circuit], starts: tuple[Start, ...]
    ) -> None:
        self.told = told = cells_over_corners(spec, off)
        self.voltage_v: dict[str, Rows] = {name: _rows(node.voltage_v) for name, node in told.nodes.items()}
        self.current_a: dict[str, Rows] = {name: _rows(node.current_a) for name, node in told.nodes.items()}
        self.collapsed: list[bool] = told.collapsed.tolist()
        self.held_v: list[float] = told.held_v.tolist()
        self.most_w: dict[str, list[float]] = {node: most.tolist() for node, most in told.most_w.items()}
        self.losses, self.loads = ({name: listed.tolist() for name, listed in each.items()} for each in told.typical)
        self.drops = {key: (drop.tolist(), whole.tolist()) for key, (drop, whole) in told.drops.items()}
        stuck = np.zeros(told.collapsed.shape, dtype=np.bool_)
        cells = np.flatnonzero(~told.collapsed)
        if spec.holds_a is not None and cells.size:
            stuck[cells] = latched(spec, spec.holds_a, cells)
        self.latched: list[bool] = stuck.tolist()
        plugged = plugged_in(spec, circuits, starts, np.arange(len(circuits)))
        self.breaks_down = {True: plugged.every.tolist(), False: plugged.sure.tolist()}
        self.pulled: list[bool] = plugged.pulled.tolist()
        self.never: list[bool] = plugged.never.tolist()
        self.swings: list[bool] = plugged.swings.tolist()


def _rows(values: Floats) -> Rows:
    least, typical, most = values.tolist()
    return least, typical, most


class SolvedCase(Case):
    """A case that takes its circuit from ``solved``; the rules ask it as they ask any case.

    ``case`` is one on the same contract, over any cable that lets the source offer the same.
    """

    def __init__(self, case: Case, cable: Cable, solved: SolvedTogether, at: int) -> None:
        super().__init__(case.rig, case.source, cable, case.contract)
        self.seen, self.source_v, self.off = case.seen, case.source_v, case.off
        self.limits, self.known_limits = case.limits, case.known_limits
        self.starts, self.before_a = case.starts, case.before_a
        self.solved = solved
        self.at = at

    def node_voltage(self, node: str) -> Triple | None:
        return _triple(self.solved.voltage_v, node, self.at)

    def node_current(self, node: str) -> Triple | None:
        return _triple(self.solved.current_a, node, self.at)

    def worst_current(self, node: str) -> float:
        most = self.solved.current_a.get(node, _NOWHERE)[2]
        return 0.0 if not most or isnan(most[self.at]) else most[self.at]

    @property
    def collapses(self) -> bool:
        return self.solved.collapsed[self.at]

    def typical_loss(self, part: str) -> float | None:
        return self.solved.losses[part][self.at] if part in self.solved.losses else None

    def held_v(self) -> float | None:
        fallen_v = self.solved.held_v[self.at]
        return None if isnan(fallen_v) else fallen_v

    def greatest_power(self, node: str) -> float | None:
        """The most power through a node [W]: of a branch's ends, or out of a converter, which holds its voltage."""
        known = self.solved.most_w.get(node)
        if known is None:
            most = self.solved.voltage_v[node][2][self.at] * self.solved.current_a[node][2][self.at]
        else:
            most = known[self.at]
        return None if isnan(most) else most

    def greatest_drop(self, start: str, end: str) -> tuple[float, float]:
        drop, whole = self.solved.drops[start, end]
        return drop[self.at], whole[self.at]


class CellCase(SolvedCase):
    """One of which only the verdict is asked: that something goes wrong is told, and not where: ``judge`` says that."""

    @property
    def collapse(self) -> Collapse | None:
        return _SOMEWHERE if self.collapses else None

    def latches(self) -> tuple[Latch, ...]:
        return _LATCHED if self.solved.latched[self.at] else ()

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        return _PULLED if self.solved.breaks_down[every][self.at] else None

    def trouble_on_contract(self) -> Trouble | None:
        if self.solved.pulled[self.at]:
            return _PULLED
        return _NEVER if self.solved.never[self.at] else None

    def running_inputs(self) -> tuple[Input, ...]:
        return _SWINGS if self.solved.swings[self.at] else ()


def _triple(nodes: dict[str, Rows], node: str, at: int) -> Triple | None:
    least, typical, most = nodes.get(node, _NOWHERE)
    return None if not least or isnan(least[at]) else Triple(least[at], typical[at], most[at])
