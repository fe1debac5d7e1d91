"""What hangs on a voltage: one current as a function of it, whatever wire and converter lie between.

All kinds answer ``current(bus_v) -> (amperes, slope)`` from ``least_v`` upwards, and all but the tabled one, which is
so in pieces, are convex there: that makes the search for the operating point exact (see ``bus.py``). The figures of a
port are those of one circuit, or arrays with one for each of many.
"""

from __future__ import annotations

from pdcheck.named import NamedTuple
from pdcheck.physics.formulas import least_voltage, linear_current, power_current
from pdcheck.physics.number import Number
from pdcheck.physics.table import TablePort


class PowerPort(NamedTuple):
    """A constant power [W] behind a resistance [ohm]."""

    resistance_ohm: Number
    power_w: Number

    @property
    def least_v(self) -> Number:
        """The bus voltage [V] below which this power cannot be had."""
        return least_voltage(self.resistance_ohm, self.power_w)

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        return power_current(bus_v, self.resistance_ohm, self.power_w)


class CurrentPort(NamedTuple):
    """A constant current [A] behind a resistance [ohm]; its terminals must stay above 0 V."""

    resistance_ohm: Number
    current_a: Number

    @property
    def least_v(self) -> Number:
        """The bus voltage [V] below which this current cannot be had."""
        return self.resistance_ohm * self.current_a

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        nothing = 0.0 * bus_v
        return nothing + self.current_a, nothing


class LinearPort(NamedTuple):
    """A resistance [ohm] that conducts above a threshold [V]."""

    resistance_ohm: Number
    threshold_v: Number

    @property
    def least_v(self) -> Number:
        """A resistance is content with any voltage."""
        return 0.0

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        return linear_current(bus_v, self.resistance_ohm, self.threshold_v)


Port = PowerPort | CurrentPort | LinearPort | TablePort

NOTHING = CurrentPort(0.0, 0.0)
