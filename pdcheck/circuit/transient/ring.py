"""A branch plugged into a live bus, in closed form: how high its capacitor rings, and what keeps it lower."""

from __future__ import annotations

import math

from pdcheck.facts.motion import DAMPER_SIZE
from pdcheck.named import NamedTuple


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
