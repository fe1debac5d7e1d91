"""How much load many cells can carry, each its own factor: one set of branches, the loads scaled cell by cell.

The loads of a cell are scaled together until something passes its limit at some corner. More load only ever makes
things worse, so a bisection of all open cells in step finds where, corner by corner: what holds at the worst one is
mostly only confirmed at the others. Branches whose efficiency depends on the input voltage go through
``bulk_tables.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.bulk_corners import Bools, Floats, Supplies, cell_corners
from pdcheck.circuit.bulk_tables import Table, highest_with_tables
from pdcheck.circuit.corners import EXACT, WORST, Corner, NetworkSpec
from pdcheck.circuit.network import Branch, Converter, EfficiencyTable, Network
from pdcheck.circuit.ports import NOTHING, TANGENT, CurrentPort, LinearPort, PowerPort, load_port
from pdcheck.circuit.solve import ON_THE_LIMIT

_NEXT_TO_NOTHING = 1e-6
_RESOLUTION = 1e-5
_FAR = 1e9
_NEWTON_STEPS = 200

Ends = PowerPort | CurrentPort | LinearPort
Cells = NDArray[np.intp]
Holds = Callable[[Cells, Floats], Bools]
"""Whether each of some cells, by index, holds with its loads scaled by a factor."""


class Bound(NamedTuple):
    """A limit on what happens at a node of the circuit: the least ``voltage`` [V], the most ``current`` [A] or
    ``power`` [W]."""

    node: str
    quantity: Literal["voltage", "current", "power"]
    limit: float


class Carried(NamedTuple):
    """By cell: the greatest factor on the stated loads, and what the loads take then [W], the least over the corners.

    Both are 0 where even next to no load is too much.
    """

    factor: Floats
    load_w: Floats


def greatest_factors(
    spec: NetworkSpec,
    supplies: Supplies,
    most_a: Floats,
    bounds: Sequence[Bound],
    off: frozenset[str] = frozenset(),
    also: Holds | None = None,
) -> Carried:
    """The greatest factor on the loads of each cell at which every limit holds at every corner.

    Args:
        spec: branches and tolerances, the same in every cell.
        supplies: source, cable and limit of each cell; past its limit a source that holds its current fails.
        most_a: the most that may flow from each source [A].
        bounds: limits on nodes of the branches.
        off: names of branches that are switched off.
        also: whether cells (by index) hold with factors on their loads, by something beside the limits.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.circuit.network import ConstantPower
    >>> from pdcheck.quantities import Triple
    >>> spec = NetworkSpec(Triple.exact(0.0), (BranchSpec("lamp", ConstantPower(10.0)),))
    >>> supplies = Supplies(np.array([[20.0] * 3]), np.array([[0.2] * 3]), np.array([np.inf]))
    >>> greatest_factors(spec, supplies, np.array([3.0]), []).factor.round(2).tolist()
    [5.82]
    """
    # Far past any load the slope of a constant power is a pole, and of no account.
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        return _greatest_factors(spec, supplies, most_a, bounds, off, also)


def _greatest_factors(
    spec: NetworkSpec,
    supplies: Supplies,
    most_a: Floats,
    bounds: Sequence[Bound],
    off: frozenset[str],
    also: Holds | None,
) -> Carried:
    corners = sorted(cell_corners(spec, supplies), key=lambda each: -_agreement(each[0]))
    count = len(most_a)
    most = np.minimum(most_a, supplies.limit_a)
    tests: list[Holds] = [LoadedCells(*each[1:], most, bounds, off).holds for each in corners]
    if also is not None:
        tests.append(also)
    alive = np.arange(count)
    for holds in tests:
        alive = alive[holds(alive, np.full(alive.shape, _NEXT_TO_NOTHING))]
    reached = np.zeros(count)
    reached[alive] = _greatest(tests, alive)
    load_w = np.zeros(count)
    if alive.size:
        load_w[alive] = _least_load_w(spec, supplies, alive, reached[alive], off)
    return Carried(reached, load_w)


def _agreement(corner: Corner) -> int:
    return sum(a * b for a, b in zip(corner, WORST, strict=True))


def _least_load_w(spec: NetworkSpec, supplies: Supplies, cells: Cells, factor: Floats, off: frozenset[str]) -> Floats:
    least = np.full(cells.shape, np.inf)
    nothing = np.full(len(supplies.limit_a), np.inf)
    for _, network, open_v, series in cell_corners(spec._replace(load=EXACT), supplies):
        at = LoadedCells(network, open_v, series, nothing, (), off)
        np.fmin(least, at.load_w(cells, factor), out=least)
    return np.where(np.isinf(least), 0.0, least)


def _greatest(tests: Sequence[Holds], cells: Cells) -> Floats:
    """The greatest factor of each of these cells, which pass every test at next to nothing."""
    best = np.full(cells.shape, 2.0 * _FAR)
    for holds in tests:
        # Only where this test is the harder one does it need a search of its own.
        past = np.flatnonzero(~holds(cells, best))
        if past.size:
            best[past] = _greatest_of(holds, cells[past], best[past])
    return best


def _greatest_of(holds: Holds, cells: Cells, high: Floats) -> Floats:
    """The greatest factor below ``high``, where the test fails: doubled or halved to a bracket, then bisected."""
    low, tried = np.full(cells.shape, _NEXT_TO_NOTHING), np.minimum(1.0, high)
    left = np.arange(cells.size)
    while left.size:
        middle = tried[left]
        held = holds(cells[left], middle)
        low[left[held]], high[left[~held]] = middle[held], middle[~held]
        lowest, highest = low[left], high[left]
        wider = np.where(held, np.minimum(2.0 * middle, highest), np.sqrt(lowest * highest))
        tried[left] = np.where(highest <= 2.0 * lowest, 0.5 * (lowest + highest), wider)
        left = left[(highest - lowest > _RESOLUTION * highest) & (lowest < _FAR)]
    return low


class SolvedLoads(NamedTuple):
    """Bus voltage [V] (NaN: none), current from the source [A], each port's current, what converters deliver [A]."""

    bus_v: Floats
    current_a: Floats
    branch_a: list[Floats]
    output_a: list[Floats | None]


