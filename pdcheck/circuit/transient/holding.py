"""Dips in closed form: how long an input capacitance carries a converter, and whether a dip gets through to it."""

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


def cut_off_after_s(
    capacitance_f: float, before_v: float, dip_v: float, stop_v: float, power_w: float, slew_v_per_s: float
) -> float | None:
    """When a converter cuts off [s] after the voltage at its input begins to fall from ``before_v`` to ``dip_v`` [V].

    None where ``dip_v`` is not below its cut-off. The fall is the slower of the source's slew [V/s] and of what the
    power [W] takes out of the input capacitance [F]: the source cannot hold it up, and need not pull it down.

    >>> cut_off_after_s(10e-6, 9.0, 8.05, 8.2, 5.0, 30e3) is not None, cut_off_after_s(10e-6, 9.0, 8.3, 8.2, 5.0, 30e3)
    (True, None)
    """
    if dip_v >= stop_v:
        return None
    return max((before_v - stop_v) / slew_v_per_s, hold_up_s(capacitance_f, before_v, stop_v, power_w))
