"""A load that holds its power at its own terminals: what has a regulator of its own."""

from __future__ import annotations

from typing import ClassVar

from pdcheck.parts.fields import Watts
from pdcheck.parts.loads.load import Load
from pdcheck.physics.number import Number
from pdcheck.physics.ports import PowerPort


class PowerLoad(Load, init=False):
    """A power [W], whatever the voltage. Nobody knows at which one it starts.

    >>> PowerLoad(power="24W").port(0.5)
    PowerPort(resistance_ohm=0.5, power_w=24.0)
    """

    key: ClassVar[str] = "power"
    figure: ClassVar[str] = "power_w"
    unit: ClassVar[str] = "W"
    example: ClassVar[str] = "24W"

    power_w: Watts
    average_w: Watts | None = None
    peak_w: Watts | None = None

    def port(self, resistance_ohm: Number) -> PowerPort:
        """What a voltage before a loop resistance [ohm] sees of it."""
        return PowerPort(resistance_ohm, self.power_w)

    def meant_w(self, design_v: float | None) -> float:
        """Its power [W]."""
        return self.power_w

    @property
    def starts_at_v(self) -> float | None:
        """Not known."""
        return None
