"""A load that holds its current for as long as there is any voltage at its terminals."""

from __future__ import annotations

from typing import ClassVar

from pdcheck.parts.fields import Amps
from pdcheck.parts.loads.load import Load
from pdcheck.physics.number import Number
from pdcheck.physics.ports import CurrentPort


class CurrentLoad(Load, init=False):
    """A current [A], whatever the voltage, from 0 V on.

    >>> CurrentLoad(current="2A").port(0.5).least_v
    1.0
    """

    key: ClassVar[str] = "current"
    figure: ClassVar[str] = "current_a"
    unit: ClassVar[str] = "A"
    example: ClassVar[str] = "2A"

    current_a: Amps
    average_a: Amps | None = None
    peak_a: Amps | None = None

    def port(self, resistance_ohm: Number) -> CurrentPort:
        """What a voltage before a loop resistance [ohm] sees of it."""
        return CurrentPort(resistance_ohm, self.current_a)