class LoadedCells:
    """All cells at one corner, with any factor on each one's loads."""

    def __init__(
        self,
        network: Network,
        open_v: Floats,
        series_ohm: Floats,
        most_a: Floats,
        bounds: Sequence[Bound],
        off: frozenset[str],
    ) -> None:
        self.network, self.open_v, self.series_ohm, self.most_a = network, open_v, series_ohm, most_a
        self.bounds, self.off = bounds, off

    def holds(self, cells: Cells, factor: Floats) -> Bools:
        """Whether each of these cells keeps every limit with its loads scaled."""
        solved = self.solve(cells, factor)
        over, under = 1.0 + ON_THE_LIMIT, 1.0 - ON_THE_LIMIT
        # NaN compares false: a cell without an operating point does not hold.
        held: Bools = solved.current_a <= self.most_a[cells] * over
        by_name = {branch.name: index for index, branch in enumerate(self.network.branches)}
        for node, quantity, limit in self.bounds:
            name, _, end = node.rpartition("/")
            if name in self.off:
                continue
            volts, amperes = self._node(solved, by_name[name], end)
            if quantity == "voltage":
                held &= volts >= limit * under
            else:
                held &= (amperes if quantity == "current" else volts * amperes) <= limit * over
        return held

    def load_w(self, cells: Cells, factor: Floats) -> Floats:
        """What all loads of each cell take [W]; NaN where there is no operating point."""
        solved = self.solve(cells, factor)
        total = np.where(np.isnan(solved.bus_v), np.nan, 0.0)
        for index, branch in enumerate(self.network.branches):
            if branch.name not in self.off:
                volts, amperes = self._node(solved, index, "load")
                total = total + volts * amperes
        return total

    def _node(self, solved: SolvedLoads, index: int, end: str) -> tuple[Floats, Floats]:
        branch, amperes, output_a = self.network.branches[index], solved.branch_a[index], solved.output_a[index]
        volts = solved.bus_v - branch.wire_ohm * amperes
        if end == "in":
            return volts, amperes
        if output_a is not None and branch.converter is not None:
            volts, amperes = np.full(volts.shape, branch.converter.output_v), output_a
        return (volts - branch.lead_ohm * amperes, amperes) if end == "load" else (volts, amperes)

    def solve(self, cells: Cells, factor: Floats) -> SolvedLoads:
        """The bus of each of these cells with its loads scaled."""
        ports: list[Ends] = []
        outputs: list[Floats | None] = []
        tables: dict[int, Table] = {}
        for index, branch in enumerate(self.network.branches):
            port, output_a = (NOTHING, None) if branch.name in self.off else scaled_port(branch, factor)
            if output_a is not None and varies(branch):
                port, tables[index] = NOTHING, _table(branch, output_a)
            ports.append(port)
            outputs.append(output_a)
        open_v, series_ohm, bus_a = self.open_v[cells], self.series_ohm[cells], self.network.bus_a
        if not tables:
            bus_v = highest_buses(ports, open_v, series_ohm, bus_a)
            each = [port.current(bus_v)[0] for port in ports]
        else:
            bus_v = _with_tables(ports, tables, open_v, series_ohm, bus_a)
            solved = np.arange(cells.size)
            each = [
                tables[index].settle(solved, bus_v)[0] if index in tables else port.current(bus_v)[0]
                for index, port in enumerate(ports)
            ]
        return SolvedLoads(bus_v, cast(Floats, sum(each)) + bus_a, each, outputs)


