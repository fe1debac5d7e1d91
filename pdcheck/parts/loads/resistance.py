"""A plain resistance: a heater, a lamp once it is warm."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from pdcheck.parts.fields import Ohms
from pdcheck.parts.loads.load import Load
from pdcheck.physics.number import greater
from pdcheck.physics.ports import LinearPort

if TYPE_CHECKING:
    from typing import Self

    from pdcheck.physics.number import Number

_NO_DEMAND = 1e-300


class ResistanceLoad(Load, init=False):
    """A resistance [ohm]; more load is fewer ohms.

    >>> ResistanceLoad(resistance="6ohm").port(0.5)
    LinearPort(resistance_ohm=6.5, threshold_v=0.0)
    """

    key: ClassVar[str] = "resistance"
    figure: ClassVar[str] = "resistance_ohm"
    unit: ClassVar[str] = "ohm"
    example: ClassVar[str] = "6ohm"
    grows_with_voltage: ClassVar[bool] = True

    resistance_ohm: Ohms

    def port(self, resistance_ohm: Number) -> LinearPort:
        """What a voltage before a loop resistance [ohm] sees of it."""
        return LinearPort(resistance_ohm + self.resistance_ohm, 0.0)

    def tolerance(self, factor: Number) -> Self:
        """Its ohms off by a factor; more load is fewer of them by the same part."""
        return self.with_figure(self.resistance_ohm * (2.0 - factor))

    def demand(self, factor: Number) -> Self:
        """That many of them side by side."""
        return self.with_figure(self.resistance_ohm / greater(factor, _NO_DEMAND))

    def stated_as(self, voltage_v: float, current_a: float) -> float:
        """The resistance [ohm] of a voltage [V] and a current [A]."""
        return voltage_v / current_a

    @property
    def ohmmeter_ohm(self) -> float:
        """Its own resistance [ohm]."""
        return self.resistance_ohm
