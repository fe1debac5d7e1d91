"""Lowering: what is left of a source's list when it offers less, and the contracts that a trigger then ends up with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor

from pdcheck.bits.offers import Offer
from pdcheck.bits.power import PPS_SOURCE
from pdcheck.contract.available import Available, bound_current
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE, SPR_AVS_MOST, SPR_AVS_SPLIT
from pdcheck.facts.power_rules import MAY_DROP_UP_TO, PPS_PROG, PPS_PROG_5V_OLDER
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.request import NoRequest
from pdcheck.parts.trigger import Trigger


def left_of(offers: Sequence[Offer], power_w: float) -> tuple[Offer, ...]:
    """The offers of a port that has ``power_w`` left: the same voltages, each at power / voltage.

    At 15 W or less the voltages above 5 V are taken as dropped, as they may be. Source: PD R3.2 V1.1, Tables 10.3,
    10.4 and 10.13 [checked].

    >>> from pdcheck.bits.offers import fixed
    >>> full = (fixed(5000, 3000), fixed(20000, 3250, 2))
    >>> [offer.current_ma for offer in left_of(full, 30.0)], len(left_of(full, 15.0))
    ([3000, 1500], 1)
    """
    if power_w <= MAY_DROP_UP_TO.value:
        five_mv = round(FIRST_OBJECT_VOLTAGE.value * 1000)
        offers = [offer for offer in offers if offer.max_mv <= five_mv or offer.position == 1]
    return tuple(within(offer, power_w) for offer in offers)


def within(offer: Offer, power_w: float) -> Offer:
    """An offer of a port that has ``power_w`` left: its voltages stay, its current is power / voltage, rounded down.

    PD R3.2 V1.1, Tables 10.3, 10.4 and 10.13 [checked]; a PPS range counts with its nominal voltage, Table 10.11.

    >>> from pdcheck.bits.offers import fixed
    >>> within(fixed(20000, 3250, 4), 30.0).current_ma, within(fixed(5000, 3000), 30.0).current_ma
    (1500, 3000)
    """
    # Blind to the last bits of a float, and never rounded up.
    power_mw = floor(power_w * 1000 + 1e-6)
    at_mv = {
        "current_ma": nominal_mv(offer),
        "current_15v_ma": round(SPR_AVS_SPLIT.value * 1000),
        "current_20v_ma": round(SPR_AVS_MOST.value * 1000),
    }
    most = {key: power_mw * 1000 // volts_mv for key, volts_mv in at_mv.items() if volts_mv}
    left = offer.at_most(most | {"power_mw": power_mw, "pdp_w": int(power_w)})
    if offer.kind != "pps" or left == offer:
        return left
    return Offer.from_word(left.word | 1 << PPS_SOURCE.field("pps_power_limited").low, offer.position)


def nominal_mv(offer: Offer) -> int:
    """The voltage [mV] that the current of an offer is reckoned with: its highest, for PPS the nominal one.

    >>> from pdcheck.bits.offers import pps
    >>> nominal_mv(pps(5000, 21000, 3000))
    20000
    """
    if offer.kind == "pps":
        for row in (PPS_PROG_5V_OLDER, *PPS_PROG):
            if offer.max_mv <= round(row.max_v * 1000):
                return round(row.nominal_v * 1000)
    return offer.max_mv


def up_to_voltage(seen: Available, voltage_v: float) -> Available:
    """What is left when nothing above a voltage [V] is offered any more; positions stay as they are.

    >>> from pdcheck.bits.offers import fixed
    >>> seen = Available((fixed(5000, 3000), fixed(9000, 3000, 2)), (), (), True, False, 0.5, False)
    >>> [offer.max_mv for offer in up_to_voltage(seen, 5.0).offers]
    [5000]
    """
    most_mv = round(voltage_v * 1000)
    return seen._replace(offers=tuple(offer for offer in seen.offers if offer.max_mv <= most_mv))


def lowered(seen: Available, to: Lowered) -> Available:
    """What is left by what a source says of itself: a power, or a list of its own (bounded by the cable as before)."""
    if to.power_w is not None:
        return seen._replace(offers=left_of(seen.offers, to.power_w))
    most_ma = max((offer.current_ma_at(offer.max_mv) for offer in seen.offers), default=0)
    return seen._replace(offers=tuple(bound_current(offer, most_ma) for offer in to.offers if not offer.is_epr))


def contracts_down(trigger: Trigger, seen: Available) -> Iterator[Contract]:
    """The contracts that can occur: the present one, then as the source withdraws what the trigger has, step by step.

    Ends with 5 V by Type-C, which every rig sees before its contract and over a cable without PD.

    >>> from pdcheck.bits.offers import fixed
    >>> seen = Available((fixed(5000, 3000), fixed(9000, 3000, 2), fixed(15000, 3000, 3)), (), (), True, False, 3, True)
    >>> [(each.kind, each.voltage_v) for each in contracts_down(Trigger(request="15V"), seen)]
    [('fixed', 15.0), ('fixed', 9.0), ('fixed', 5.0), ('type-c', 5.0)]
    """
    left = seen
    while True:
        contract = settle_on(trigger.request, trigger.fallback, left)
        if contract.offer is None:
            break
        yield contract
        position = contract.offer.position
        left = left._replace(offers=tuple(offer for offer in left.offers if offer.position != position))
    if contract.outcome == "off":
        yield contract
    yield settle_on(NoRequest(), trigger.fallback, seen)