def varies(branch: Branch) -> bool:
    """Whether a branch's efficiency changes with its input voltage."""
    stated = None if branch.converter is None else branch.converter.efficiency
    return isinstance(stated, EfficiencyTable) and len(stated.input_v) > 1


def _table(branch: Branch, output_a: Floats) -> Table:
    converter = branch.converter
    if converter is None or not isinstance(converter.efficiency, EfficiencyTable):
        raise AssertionError("a branch that varies has a table")
    stated = converter.efficiency
    efficiency = np.array([np.interp(output_a, stated.output_a, row) for row in stated.values])
    output_w = converter.output_v * output_a
    return Table(stated.input_v, efficiency, output_w, converter.idle_w, branch.wire_ohm)


def _with_tables(
    ports: Sequence[Ends], tables: dict[int, Table], open_v: Floats, series_ohm: Floats, bus_a: float
) -> Floats:
    least = np.zeros(open_v.shape)
    for port in ports:
        least = np.maximum(least, least_voltages(port))

    def beside(cells: Cells, bus_v: Floats) -> tuple[Floats, Floats]:
        drawn, along = np.full(bus_v.shape, bus_a), np.zeros(bus_v.shape)
        for port in ports:
            current, slope = _taken(port, cells).current(bus_v)
            drawn, along = drawn + current, along + slope
        return drawn, along

    return highest_with_tables(list(tables.values()), beside, least, open_v, series_ohm)


def _many(values: Floats) -> float:
    """Ports work on arrays as they work on floats, which is what they are annotated with."""
    return cast(float, values)


