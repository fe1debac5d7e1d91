"""The first second in closed form: a branch plugged in that rings, an input filter that swings, a dip that is held up.

What happens in each, what it would need to settle, and what helps.
"""

from __future__ import annotations

import math

from pdcheck.facts.motion import DAMPER_SIZE
from pdcheck.named import NamedTuple
from pdcheck.physics.number import Condition, Number

VALUES_F = (10e-6, 22e-6, 47e-6, 100e-6, 220e-6, 470e-6, 1000e-6, 2200e-6)
"""What is in every drawer: the capacitances that a remedy is picked from."""


def damping_ratio(resistance_ohm: float, inductance_h: float, capacitance_f: float) -> float:
    """Damping ratio of R [ohm], L [H] and C [F] in series: zeta = (R / 2) sqrt(C / L).

    Source: series resonance [any circuits textbook]. R counts the capacitor's ESR.

    >>> round(damping_ratio(0.140, 1e-6, 4e-6), 3)
    0.14
    """
    return 0.5 * resistance_ohm * math.sqrt(capacitance_f / inductance_h)


def ring_peak_v(stiff_v: float, resistance_ohm: float, inductance_h: float, capacitance_f: float) -> float:
    """Peak [V] of a capacitor C [F] at 0 V that is joined to a stiff voltage [V] through R [ohm] and L [H].

    Source: step response of a second order system, V (1 + exp(-pi zeta / sqrt(1 - zeta^2))) for zeta below 1, else V
    [physics]. A bus of finite capacitance gives less; a capacitor that shrinks under voltage gives more.

    >>> f"{ring_peak_v(20.0, 0.140, 1e-6, 4e-6):.1f} V"  # ngspice: 32.8 V
    '32.8 V'
    >>> ring_peak_v(20.0, 2.0, 1e-6, 4e-6)
    20.0
    """
    zeta = damping_ratio(resistance_ohm, inductance_h, capacitance_f)
    if zeta >= 1.0:
        return stiff_v
    return stiff_v * (1.0 + math.exp(-math.pi * zeta / math.sqrt(1.0 - zeta * zeta)))


def resistance_for_peak(stiff_v: float, peak_v: float, inductance_h: float, capacitance_f: float) -> float:
    """Total resistance [ohm] with which the ring just reaches ``peak_v`` [V]: what an inrush limiter must bring.

    The inverse of ``ring_peak_v``: zeta = -ln x / sqrt(pi^2 + ln^2 x), x = peak / V - 1. 0 from twice the voltage on.

    >>> round(resistance_for_peak(20.0, ring_peak_v(20.0, 0.140, 1e-6, 4e-6), 1e-6, 4e-6), 6)
    0.14
    """
    over = peak_v / stiff_v - 1.0
    if over >= 1.0:
        return 0.0
    if over <= 0.0:
        return 2.0 * math.sqrt(inductance_h / capacitance_f)
    log = -math.log(over)
    return 2.0 * math.sqrt(inductance_h / capacitance_f) * log / math.sqrt(math.pi**2 + log * log)


class Damper(NamedTuple):
    """A capacitor across the input that takes the ring: capacitance [F] and ESR [ohm]."""

    capacitance_f: float
    esr_ohm: float


def ring_damper(inductance_h: float, capacitance_f: float) -> Damper:
    """What damps the ring of C [F] behind L [H]: four times the capacitance beside it, with an ESR of sqrt(L / C).

    Source: common practice.

    >>> damper = ring_damper(1e-6, 4e-6)
    >>> f"{damper.capacitance_f * 1e6:.0f} uF, {damper.esr_ohm:.2f} ohm"
    '16 uF, 0.50 ohm'
    """
    return Damper(DAMPER_SIZE.value * capacitance_f, math.sqrt(inductance_h / capacitance_f))


def least_damping_ohm(power_w: float, at_v: float, inductance_h: float, capacitance_f: float) -> float:
    """Resistance [ohm] from which a constant power [W] with ``at_v`` [V] at its input settles: L P / (C V^2).

    Source: the converter looks like -V^2 / P [physics; R. D. Middlebrook 1976 gives the general form].

    >>> f"{least_damping_ohm(25.0, 9.0, 2e-6, 2e-6) * 1e3:.0f} mOhm"  # ngspice: 309 mOhm
    '309 mOhm'
    """
    return inductance_h * power_w / (capacitance_f * at_v * at_v)


def settles(
    power_w: Number,
    at_v: Number,
    resistance_ohm: Number,
    inductance_h: float,
    capacitance_f: float,
    esr_ohm: float = 0.0,
) -> Condition:
    """Whether a constant power [W] with ``at_v`` [V] at its input is stable behind R, L and C with its ESR.

    The Jacobian's trace is below 0 where R + r - R r P / V^2 > L P / (C V^2), r the ESR, and its determinant above 0
    where R < V^2 / P [physics].

    >>> [settles(25.0, 9.0, ohm, 2e-6, 2e-6) for ohm in (0.305, 0.313)]
    [False, True]
    >>> settles(25.0, 9.0, 0.2, 2e-6, 2e-6, esr_ohm=0.12)
    True
    """
    negative_ohm = at_v * at_v / power_w
    damping = resistance_ohm + esr_ohm - resistance_ohm * esr_ohm / negative_ohm
    return (damping > inductance_h / (capacitance_f * negative_ohm)) & (resistance_ohm < negative_ohm)


def settles_with(
    damper: Damper, power_w: float, at_v: float, resistance_ohm: float, inductance_h: float, capacitance_f: float
) -> bool:
    """Whether it is stable with a second capacitor across the input (Routh's criterion of the third order).

    >>> settles_with(Damper(22e-6, 1.0), 25.0, 9.0, 0.05, 2e-6, 2e-6)
    True
    >>> settles_with(Damper(22e-6, 10.0), 25.0, 9.0, 0.05, 2e-6, 2e-6)
    False
    """
    load, shunt = -power_w / (at_v * at_v), 1.0 / damper.esr_ohm
    wire, node, branch = resistance_ohm / inductance_h, (load + shunt) / capacitance_f, shunt / damper.capacitance_f
    first = wire + node + branch
    both = shunt / (capacitance_f * damper.capacitance_f)
    second = wire * (node + branch) + load * both + 1.0 / (inductance_h * capacitance_f)
    third = both * (1.0 + resistance_ohm * load) / inductance_h
    return first > 0.0 and third > 0.0 and first * second > third


def filter_damper(
    power_w: float, at_v: float, resistance_ohm: float, inductance_h: float, capacitance_f: float
) -> Damper | None:
    """The least capacitor of ``VALUES_F`` across the input with which it settles, its ESR [ohm] half to twice as said.

    The ESR aimed at is sqrt(L / C), the ring's own, and at most half of V^2 / P. None where none of them helps.

    >>> damper = filter_damper(25.0, 9.0, 0.05, 2e-6, 2e-6)
    >>> f"{damper.capacitance_f * 1e6:.0f} uF, {damper.esr_ohm:.1f} ohm"
    '10 uF, 1.0 ohm'
    """
    esr_ohm = min(math.sqrt(inductance_h / capacitance_f), 0.5 * at_v * at_v / power_w)
    figures = (power_w, at_v, resistance_ohm, inductance_h, capacitance_f)
    for value in VALUES_F:
        if all(settles_with(Damper(value, esr_ohm * factor), *figures) for factor in (0.5, 1.0, 2.0)):
            return Damper(value, esr_ohm)
    return None


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
