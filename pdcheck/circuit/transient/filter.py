"""An input filter against a constant power, in closed form: does it settle, what would it need, what helps."""

from __future__ import annotations

import math

from pdcheck.circuit.transient.ring import Damper
from pdcheck.physics.number import Condition, Number

VALUES_F = (10e-6, 22e-6, 47e-6, 100e-6, 220e-6, 470e-6, 1000e-6, 2200e-6)
"""What is in every drawer: the capacitances that a remedy is picked from."""


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