def scaled_port(branch: Branch, factor: Floats) -> tuple[Ends, Floats | None]:
    """A branch as the bus sees it with its load scaled by each of many factors, and what its converter delivers [A].

    Power and current go with the factor, resistance against it. NaN where the lead has no solution.

    >>> from pdcheck.circuit.network import ConstantCurrent
    >>> scaled_port(Branch("fan", ConstantCurrent(2.0), Converter("buck", 5.0, 0.5)), np.array([1.0, 2.0]))[0].power_w
    array([20., 40.])
    """
    converter = branch.converter
    before = branch.lead_ohm + (branch.wire_ohm if converter is None else 0.0)
    stated = load_port(branch.load, before)
    port: Ends
    match stated:
        case PowerPort():
            port = PowerPort(before, _many(stated.power_w * factor))
        case CurrentPort():
            port = CurrentPort(before, _many(stated.current_a * factor))
        case LinearPort():
            own = stated.resistance_ohm - before
            port = LinearPort(_many(before + own / factor), stated.threshold_v)
    if converter is None:
        return port, None
    volts = np.full(factor.shape, converter.output_v)
    output_a = np.where(volts < least_voltages(port) * (1.0 - TANGENT), np.nan, port.current(volts)[0])
    return PowerPort(branch.wire_ohm, _many(input_power_w(converter, output_a, volts))), output_a


def input_power_w(converter: Converter, output_a: Floats | float, input_v: Floats) -> Floats:
    """What a converter takes [W] at input voltages [V] while it delivers a current [A]: as ``ports.input_power``.

    Of a table with several input voltages the output current is one for all.
    """
    stated = converter.efficiency
    efficiency: Floats | float
    if not isinstance(stated, EfficiencyTable):
        efficiency = stated
    elif isinstance(output_a, float):
        efficiency = np.interp(input_v, stated.input_v, stated.over_input(output_a))
    else:
        efficiency = np.interp(output_a, stated.output_a, stated.values[0])
    return np.zeros(input_v.shape) + converter.output_v * output_a / efficiency + converter.idle_w


def least_voltages(port: Ends) -> Floats | float:
    """The least voltage [V] of a port of one load or of many."""
    if isinstance(port, PowerPort):
        return 2.0 * cast(Floats, np.sqrt(port.resistance_ohm * port.power_w))
    return port.least_v


def _taken(port: Ends, cells: Cells) -> Ends:
    """The port of some of the cells."""
    figures = (each[cells] if isinstance(each, np.ndarray) else each for each in port)
    return type(port)(*figures)


def highest_buses(ports: Sequence[Ends], open_v: Floats, series_ohm: Floats, bus_a: float = 0.0) -> Floats:
    """The highest bus voltage [V] of each cell, NaN where it collapses: the steps of ``solve.highest_root``."""
    ports = [*ports, CurrentPort(0.0, bus_a)] if bus_a else ports
    found = np.full(open_v.shape, np.nan)
    least = np.zeros(open_v.shape)
    for port in ports:
        least = np.maximum(least, least_voltages(port))
    # NaN, a lead without solution, compares false.
    cells = np.flatnonzero((open_v > 0.0) & (open_v >= least * (1.0 - TANGENT)))
    bus_v = open_v[cells]
    open_v, series_ohm, least = open_v[cells], series_ohm[cells], least[cells]
    ports = [_taken(port, cells) for port in ports]
    for _ in range(_NEWTON_STEPS):
        if not cells.size:
            break
        drawn, along = np.zeros(bus_v.shape), np.zeros(bus_v.shape)
        for port in ports:
            current, slope = port.current(bus_v)
            drawn, along = drawn + current, along + slope
        excess = open_v - bus_v - series_ohm * drawn
        falls = -1.0 - series_ohm * along
        step = np.where(falls < 0.0, excess / np.where(falls < 0.0, falls, -1.0), bus_v)
        leaves = step >= bus_v - least
        touches = -excess <= TANGENT * open_v
        done = (excess >= 0.0) | (touches & (leaves | (step <= 1e-14 * bus_v)))
        found[cells[done]] = bus_v[done]
        stays = np.flatnonzero(~(leaves | done))
        if stays.size < cells.size:
            cells, ports = cells[stays], [_taken(port, stays) for port in ports]
            open_v, series_ohm, least = open_v[stays], series_ohm[stays], least[stays]
            bus_v, step = bus_v[stays], step[stays]
        bus_v = bus_v - step
    return found
