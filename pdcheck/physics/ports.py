"""What hangs on a voltage: one current as a function of it, whatever wire and converter lie between.

All kinds answer ``current(bus_v) -> (amperes, slope)`` from ``least_v`` upwards, and all but the tabled one, which is
so in pieces, are convex there: that makes the search for the operating point exact (see ``bus.py``). The figures of a
port are those of one circuit, or arrays with one for each of many.

A load of constant power P behind a resistance R on a voltage V has the load voltage (V + sqrt(V^2 - 4 R P)) / 2, the
higher of two; past P = V^2 / (4 R), the maximum power transfer, it has none [any circuits textbook].
"""

from __future__ import annotations

from pdcheck.named import NamedTuple
from pdcheck.physics.number import Number
from pdcheck.physics.table import TablePort

# Keeps a slope finite where it is a pole (exactly at maximum power transfer) without moving any other value.
_TINY = 1e-300


class PowerPort(NamedTuple):
    """A constant power [W] behind a resistance [ohm].

    >>> PowerPort(1.0, 24.0).current(10.0), PowerPort(0.25, 400.0).least_v
    ((4.0, -2.0), 20.0)
    """

    resistance_ohm: Number
    power_w: Number

    @property
    def least_v(self) -> Number:
        """The bus voltage [V] below which this power cannot be had."""
        return 2.0 * (self.resistance_ohm * self.power_w) ** 0.5

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V].

        The form 2 P / (V + sqrt(V^2 - 4 R P)) keeps every digit where R is small or nothing.
        """
        inside = bus_v * bus_v - 4.0 * self.resistance_ohm * self.power_w
        # Rounding may leave a negative crumb exactly at maximum power transfer; clipped in a way that arrays know too.
        root = (0.5 * (inside + abs(inside))) ** 0.5
        current = 2.0 * self.power_w / (bus_v + root)
        return current, -current / (root + _TINY)


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
    """A resistance [ohm] that conducts above a threshold [V]: of 0 V a plain resistor, else LEDs with theirs.

    >>> LinearPort(6.0, 9.0).current(12.0), LinearPort(6.0, 9.0).current(8.0)
    ((0.5, 0.16666666666666666), (0.0, 0.0))
    """

    resistance_ohm: Number
    threshold_v: Number

    @property
    def least_v(self) -> Number:
        """A resistance is content with any voltage."""
        return 0.0

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        above = bus_v - self.threshold_v
        conducts = 1.0 * (above > 0.0)
        return conducts * above / self.resistance_ohm + 0.0, conducts / self.resistance_ohm


Port = PowerPort | CurrentPort | LinearPort | TablePort

NOTHING = CurrentPort(0.0, 0.0)
