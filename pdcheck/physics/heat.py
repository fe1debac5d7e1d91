"""Where heat settles: a wire whose copper follows its own temperature, and the air in a box.

For one circuit with floats, for many with arrays.
"""

from __future__ import annotations

from pdcheck.facts.copper import REFERENCE_TEMPERATURE, TEMPERATURE_COEFFICIENT
from pdcheck.facts.heat import HOTTEST_COPPER
from pdcheck.physics.number import Number, lesser, where

_ALPHA = TEMPERATURE_COEFFICIENT.value


def wire_temperature(air_c: Number, current_a: Number, rise_k_a2: Number) -> Number:
    """Temperature of a wire [degrees C] in air, at a current [A], with its copper at that same temperature.

    ``rise_k_a2`` [K/A2] is R' / (h pi d) of the wire at 20 degrees C. T = air + rise I^2 (1 + alpha (T - 20)), solved
    for T; where the copper grows faster than the air takes its heat it is given up at 1000 degrees C.

    Sources: heat balance of one wire [physics]; alpha = 0.00393 per K [IEC 60028, handbook].

    >>> round(wire_temperature(25.0, 4.0, 1.3), 3)
    48.097
    """
    warmed = rise_k_a2 * current_a * current_a
    left = 1.0 - _ALPHA * warmed
    holds = left > 0.0
    solved = (air_c + warmed * (1.0 - _ALPHA * REFERENCE_TEMPERATURE.value)) / where(holds, left, 1.0)
    return where(holds, lesser(solved, HOTTEST_COPPER.value), HOTTEST_COPPER.value + 0.0 * warmed)


def inside_air(air_c: Number, heat_w: Number, shed_w_k: Number | None) -> Number:
    """Temperature of the air in a box [degrees C] that sheds ``shed_w_k`` [W/K]; without one that of the air around.

    Source: heat balance, P = h A (inside - outside) [any heat transfer text].

    >>> round(inside_air(25.0, 2.0, 0.2816), 3)
    32.102
    """
    return air_c + (0.0 * heat_w if shed_w_k is None else heat_w / shed_w_k)
