"""Dips in closed form: how long a capacitance carries a converter, and which capacitance would."""

from __future__ import annotations


def hold_up_s(capacitance_f: float, from_v: float, to_v: float, power_w: float) -> float:
    """Time [s] in which a constant power [W] empties C [F] from one voltage to another [V]: C (V1^2 - V2^2) / (2 P).

    Source: energy of a capacitor [any circuits textbook].

    >>> f"{hold_up_s(100e-6, 9.0, 8.2, 25.0) * 1e6:.1f} us"
    '27.5 us'
    >>> hold_up_s(100e-6, 8.0, 8.2, 25.0)
    0.0
    """
    return max(0.5 * capacitance_f * (from_v * from_v - to_v * to_v) / power_w, 0.0)


def hold_up_f(seconds: float, from_v: float, to_v: float, power_w: float) -> float:
    """Capacitance [F] that carries a constant power [W] for so long [s] from one voltage to another [V].

    >>> f"{hold_up_f(3e-3, 9.0, 8.2, 5.0) * 1e6:.0f} uF"
    '2180 uF'
    """
    return 2.0 * power_w * seconds / (from_v * from_v - to_v * to_v)
