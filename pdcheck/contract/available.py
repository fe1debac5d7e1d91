"""What a source offers over a cable: the cable bounds the current, hides EPR, and may leave no PD at all."""

from __future__ import annotations

from pdcheck.bits.offers import Offer
from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.current import USB_2_CURRENT
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source


class Available(NamedTuple):
    """The choices that a sink sees.

    ``offers`` keep their positions; those that the cable bounds carry the lower current, in their word too. ``hidden``
    are EPR offers that this cable does not let through, ``bounded`` the offers whose current it cut. ``pd`` is false
    where only 5 V by Type-C can come. ``typec_a`` is the current to count on there, ``typec_known`` whether the source
    states it.
    """

    offers: tuple[Offer, ...]
    hidden: tuple[Offer, ...]
    bounded: tuple[Offer, ...]
    pd: bool
    epr: bool
    typec_a: float
    typec_known: bool

    @property
    def suspends(self) -> bool:
        """Whether the first object says USB Suspend Supported: a sink that is to go on then has to say so.

        >>> from pdcheck.bits.offers import fixed
        >>> Available((fixed(5000, 3000, usb_suspend_supported=True),), (), (), True, False, 0.5, False).suspends
        True
        """
        return bool(self.offers) and "usb_suspend_supported" in self.offers[0].flags


def available(source: Source, cable: Cable) -> Available:
    """What can be had from ``source`` over ``cable``: what it lists, as far as its stated behaviour lets one have it.

    A source that refuses EPR mode has nothing above 21 V to give, one that sends no capabilities has 5 V alone, and one
    that sends its list in an order of its own is asked by that order.

    >>> odd = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A", behaviour={"order": [1, 3, 2]})
    >>> [(offer.position, offer.max_mv) for offer in available(odd, Cable(id="c", kind="C-C")).offers]
    [(1, 5000), (2, 15000), (3, 9000)]
    """
    seen, behaviour = listed(source, cable), source.behaviour
    if not seen.pd:
        return seen
    if behaviour.silent == "capabilities":
        return seen._replace(offers=(), hidden=(), bounded=(), pd=False, epr=False)
    if behaviour.refuses_epr:
        seen = seen._replace(offers=tuple(offer for offer in seen.offers if not offer.is_epr), epr=False)
    low = [offer for offer in seen.offers if not offer.is_epr]
    if behaviour.order and len(behaviour.order) == len(low) == max(offer.position for offer in low):
        at = {offer.position: offer for offer in low}
        sent = tuple(at[place]._replace(position=number) for number, place in enumerate(behaviour.order, 1))
        seen = seen._replace(offers=(*sent, *(offer for offer in seen.offers if offer.is_epr)))
    return seen


def listed(source: Source, cable: Cable) -> Available:
    """What ``source`` lists when ``cable`` is what it finds, however it behaves.

    PD R3.2 V1.1, 4.4 and 6.4.10 [checked]: more than 3 A only over a cable marked for 5 A, EPR only over an EPR cable.
    A cable fixed to the source is known to it, whatever an e-marker would say.

    >>> charger = Source(id="s", offers="5V 3A, 20V 5A")
    >>> seen = listed(charger, Cable(id="c", kind="C-C"))
    >>> [(offer.max_mv, offer.current_ma) for offer in seen.offers]
    [(5000, 3000), (20000, 3000)]
    """
    carried = cable.current_a
    typec_known = source.typec_current_a is not None
    typec = source.typec_current_a if source.typec_current_a is not None else USB_2_CURRENT.value
    typec = min(typec, carried)
    real = tuple(offer for offer in source.offers if not offer.is_gap and offer.kind != "augmented-reserved")
    if not cable.pd or not real:
        return Available((), (), (), False, False, typec, typec_known)
    epr = cable.is_epr and any(offer.is_epr for offer in real)
    hidden = () if epr else tuple(offer for offer in real if offer.is_epr)
    seen: list[Offer] = []
    bounded: list[Offer] = []
    most_ma = round(carried * 1000)
    for offer in real:
        if offer in hidden:
            continue
        cut = bound_current(offer, most_ma)
        seen.append(cut)
        if cut.word != offer.word:
            bounded.append(offer)
    return Available(tuple(seen), hidden, tuple(bounded), True, epr, typec, typec_known)


def bound_current(offer: Offer, most_ma: int) -> Offer:
    """The offer as a source words it for a cable of ``most_ma``; unchanged where it stays within.

    >>> from pdcheck.bits.offers import fixed
    >>> bound_current(fixed(20000, 5000, 4), 3000).current_ma
    3000
    """
    most = dict.fromkeys(("current_ma", "current_15v_ma", "current_20v_ma"), most_ma)
    return offer.at_most(most | ({"power_mw": offer.min_mv * most_ma // 1000} if offer.kind == "battery" else {}))


def plain_cable_hides(source: Source) -> bool:
    """Whether the source has anything that needs more than a plain 3 A cable."""
    most_ma = round(UNMARKED_CURRENT.value * 1000)
    return any(offer.is_epr or bound_current(offer, most_ma) != offer for offer in source.offers)
