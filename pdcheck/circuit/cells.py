"""Many circuits over all corners of tolerance at once: one set of branches on many sources and cables, with NumPy.

What ``corners.py`` tells of one circuit, min and max of every node over the corners, this tells of an array of them:
the same corners and the same sums, of which only the ends are kept.
"""

from __future__ import annotations

from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.corners import TYPICAL, NetworkSpec, networks
from pdcheck.circuit.network import Network
from pdcheck.circuit.point import is_warm, losses_of, nodes_of
from pdcheck.circuit.warm import settled
from pdcheck.named import NamedTuple

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class NodeArrays(NamedTuple):
    """Voltage [V] and current [A] of a node: three rows, min, typ and max, one column a circuit."""

    voltage_v: Floats
    current_a: Floats


class CellTriples(NamedTuple):
    """All corners together, of each circuit.

    ``nodes`` are NaN where the typical corner has no solution. ``collapsed``: some corner has none. ``held_v``: the
    lowest voltage [V] to which a source that holds its current falls, NaN where none does. ``most_w``: the most power
    through the ends of each branch, ``NAME/in`` and ``NAME/load`` [W]. ``drops``: by (start, end) node, the greatest
    drop as a part of what it starts with: (drop, voltage) [V], zero where no corner has a solution. ``typical``: with
    everything as stated, what is lost by part, and what is useful by branch [W].
    """

    nodes: dict[str, NodeArrays]
    collapsed: Bools
    held_v: Floats
    most_w: dict[str, Floats]
    drops: dict[tuple[str, str], tuple[Floats, Floats]]
    typical: tuple[dict[str, Floats], dict[str, Floats]]


def cells_over_corners(spec: NetworkSpec, off: frozenset[str] = frozenset()) -> CellTriples:
    """Min, typ and max of every node of every circuit of a spec whose ``source_v`` is of arrays.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.parts.loads import Load
    >>> from pdcheck.quantities import Triple
    >>> source_v = Triple(*np.array([[19.0], [20.0], [21.0]]))
    >>> spec = NetworkSpec(source_v, (BranchSpec("lamp", Load("36W")),), cable=Triple(0.0, 0.125, 0.25))
    >>> cells_over_corners(spec).nodes["bus"].voltage_v.ravel().round(3).tolist()
    [18.514, 19.772, 21.0]
    """
    gathered = _Gathered(np.asarray(spec.source_v.typ).size)
    for corner, network in networks(spec):
        gathered.add(network, off, corner == TYPICAL)
    for name, node in gathered.nodes.items():
        fails = gathered.warm_fails if is_warm(name) else gathered.typical_fails
        node.voltage_v[:, fails] = np.nan
        node.current_a[:, fails] = np.nan
    told = gathered.nodes, gathered.collapsed, gathered.held_v, gathered.most_w, gathered.drops, gathered.typical
    return CellTriples(*told)


class _Gathered:
    """What the corners have told so far."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.nodes: dict[str, NodeArrays] = {}
        self.collapsed: Bools = np.zeros(count, dtype=np.bool_)
        self.typical_fails: Bools = self.collapsed
        self.warm_fails: Bools = self.collapsed
        self.held_v: Floats = np.full(count, np.nan)
        self.most_w: dict[str, Floats] = {}
        self.drops: dict[tuple[str, str], tuple[Floats, Floats]] = {}
        self.typical: tuple[dict[str, Floats], dict[str, Floats]] = {}, {}

    def add(self, network: Network, off: frozenset[str], typical: bool) -> None:
        """Solve a corner and keep its ends."""
        switched_on = network._replace(heat=None)
        network, solution = settled(network, off)
        fails = np.isnan(solution.bus_v)
        self.collapsed = self.collapsed | fails
        self.held_v = np.fmin(self.held_v, np.where(solution.constant_current, solution.source_v, np.nan))
        # Annotated for one circuit; of many, each figure is an array.
        nodes = cast(dict[str, tuple[Floats, Floats]], nodes_of(network, solution, off))
        for name, (volts, amperes) in nodes.items():
            self._node(name, volts, amperes, typical)
        if typical:
            self.typical = cast(Any, losses_of(network, solution, cast(Any, nodes), off))
            self.typical_fails = self.warm_fails = fails
            if network.heat is not None and fails.any():
                self._cold(switched_on, off)
        for branch in network.branches:
            name = branch.name
            for node in (f"{name}/in", f"{name}/load"):
                volts, amperes = nodes[node]
                self.most_w[node] = np.fmax(self.most_w.get(node, np.nan), volts * amperes)
            for start, end in (("bus", f"{name}/in"), (f"{name}/out", f"{name}/load")):
                self._drop(start, end, nodes[start][0], nodes[end][0])

    def _cold(self, network: Network, off: frozenset[str]) -> None:
        """Where it collapses only once it is warm, the typical point is that of just after it is switched on."""
        solution = network.solve(off)
        self.typical_fails = np.isnan(solution.bus_v)
        for name, (volts, amperes) in cast(dict[str, tuple[Floats, Floats]], nodes_of(network, solution, off)).items():
            for rows, values in zip(self.nodes[name], (volts, amperes), strict=True):
                own = np.where(self.warm_fails, values, np.nan)
                rows[1] = np.where(self.warm_fails, own, rows[1])
                np.fmin(rows[0], own, out=rows[0])
                np.fmax(rows[2], own, out=rows[2])

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
