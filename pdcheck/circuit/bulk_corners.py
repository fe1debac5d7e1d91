"""Many cells over all corners of tolerance at once: one set of branches on many sources and cables, with NumPy.

What ``corners.py`` tells of one network, min and max of every node over the corners, this tells of an array of them:
the same corners, and ``bulk.py`` in each.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.bulk import BulkPoint, operating_points
from pdcheck.circuit.corners import TYPICAL, Corner, NetworkSpec, end_of, network_at, spec_corners
from pdcheck.circuit.network import Branch, Network
from pdcheck.circuit.ports import output_current
from pdcheck.quantities import Triple

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class Supplies(NamedTuple):
    """What differs from cell to cell, one row each.

    ``source_v`` and ``cable`` have three columns, min, typ and max [V, ohm]; ``limit_a`` [A] is where the source holds
    its current, infinite where it does not. In one array either all cells have a range or none, for each of the two.
    """

    source_v: Floats
    cable: Floats
    limit_a: Floats


class NodeArrays(NamedTuple):
    """Voltage [V] and current [A] of a node: three rows, min, typ and max, one column a cell."""

    voltage_v: Floats
    current_a: Floats


class CellTriples(NamedTuple):
    """All corners together, of each cell.

    ``nodes`` are NaN in a cell whose typical corner has no solution. ``collapsed``: some corner has none. ``held_v``:
    the lowest voltage [V] to which a source that holds its current falls, NaN where none does. ``input_w``: the most
    that each branch takes [W]. ``drops``: by (start, end) node, the greatest drop as a part of what it starts with:
    (drop, voltage) [V], zero where no corner has a solution.
    """

    nodes: dict[str, NodeArrays]
    collapsed: Bools
    held_v: Floats
    input_w: dict[str, Floats]
    drops: dict[tuple[str, str], tuple[Floats, Floats]]


def cell_corners(spec: NetworkSpec, supplies: Supplies) -> Iterator[tuple[Corner, Network, Floats, Floats]]:
    """Every corner: the network at it (with any source and no cable), source voltages [V] and series resistances [ohm].

    The typical corner comes first.
    """
    ranged = [bool((ends[:, 2] > ends[:, 0]).any()) for ends in (supplies.source_v, supplies.cable)]
    source, cable = (Triple(0.0, 0.0, 1.0 if wide else 0.0) for wide in ranged)
    for corner in spec_corners(spec._replace(source_v=source, cable=cable)):
        yield corner, *cells_at(spec, supplies, corner)


def cells_at(spec: NetworkSpec, supplies: Supplies, corner: Corner) -> tuple[Network, Floats, Floats]:
    """The network (with any source and no cable), source voltages [V] and series resistances [ohm] at one corner."""
    network = network_at(spec._replace(cable=Triple.exact(0.0)), corner)
    least, typical, most = supplies.cable.T
    # A cable that is known as a range has its tolerance already, as in a single network.
    own = np.where(
        most > least, supplies.cable[:, corner.series + 1], typical * end_of(spec.resistance, corner.resistance)
    )
    return network, supplies.source_v[:, corner.source + 1], own + network.trigger_ohm


def cells_over_corners(spec: NetworkSpec, supplies: Supplies, off: frozenset[str] = frozenset()) -> CellTriples:
    """Min, typ and max of every node of every cell; source, cable and limit of ``spec`` are not looked at.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.circuit.network import ConstantPower
    >>> lamp = BranchSpec("lamp", ConstantPower(36.0))
    >>> spec = NetworkSpec(Triple.exact(0.0), (lamp,))
    >>> ends = Supplies(np.array([[19.0, 20.0, 21.0]]), np.array([[0.0, 0.125, 0.25]]), np.array([np.inf]))
    >>> cells_over_corners(spec, ends).nodes["bus"].voltage_v.ravel().round(3).tolist()
    [18.514, 19.772, 21.0]
    """
    count = len(supplies.limit_a)
    gathered: _Gathered | None = None
    typical_fails = np.zeros(count, dtype=np.bool_)
    for corner, network, open_v, series in cell_corners(spec, supplies):
        point = operating_points(network.branches, open_v, series, limit_a=supplies.limit_a, bus_a=spec.bus_a, off=off)
        if gathered is None:
            gathered = _Gathered(count)
        gathered.add(network.branches, point, off, corner == TYPICAL)
        if corner == TYPICAL:
            typical_fails = point.collapsed
    assert gathered is not None
    for node in gathered.nodes.values():
        node.voltage_v[:, typical_fails] = np.nan
        node.current_a[:, typical_fails] = np.nan
    return CellTriples(gathered.nodes, gathered.collapsed, gathered.held_v, gathered.input_w, gathered.drops)


class _Gathered:
    """What the corners have told so far."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.nodes: dict[str, NodeArrays] = {}
        self.collapsed: Bools = np.zeros(count, dtype=np.bool_)
        self.held_v: Floats = np.full(count, np.nan)
        self.input_w: dict[str, Floats] = {}
        self.drops: dict[tuple[str, str], tuple[Floats, Floats]] = {}

    def add(self, branches: tuple[Branch, ...], point: BulkPoint, off: frozenset[str], typical: bool) -> None:
        self.collapsed |= point.collapsed
        self.held_v = np.fmin(self.held_v, np.where(point.constant_current, point.source_v, np.nan))
        self._node("source", point.source_v, point.current_a, typical)
        self._node("bus", point.bus_v, point.current_a, typical)
        solved = np.where(point.collapsed, np.nan, 0.0)
        for branch in branches:
            name = branch.name
            input_v, input_a = point.input_v.get(name, point.bus_v), point.branch_a.get(name, solved)
            output_v, output_a = input_v, input_a
            if name in off:
                output_v = output_a = solved
            elif branch.converter is not None:
                output_v = solved + branch.converter.output_v
                output_a = solved + (output_current(branch.converter, branch) or 0.0)
            load_v = output_v - branch.lead_ohm * output_a
            for node, volts, amperes in (
                ("in", input_v, input_a),
                ("out", output_v, output_a),
                ("load", load_v, output_a),
            ):
                self._node(f"{name}/{node}", volts, amperes, typical)
            self.input_w[name] = np.fmax(self.input_w.get(name, np.full(self.count, np.nan)), input_v * input_a)
            self._drop("bus", f"{name}/in", point.bus_v, input_v)
            self._drop(f"{name}/out", f"{name}/load", output_v, load_v)

    def _node(self, name: str, volts: Floats, amperes: Floats, typical: bool) -> None:
        known = self.nodes.get(name)
        if known is None:
            known = self.nodes[name] = NodeArrays(np.full((3, self.count), np.nan), np.full((3, self.count), np.nan))
        for rows, values in ((known.voltage_v, volts), (known.current_a, amperes)):
            np.fmin(rows[0], values, out=rows[0])
            np.fmax(rows[2], values, out=rows[2])
            if typical:
                rows[1] = values

    def _drop(self, start: str, end: str, first_v: Floats, last_v: Floats) -> None:
        drop, whole = self.drops.get((start, end), (np.zeros(self.count), np.zeros(self.count)))
        here = first_v - last_v
        # Compared crosswise, so that nothing is divided by 0 V.
        more = (first_v > 0.0) & ((whole == 0.0) | (here * whole > drop * first_v))
        self.drops[start, end] = (np.where(more, here, drop), np.where(more, first_v, whole))
