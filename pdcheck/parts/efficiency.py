"""Curves of a converter's data sheet: its efficiency over voltage and current, and what it gives in warm air."""

from __future__ import annotations

from itertools import pairwise
from typing import TypeVar

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts.trade import UNKNOWN_EFFICIENCY
from pdcheck.parts.fields import Amps, AmpsOrZero, Celsius, Efficiency, Part, Volts
from pdcheck.physics.number import Number, interpolated, where

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
        """Efficiency between the grid points, linear on both axes; outside the table its edge counts."""
        return interpolated(self.input_v, self.over_input(output_a), input_v)

    def times(self, factor: float) -> EfficiencyTable:
        """The table with every value off by a factor, but never above 1."""
        values = tuple(tuple(min(value * factor, 1.0) for value in row) for row in self.values)
        return self.model_copy(update={"values": values})


class Derating(Part, init=False):
    """Greatest output current at temperatures of the air around the converter: ``air_c`` rises, ``output_a`` falls.

    Between two points it is a straight line; below the first the first counts, above the last nothing may be taken.

    >>> curve = Derating(air=["40C", "70C"], output=["4A", "2A"])
    >>> [round(curve.at(air_c), 3) for air_c in (25.0, 55.0, 70.0, 70.1)]
    [4.0, 3.0, 2.0, 0.0]
    """

    air_c: tuple[Celsius, ...]
    output_a: tuple[AmpsOrZero, ...]

    @model_validator(mode="after")
    def _falls(self) -> Derating:
        if not self.air_c or any(high <= low for low, high in pairwise(self.air_c)):
            raise InputError("the temperatures do not rise", expected="at least one, each above the last", key=("air",))
        if len(self.output_a) != len(self.air_c):
            what = f"{len(self.output_a)} currents for {len(self.air_c)} temperatures"
            raise InputError(what, expected="one current for each temperature", key=("output",))
        if self.output_a[0] <= 0.0 or any(high > low for low, high in pairwise(self.output_a)):
            raise InputError("the currents do not fall", expected="each at most the one before", key=("output",))
        return self

    @property
    def cool_a(self) -> float:
        """What it may give in cool air [A]."""
        return self.output_a[0]

    def at(self, air_c: Number) -> Number:
        """What it may give [A] in air of a temperature [degrees C]."""
        allowed = interpolated(self.air_c, self.output_a, air_c) if len(self.air_c) > 1 else self.cool_a + 0.0 * air_c
        return where(air_c > self.air_c[-1] + 1e-9 * (abs(self.air_c[-1]) + 1.0), 0.0, allowed)
