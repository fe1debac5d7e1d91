"""Efficiency of a converter over input voltage and output current, as a table out of its data sheet."""

from __future__ import annotations

from itertools import pairwise
from typing import TypeVar

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts.trade import UNKNOWN_EFFICIENCY
from pdcheck.parts.fields import Amps, Efficiency, Part, Volts
from pdcheck.physics.number import Number, interpolated

Stated = TypeVar("Stated", bound="float | EfficiencyTable")


def counted(stated: Stated | None) -> Stated | float:
    """The efficiency that is counted with: as stated, else the cautious figure that is assumed.

    >>> counted(0.92), counted(None) == UNKNOWN_EFFICIENCY.value
    (0.92, True)
    """
    return UNKNOWN_EFFICIENCY.value if stated is None else stated


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
                raise InputError(
                    "the points do not rise", expected="at least one, each above the one before", key=(key,)
                )
        if len(self.values) != len(self.input_v):
            what = f"{len(self.values)} rows for {len(self.input_v)} input voltages"
            raise InputError(what, expected="one row per input voltage", key=("values",))
        for index, row in enumerate(self.values):
            if len(row) != len(self.output_a):
                what = f"row {index + 1} has {len(row)} values for {len(self.output_a)} output currents"
                raise InputError(what, expected="one value per output current", key=("values", index))
        return self

    def over_input(self, output_a: Number) -> tuple[Number, ...]:
        """The efficiency at each input voltage of the table, for one output current [A]."""
        return tuple([interpolated(self.output_a, row, output_a) for row in self.values])

    def at(self, input_v: Number, output_a: Number) -> Number:
        """Efficiency between the grid points, linear on both axes; outside the table its edge counts (see covers)."""
        return interpolated(self.input_v, self.over_input(output_a), input_v)

    def covers(self, input_v: float, output_a: float) -> bool:
        """Whether a point lies inside the table; outside, ``at`` is an extrapolation by the nearest edge."""
        inside_v = self.input_v[0] <= input_v <= self.input_v[-1]
        return inside_v and self.output_a[0] <= output_a <= self.output_a[-1]

    def times(self, factor: float) -> EfficiencyTable:
        """The table with every value off by a factor, but never above 1."""
        values = tuple(tuple(min(value * factor, 1.0) for value in row) for row in self.values)
        return self.model_copy(update={"values": values})
