"""Charging capacitance on the bus: current, time, energy, and what remains within a limit.

All limits are arguments: the standard's own stand in ``pdcheck.facts``. Formulas: I = C dV/dt, E = C V^2 / 2
[any circuits textbook].
"""

from __future__ import annotations

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple


class Inrush(NamedTuple):
    """Charging a capacitance from one voltage to another.

    ``current_a``: while the voltage rises at the given slope. ``surge_a``: at the first moment of a hard step through
    the resistance (None where that is nothing or not known). ``charge_c`` [C], ``energy_j`` [J] put into the
    capacitance, ``time_s`` at the slope.
    """

    current_a: float
    surge_a: float | None
    charge_c: float
    energy_j: float
    time_s: float


def inrush(
    capacitance_f: float, to_v: float, slew_v_per_s: float, *, from_v: float = 0.0, resistance_ohm: float = 0.0
) -> Inrush:
    """What a capacitance [F] draws while its voltage rises from ``from_v`` to ``to_v`` [V] at a slope [V/s].

    Raises:
        InputError: a slope or a capacitance that is not above 0 and at least 0.

    >>> [round(value, 9) for value in inrush(100e-6, 20.0, 30e3, from_v=5.0)[::2]]
    [3.0, 0.0015, 0.0005]
    """
    if slew_v_per_s <= 0.0:
        raise InputError(f"a slope of {slew_v_per_s} V/s", expected="more than 0 V/s")
    if capacitance_f < 0.0:
        raise InputError(f"a capacitance of {capacitance_f} F", expected="0 F or more")
    rise = max(to_v - from_v, 0.0)
    energy = 0.5 * capacitance_f * (to_v * to_v - from_v * from_v) if rise else 0.0
    surge = rise / resistance_ohm if resistance_ohm > 0.0 else None
    return Inrush(
        capacitance_f * slew_v_per_s if rise else 0.0, surge, capacitance_f * rise, energy, rise / slew_v_per_s
    )


def charging_time(capacitance_f: float, rise_v: float, current_a: float) -> float:
    """Time [s] for a current [A] to lift a capacitance [F] by a voltage [V]; infinite where nothing is left for it.

    >>> round(charging_time(470e-6, 15.0, 0.5), 6)
    0.0141
    """
    if rise_v <= 0.0 or capacitance_f <= 0.0:
        return 0.0
    return capacitance_f * rise_v / current_a if current_a > 0.0 else float("inf")
