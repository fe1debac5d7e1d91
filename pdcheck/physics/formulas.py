"""The formulas of the bus, each for one circuit (floats) and for many (NumPy arrays).

A load of constant power P behind a resistance R on a voltage V has the load voltage (V + sqrt(V^2 - 4 R P)) / 2, the
higher of two; past P = V^2 / (4 R), the maximum power transfer, it has none [any circuits textbook].
"""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.physics.number import Number, pick

ON_THE_LIMIT = 1e-9
"""Values this close to a limit [relative] are on it: far below what matters, far above rounding."""

# Keeps a slope finite where it is a pole (exactly at maximum power transfer) without moving any other value.
_TINY = 1e-300


def greatest_power(voltage_v: Number, resistance_ohm: Number) -> Number:
    """Greatest power [W] that a voltage [V] can deliver through a resistance [ohm], above 0.

    Source: maximum power transfer, V^2 / (4 R) [any circuits textbook].

    >>> greatest_power(20.0, 0.25)
    400.0
    """
    return voltage_v * voltage_v / (4.0 * resistance_ohm)


def least_voltage(resistance_ohm: Number, power_w: Number) -> Number:
    """Least voltage [V] on which a power [W] can be had through a resistance [ohm]: maximum power transfer, inverted.

    >>> least_voltage(0.25, 400.0)
    20.0
    """
    return 2.0 * (resistance_ohm * power_w) ** 0.5


def power_current(voltage_v: Number, resistance_ohm: Number, power_w: Number) -> tuple[Number, Number]:
    """Current [A] of a constant power [W] behind a resistance [ohm] on a voltage [V], and its slope [A/V].

    The voltage must be at least ``least_voltage``. The form 2 P / (V + sqrt(V^2 - 4 R P)) keeps every digit where
    R is small or nothing, where (V - sqrt(V^2 - 4 R P)) / (2 R) loses them.

    >>> current, slope = power_current(10.0, 1.0, 24.0)
    >>> (current, slope)
    (4.0, -2.0)
    """
    inside = voltage_v * voltage_v - 4.0 * resistance_ohm * power_w
    # Rounding may leave a negative crumb exactly at maximum power transfer; clipped in a way that arrays know too.
    root = (0.5 * (inside + abs(inside))) ** 0.5
    current = 2.0 * power_w / (voltage_v + root)
    return current, -current / (root + _TINY)


def linear_current(voltage_v: Number, resistance_ohm: Number, threshold_v: Number) -> tuple[Number, Number]:
    """Current [A] of a resistance [ohm] that conducts above a threshold [V], and its slope [A/V].

    With a threshold of 0 V it is a plain resistor, else a string of LEDs with its resistor (piecewise linear).

    >>> linear_current(12.0, 6.0, 9.0)
    (0.5, 0.16666666666666666)
    >>> linear_current(8.0, 6.0, 9.0)
    (0.0, 0.0)
    """
    above = voltage_v - threshold_v
    conducts = 1.0 * (above > 0.0)
    return conducts * above / resistance_ohm + 0.0, conducts / resistance_ohm


def table_current(
    input_v: Number, output_w: Number, idle_w: Number, offset: Number, gradient: Number
) -> tuple[Number, Number]:
    """Input current [A] of a converter with the efficiency ``offset + gradient x input_v``, and its slope [A/V].

    >>> table_current(10.0, 45.0, 0.0, 0.8, 0.01)
    (5.0, -0.5555555555555556)
    """
    efficiency = offset + gradient * input_v
    current = (output_w / efficiency + idle_w) / input_v
    slope = -(current + output_w * gradient / (efficiency * efficiency)) / input_v
    return current, slope


def interpolated(axis: Sequence[float], values: Sequence[Number], at: Number) -> Number:
    """The value of a table at a point: a straight line between two points of its axis, which rises; held beyond it.

    >>> [interpolated((10.0, 20.0), (0.8, 0.9), at) for at in (5.0, 10.0, 15.0, 40.0)]
    [0.8, 0.8, 0.8500000000000001, 0.9]
    """
    below = sum(point <= at for point in axis)
    points = (axis[0] - 1.0, *axis, axis[-1] + 1.0)
    held = (values[0], *values, values[-1])
    low, first = pick(points, below), pick(held, below)
    return first + (pick(held, below + 1) - first) * ((at - low) / (pick(points, below + 1) - low))
