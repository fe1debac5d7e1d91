"""The PDP that a set of offers points to, each as the power rules see it."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.facts.power_rules import CURRENT_STEP, NORMATIVE_VOLTAGES, OfferedSupply
from pdcheck.facts.voltage import NEW_TOLERANCE

_BATTERY_POWER_STEP_W = 0.25  # how a battery supply states its power, so that much may be rounding


def normative_near(voltage_v: float) -> float | None:
    """The normative voltage [V] whose vSrcNew band holds ``voltage_v`` [V], or None.

    Some sources state 20.3 V or 14.5 V for what serves as 20 V or 15 V. Source: PD R3.2 V1.1, Tables 7.23 to 7.25 and
    10.2.

    >>> normative_near(20.3), normative_near(14.5), normative_near(12.0)
    (20.0, 15.0, None)
    """
    for nominal in NORMATIVE_VOLTAGES:
        if abs(voltage_v - nominal) <= nominal * NEW_TOLERANCE.value + 1e-9:
            return nominal
    return None


def power_span(offer: OfferedSupply) -> tuple[float, float, float] | None:
    """(power, least PDP, greatest PDP) [W] that one offer tells of, PDP / V being rounded either way to 10 mA.

    None for an offer without power of its own: nothing offered, or SPR PPS and AVS, whose power is limited to that of
    the fixed offers. Source: PD R3.2 V1.1, notes to Tables 10.2 and 10.12.
    """
    if offer.kind in ("fixed", "variable") and offer.current_a:
        power = offer.max_v * offer.current_a
        slack = offer.max_v * CURRENT_STEP.value
    elif offer.kind == "battery" and offer.power_w:
        power, slack = offer.power_w, _BATTERY_POWER_STEP_W
    elif offer.kind == "epr-avs" and offer.power_w:
        power, slack = offer.power_w, 0.0
    else:
        return None
    return power, power - slack, power + slack


def strongest_span(offers: Iterable[OfferedSupply]) -> tuple[float, float, float] | None:
    """The ``power_span`` of the offer with the most power, or None where nothing is offered."""
    return max((span for offer in offers if (span := power_span(offer)) is not None), default=None)


def likely_pdp_w(offers: Iterable[OfferedSupply]) -> float | None:
    """The PDP [W] behind the strongest of ``offers``, a whole number of watts where rounding to 10 mA allows one.

    None where nothing is offered. Source: PD R3.2 V1.1, notes to Tables 10.2 and 10.12.

    >>> likely_pdp_w([OfferedSupply("fixed", 9.0, 9.0, 2.22)])
    20.0
    >>> likely_pdp_w([OfferedSupply("fixed", 20.5, 20.5, 4.7)])
    96.35
    """
    span = strongest_span(offers)
    if span is None:
        return None
    power, least, greatest = span
    whole = float(round(power))
    return whole if whole and least < whole < greatest else round(power, 3)
