"""Converters with an efficiency table in many cells at once, each cell with its own load.

The steps are those of ``table_port.py`` and ``solve.py``: along each straight line of the table everything is convex,
so Newton's steps from above never pass the highest solution, and no step goes further than the end of a line.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.bulk import Floats
from pdcheck.circuit.formulas import table_current
from pdcheck.circuit.ports import TANGENT

Cells = NDArray[np.intp]
Drawn = Callable[[Cells, Floats], tuple[Floats, Floats]]
"""What some cells, by index, draw beside the tables at bus voltages [V]: current [A] and slope [A/V]."""

# The formula takes arrays for all of its figures; it is annotated for one converter.
_table_current = cast(Callable[..., tuple[Floats, Floats]], table_current)

_STEPS = 400
# An input voltage this close to the end of a line [relative] is on the next one.
_AT_THE_END = 1e-12
_LOWEST_INPUT_V = 1e-6


class Table:
    """One branch: the converter's input voltage of each cell, and the line of the table that it is on."""

    def __init__(
        self, axis_v: Sequence[float], efficiency: Floats, output_w: Floats, idle_w: float, wire_ohm: float
    ) -> None:
        """``efficiency`` has a row for each input voltage of ``axis_v`` [V] and a column for each cell."""
        axis = np.array(axis_v)
        gradient = np.diff(efficiency, axis=0) / np.diff(axis)[:, None]
        level = np.zeros((1, efficiency.shape[1]))
        self.axis = axis
        self.low_v = np.concatenate(([_LOWEST_INPUT_V], axis))
        self.gradient = np.concatenate((level, gradient, level))
        self.offset = np.concatenate((efficiency[:1], efficiency[:-1] - gradient * axis[:-1, None], efficiency[-1:]))
        self.output_w, self.idle_w, self.wire_ohm = output_w, idle_w, wire_ohm
        self.input_v = np.full(output_w.shape, np.nan)
        self.line = np.zeros(output_w.shape, dtype=np.intp)

    def start(self, bus_v: Floats) -> None:
        """Begin at the highest input voltage that there can be: the bus itself."""
        self.input_v = bus_v.copy()
        self.line = np.searchsorted(self.axis, bus_v, side="left")

    def _current(self, cells: Cells, input_v: Floats) -> tuple[Floats, Floats]:
        line = self.line[cells]
        return _table_current(
            input_v, self.output_w[cells], self.idle_w, self.offset[line, cells], self.gradient[line, cells]
        )

    def settle(self, cells: Cells, bus_v: Floats) -> tuple[Floats, Floats]:
        """Go down to the highest input voltage that belongs to a lower bus voltage; current [A] and slope [A/V] there.

        NaN where there is none.
        """
        left = np.arange(cells.size)
        for _ in range(_STEPS):
            if not left.size:
                break
            here = cells[left]
            x, low = self.input_v[here], self.low_v[self.line[here]]
            current, slope = self._current(here, x)
            above, along = x + self.wire_ohm * current - bus_v[left], 1.0 + self.wire_ohm * slope
            step = np.where(along > 0.0, above / np.where(along > 0.0, along, 1.0), x)
            done = (above <= 0.0) | ((along > 0.0) & (step <= 1e-15 * x))
            leaves = ~done & (x - step <= low)
            self.input_v[here] = np.where(done, x, np.where(leaves, low, x - step))
            lost = leaves & (self.line[here] == 0)
            self.input_v[here[lost]] = np.nan
            self.line[here[leaves & ~lost]] -= 1
            left = left[~(done | lost)]
        ends = (self.input_v[cells] <= self.low_v[self.line[cells]] * (1.0 + _AT_THE_END)) & (self.line[cells] > 0)
        here = cells[ends]
        self.input_v[here] = np.minimum(self.input_v[here], self.low_v[self.line[here]])
        self.line[here] -= 1
        x = self.input_v[cells]
        current, slope = self._current(cells, x)
        return current, slope / np.maximum(1.0 + self.wire_ohm * slope, 1e-300)

    def joint_v(self, cells: Cells) -> Floats:
        """The bus voltage [V] at which each cell comes to the lower end of its line."""
        low = self.low_v[self.line[cells]]
        return low + self.wire_ohm * self._current(cells, low)[0]


def highest_with_tables(
    tables: Sequence[Table], beside: Drawn, least_v: Floats, open_v: Floats, series_ohm: Floats
) -> Floats:
    """The highest bus voltage [V] of each cell, NaN where it collapses; the tables are left at it.

    Args:
        tables: the branches with tables.
        beside: what the other branches draw.
        least_v: the least bus voltages [V] on which these can be had.
        open_v: open-circuit voltages [V].
        series_ohm: loop resistances between source and bus [ohm].
    """
    found = np.full(open_v.shape, np.nan)
    bus_v = open_v.copy()
    for table in tables:
        table.start(open_v)
    cells = np.flatnonzero((open_v > 0.0) & (open_v >= least_v * (1.0 - TANGENT)))
    for _ in range(_STEPS):
        if not cells.size:
            break
        at = bus_v[cells]
        drawn, along = beside(cells, at)
        for table in tables:
            current, slope = table.settle(cells, at)
            drawn, along = drawn + current, along + slope
        excess = open_v[cells] - at - series_ohm[cells] * drawn
        falls = -1.0 - series_ohm[cells] * along
        step = np.where(falls < 0.0, excess / np.where(falls < 0.0, falls, -1.0), at)
        touches = -excess <= TANGENT * open_v[cells]
        after = at - step
        joint = np.zeros(at.shape)
        for table in tables:
            reached = table.joint_v(cells)
            joint = np.maximum(joint, np.where(reached < at, reached, 0.0))
        # A joint below what the others need is none to stop at: they have no current there.
        clamped = (after < joint) & (joint > least_v[cells])
        leaves = ~clamped & (after <= least_v[cells])
        done = (excess >= 0.0) | (touches & (clamped | leaves | (step <= 1e-14 * at)))
        found[cells[done]] = at[done]
        # NaN, a converter that finds no input voltage, is no going on.
        stays = np.flatnonzero(~done & ~leaves & ~np.isnan(excess))
        cells = cells[stays]
        bus_v[cells] = np.where(clamped, joint, after)[stays]
    return found
