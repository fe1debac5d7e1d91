"""Many cells at once: the same bus on arrays of source voltages and series resistances, with NumPy.

The branches are those of one network; what differs from cell to cell is the source, the cable and the limit. The steps
and the formulas are those of ``solve.py``, taken by all open cells together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pdcheck.circuit.formulas import table_current
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.ports import TANGENT, Port
from pdcheck.circuit.solve import ON_THE_LIMIT, Piece, intervals, network_ports
from pdcheck.circuit.table_port import TablePiece

Floats = NDArray[np.float64]
_NEWTON_STEPS = 200


class BulkPoint(NamedTuple):
    """The operating points of all cells; NaN in a cell that collapses.

    Arrays of one shape: ``source_v`` and ``bus_v`` [V], ``current_a`` from the source [A], ``constant_current`` (bool),
    and per branch name the current into it and the voltage at its converter's input (``branch_a``, ``input_v``).
    """

    source_v: Floats
    bus_v: Floats
    current_a: Floats
    constant_current: NDArray[np.bool_]
    branch_a: dict[str, Floats]
    input_v: dict[str, Floats]

    @property
    def collapsed(self) -> NDArray[np.bool_]:
        """True in each cell that has no operating point."""
        return np.isnan(self.bus_v)


def operating_points(
    branches: Sequence[Branch],
    source_v: ArrayLike,
    series_ohm: ArrayLike,
    *,
    limit_a: ArrayLike | None = None,
    bus_a: float = 0.0,
    off: frozenset[str] = frozenset(),
) -> BulkPoint:
    """The operating points of one set of branches on many sources and cables.

    Args:
        branches: the branches, the same in every cell.
        source_v: open-circuit voltages [V].
        series_ohm: loop resistances of cable and trigger [ohm]; broadcast against ``source_v``.
        limit_a: currents at which the sources hold the current [A], infinite for none; broadcast likewise.
        bus_a: what the bus itself draws [A].
        off: names of branches that are switched off.

    >>> from pdcheck.circuit.network import ConstantPower
    >>> point = operating_points([Branch("lamp", ConstantPower(36.0))], [20.0, 20.0], [0.25, 4.0])
    >>> point.bus_v.round(4).tolist()
    [19.5394, nan]
    """
    given_v, series, limit = np.broadcast_arrays(
        np.asarray(source_v, dtype=np.float64),
        np.asarray(series_ohm, dtype=np.float64),
        np.asarray(np.inf if limit_a is None else limit_a, dtype=np.float64),
    )
    shape = given_v.shape
    open_v, series, limit = (np.array(values, dtype=np.float64).ravel() for values in (given_v, series, limit))
    ports = network_ports(Network(Source(0.0), tuple(branches), bus_a=bus_a), off)
    terminal_v, constant = open_v.copy(), np.zeros(open_v.shape, dtype=np.bool_)
    if ports is None:
        bus_v = np.full(open_v.shape, np.nan)
    else:
        bus_v = highest_roots(ports, open_v, 1.0, series, open_v)
        constant = drawn(ports, bus_v)[0] > limit * (1.0 + ON_THE_LIMIT)
        if constant.any():
            start_v = open_v[constant] - series[constant] * limit[constant]
            bus_v[constant] = highest_roots(ports, limit[constant], 0.0, np.ones(start_v.shape), start_v)
            terminal_v[constant] = bus_v[constant] + series[constant] * limit[constant]
    total, each = drawn(ports or [], bus_v)
    terminal_v[np.isnan(bus_v)] = np.nan
    branch_a = {branch.name: amperes.reshape(shape) for branch, amperes in zip(branches, each, strict=False)}
    input_v = {
        branch.name: (bus_v - branch.wire_ohm * amperes).reshape(shape)
        for branch, amperes in zip(branches, each, strict=False)
    }
    return BulkPoint(
        terminal_v.reshape(shape),
        bus_v.reshape(shape),
        total.reshape(shape),
        constant.reshape(shape),
        branch_a,
        input_v,
    )


def highest_roots(ports: Sequence[Port], given: Floats, per_volt: float, per_ampere: Floats, start_v: Floats) -> Floats:
    """For each cell the highest V <= start_v with given = per_volt x V + per_ampere x sum I_b(V), else NaN.

    The same steps as ``solve.highest_root``; all arrays have one dimension and one length.
    """
    found = np.full(start_v.shape, np.nan)
    bus_v = start_v.copy()
    left = np.flatnonzero(start_v > 0.0)
    for low, high, pieces in intervals(ports):
        np.minimum(bus_v, high, out=bus_v)
        inside = bus_v[left] >= low * (1.0 - TANGENT)
        cells, later = left[inside], [left[~inside]]
        for _ in range(_NEWTON_STEPS):
            if not cells.size:
                break
            at = bus_v[cells]
            excess = given[cells] - per_volt * at
            slope = np.full(at.shape, -per_volt)
            for piece in pieces:
                current, current_slope = _current(piece, at)
                excess = excess - per_ampere[cells] * current
                slope = slope - per_ampere[cells] * current_slope
            step = np.where(slope < 0.0, excess / np.where(slope < 0.0, slope, -1.0), at)
            leaves = step >= at - low
            touches = -excess <= TANGENT * given[cells]
            done = (excess >= 0.0) | (touches & (leaves | (step <= 1e-14 * at)))
            found[cells[done]] = at[done]
            later.append(cells[leaves & ~done])
            stays = ~(leaves | done)
            cells = cells[stays]
            bus_v[cells] = at[stays] - step[stays]
        left = np.concatenate(later)
    return found


def drawn(ports: Sequence[Port], bus_v: Floats) -> tuple[Floats, list[Floats]]:
    """What all ports draw together at each bus voltage, and each of them; NaN where the voltage is."""
    each: list[Floats] = []
    for port in ports:
        amperes = np.full(bus_v.shape, np.nan)
        for low, high, [piece] in intervals([port]):
            here = (bus_v >= low * (1.0 - TANGENT)) & (bus_v < high) & np.isnan(amperes)
            if here.any():
                amperes[here] = _current(piece, bus_v[here])[0]
        each.append(amperes)
    total: Floats = np.sum(each, axis=0) if each else np.where(np.isnan(bus_v), np.nan, 0.0)
    return total, each


def _current(piece: Piece, bus_v: Floats) -> tuple[NDArray[Any], NDArray[Any]]:
    if not isinstance(piece, TablePiece):
        return piece.current(bus_v)
    x = np.minimum(piece.high_x, bus_v)
    for _ in range(_NEWTON_STEPS):
        current, slope = table_current(x, piece.output_w, piece.idle_w, piece.offset, piece.gradient)
        along = 1.0 + piece.resistance_ohm * slope
        above = x + piece.resistance_ohm * current - bus_v
        moves = (above > 0.0) & (along > 0.0)
        step = np.where(moves, above / np.where(moves, along, 1.0), 0.0)
        x = x - step
        if np.all(step <= 1e-15 * x):
            break
    x = np.maximum(x, piece.low_x)
    current, slope = table_current(x, piece.output_w, piece.idle_w, piece.offset, piece.gradient)
    return current, slope / np.maximum(1.0 + piece.resistance_ohm * slope, 1e-300)
