"""Lowering: what is left of a source's list when it offers less, and the contracts that a trigger then ends up with."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.contract.available import Available, bound_current
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.contract.shared_power import left_of
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.request import NoRequest
from pdcheck.parts.trigger import Trigger


def up_to_voltage(seen: Available, voltage_v: float) -> Available:
    """What is left when nothing above a voltage [V] is offered any more; positions stay as they are.

    >>> from pdcheck.bits.offers import fixed
    >>> seen = Available((fixed(5000, 3000), fixed(9000, 3000, 2)), (), (), True, False, 0.5, False)
    >>> [offer.max_mv for offer in up_to_voltage(seen, 5.0).offers]
    [5000]
    """
    most_mv = round(voltage_v * 1000)
    return seen._replace(offers=tuple(offer for offer in seen.offers if offer.max_mv <= most_mv))


def to_power(seen: Available, power_w: float) -> Available:
    """What is left when the source has only a power [W] to give, see ``left_of``.

    >>> from pdcheck.bits.offers import fixed
    >>> seen = Available((fixed(5000, 3000), fixed(20000, 5000, 2)), (), (), True, False, 0.5, False)
    >>> [offer.current_ma for offer in to_power(seen, 40.0).offers], len(to_power(seen, 15.0).offers)
    ([3000, 2000], 1)
    """
    return seen._replace(offers=left_of(seen.offers, power_w))


def lowered(seen: Available, to: Lowered) -> Available:
    """What is left by what a source says of itself: a power, or a list of its own (bounded by the cable as before)."""
    if to.power_w is not None:
        return to_power(seen, to.power_w)
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
