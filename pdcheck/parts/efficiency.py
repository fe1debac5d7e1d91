"""Efficiency of a converter over input voltage and output current, as a table out of its data sheet."""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise

from pydantic import model_validator

from pdcheck.parts.fields import Amps, Efficiency, Part, Volts
from pdcheck.parts.mistakes import mistake


class EfficiencyTable(Part, init=False):
    """Efficiency at grid points: one row per input voltage [V], one column per output current [A].

    >>> table = EfficiencyTable(input=["5V", "12V"], output=["1A", "3A"], values=[["90%", "84%"], [0.94, 0.92]])
    >>> round(table.at(8.5, 2.0), 4)
    0.9
    """

    input_v: tuple[Volts, ...]
    output_a: tuple[Amps, ...]
    values: tuple[tuple[Efficiency, ...], ...]

    @model_validator(mode="after")
    def _fits(self) -> EfficiencyTable:
        for key, axis in (("input", self.input_v), ("output", self.output_a)):
            if not axis or any(high <= low for low, high in pairwise(axis)):
                raise mistake("the points do not rise", expected="at least one, each above the one before", key=(key,))
        if len(self.values) != len(self.input_v):
            what = f"{len(self.values)} rows for {len(self.input_v)} input voltages"
            raise mistake(what, expected="one row per input voltage", key=("values",))
        for index, row in enumerate(self.values):
            if len(row) != len(self.output_a):
                what = f"row {index + 1} has {len(row)} values for {len(self.output_a)} output currents"
                raise mistake(what, expected="one value per output current", key=("values", index))
        return self

    def at(self, input_v: float, output_a: float) -> float:
        """Efficiency between the grid points, linear on both axes; outside the table its edge counts (see covers)."""
        row, up = _between(self.input_v, input_v)
        column, across = _between(self.output_a, output_a)
        low, high = self.values[row], self.values[min(row + 1, len(self.values) - 1)]
        beside = min(column + 1, len(self.output_a) - 1)
        at_low = low[column] + (low[beside] - low[column]) * across
        at_high = high[column] + (high[beside] - high[column]) * across
        return at_low + (at_high - at_low) * up

    def covers(self, input_v: float, output_a: float) -> bool:
        """Whether a point lies inside the table; outside, ``at`` is an extrapolation by the nearest edge."""
        inside_v = self.input_v[0] <= input_v <= self.input_v[-1]
        return inside_v and self.output_a[0] <= output_a <= self.output_a[-1]


def _between(axis: tuple[float, ...], value: float) -> tuple[int, float]:
    """The grid point below a value and how far it is to the next one, 0..1; clamped to the axis."""
    index = bisect_right(axis, value) - 1
    if index < 0:
        return 0, 0.0
    if index >= len(axis) - 1:
        return len(axis) - 1, 0.0
    return index, (value - axis[index]) / (axis[index + 1] - axis[index])
