"""Many circuits over all corners of tolerance at once: one set of branches on many sources and cables, with NumPy.

What ``corners.py`` tells of one circuit, min and max of every node over the corners, this tells of an array of them:
the same corners and the same sums, of which only the ends are kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.corners import TYPICAL, NetworkSpec, networks
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
    >>> series = (("cable", Triple(0.0, 0.125, 0.25)),)
    >>> spec = NetworkSpec(source_v, (BranchSpec("lamp", Load("36W")),), series=series)
    >>> cells_over_corners(spec).nodes["bus"].voltage_v.ravel().round(3).tolist()
    [18.514, 19.772, 21.0]
    """
    count = np.asarray(spec.source_v.typ).size
    collapsed, held_v = np.zeros(count, dtype=np.bool_), np.full(count, np.nan)
    nodes: dict[str, NodeArrays] = {}
    most_w: dict[str, Floats] = {}
    drops: dict[tuple[str, str], tuple[Floats, Floats]] = {}
    for corner, network in networks(spec):
        warm, solution = settled(network, off)
        fails = np.isnan(solution.bus_v)
        collapsed |= fails
        held_v = np.fmin(held_v, np.where(solution.constant_current, solution.source_v, np.nan))
        # Annotated for one circuit; of many, each figure is an array.
        seen: dict[str, Any] = nodes_of(warm, solution, off)
        _widen(nodes, seen, count, corner == TYPICAL)
        if corner == TYPICAL:
            typical = cast(Any, losses_of(warm, solution, seen, off))
            typical_fails = warm_fails = fails
            if network.heat is not None and fails.any():
                # Where it collapses only once it is warm, the typical point is that of just after it is switched on.
                cold = network._replace(heat=None)
                solution = cold.solve(off)
                typical_fails = np.isnan(solution.bus_v)
                just_on = nodes_of(cold, solution, off).items()
                _widen(nodes, {name: np.where(fails, node, np.nan) for name, node in just_on}, count, True)
        for branch in network.branches:
            name = branch.name
            for node in (f"{name}/in", f"{name}/load"):
                most_w[node] = np.fmax(most_w.get(node, np.nan), seen[node].voltage_v * seen[node].current_a)
            for start, end in (("bus", f"{name}/in"), (f"{name}/out", f"{name}/load")):
                known = drops.get((start, end), (np.zeros(count), np.zeros(count)))
                drops[start, end] = _greater_drop(*known, seen[start].voltage_v, seen[end].voltage_v)
    for name, arrays in nodes.items():
        for rows in arrays:
            rows[:, warm_fails if is_warm(name) else typical_fails] = np.nan
    return CellTriples(nodes, collapsed, held_v, most_w, drops, typical)


def _widen(nodes: dict[str, NodeArrays], seen: Mapping[str, Any], count: int, typical: bool) -> None:
    """Widen what is known of each node by what was seen of it, at the typical corner or another."""
    for name, figures in seen.items():
        known = nodes.get(name) or nodes.setdefault(name, NodeArrays(*np.full((2, 3, count), np.nan)))
        for rows, values in zip(known, figures, strict=True):
            np.fmin(rows[0], values, out=rows[0])
            np.fmax(rows[2], values, out=rows[2])
            if typical:
                # Not a number yet, or where it collapses warm.
                np.fmin(rows[1], values, out=rows[1])


def _greater_drop(drop: Floats, whole: Floats, first_v: Floats, last_v: Floats) -> tuple[Floats, Floats]:
    here = first_v - last_v
    # Compared crosswise, so that nothing is divided by 0 V.
    more = (first_v > 0.0) & ((whole == 0.0) | (here * whole > drop * first_v))
    return np.where(more, here, drop), np.where(more, first_v, whole)
