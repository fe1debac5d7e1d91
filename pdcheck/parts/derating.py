"""Derating: how much a converter may give the warmer the air around it, as the curve in its data sheet."""

from __future__ import annotations

from itertools import pairwise

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.parts.fields import AmpsOrZero, Celsius, Part
from pdcheck.physics.number import Number, interpolated, where


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
