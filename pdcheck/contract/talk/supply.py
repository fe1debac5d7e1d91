"""Supply: what a source has on offer at the moment, as words to send: bounded by cable, shared power, its order."""

from __future__ import annotations

from pdcheck.bits.offers import FIRST_EPR, Offer, arranged
from pdcheck.bits.power import FIXED_SOURCE
from pdcheck.contract.available import bound_current, listed
from pdcheck.contract.lowering import left_of
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_OBJECTS_MAX, SPR_OBJECTS_MAX
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source

_EPR_BIT = 1 << FIXED_SOURCE.field("epr_capable").low
_MOST_LOW = round(SPR_OBJECTS_MAX.value)


class Supply:
    """The offers of a source over a cable, and what is left of them.

    Raises ``InputError`` for a list that no message holds.
    """

    def __init__(self, source: Source, cable: Cable) -> None:
        self._source = source
        self._cable = cable
        self.cable_epr = cable.is_epr
        self._full = listed(source, cable)
        self._has_epr = any(offer.is_epr for offer in source.offers)
        self._now = self._full.offers
        low = [offer for offer in self._now if not offer.is_epr]
        if len(low) > _MOST_LOW or any(offer.position > _MOST_LOW for offer in low):
            most = f"at most {_MOST_LOW} of {SPR_MAX.value:g} V or less, in positions 1 to {_MOST_LOW}"
            raise InputError(f"{source.id} has more offers than a message holds", expected=most)
        if any(offer.position > EPR_OBJECTS_MAX.value for offer in self._now):
            raise InputError(f"{source.id} has more EPR offers than a message holds", expected="positions 8 to 11")

    def lower(self, left: Lowered | None) -> None:
        """Offer only what is left; None for everything again."""
        if left is None:
            self._now = self._full.offers
        elif left.power_w is not None:
            self._now = left_of(self._full.offers, left.power_w)
        else:
            most_ma = round(self._cable.current_a * 1000)
            offers = arranged(bound_current(offer, most_ma) for offer in left.offers)
            self._now = tuple(offer for offer in offers if self.cable_epr or not offer.is_epr)

    def low_words(self) -> tuple[int, ...]:
        """The objects of Source_Capabilities, in the order that this source sends them."""
        low = {offer.position: offer.word for offer in self._now if not offer.is_epr}
        words = [low.get(position, 0) for position in range(1, max(low, default=0) + 1)]
        order = self._source.behaviour.order
        if order and len(order) == len(words):
            words = [words[position - 1] for position in order]
        if words and words[0] and Offer.from_word(words[0]).kind == "fixed":
            words[0] = (words[0] | _EPR_BIT) if self.marked_epr else words[0] & ~_EPR_BIT
        return tuple(words)

    @property
    def marked_epr(self) -> bool:
        """Whether the first object says EPR Capable."""
        behaviour = self._source.behaviour
        return self._has_epr and behaviour.epr_entry != "not-marked" and behaviour.revision != "2.0"

    def high_words(self) -> tuple[int, ...]:
        """The objects of EPR_Source_Capabilities: the low ones padded to seven, then the EPR ones at their places."""
        low = self.low_words()
        words = [*low, *[0] * (FIRST_EPR - 1 - len(low))]
        high = {offer.position: offer.word for offer in self._now if offer.is_epr}
        for position in range(FIRST_EPR, max(high, default=0) + 1):
            words.append(high.get(position, 0))
        for position, word in high.items():
            if position < FIRST_EPR:
                words[position - 1] = word
        return tuple(words)


def full_power_w(source: Source) -> float:
    """What a source gives at most [W]: as printed, else the largest of its offers.

    >>> full_power_w(Source(id="s", offers="5V 3A, 15V 3A"))
    45.0
    """
    if source.pdp_w is not None:
        return source.pdp_w
    return max((offer.greatest_w for offer in source.offers), default=0.0)
