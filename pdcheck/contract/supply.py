"""Supply: what a source has on offer at the moment, as words to send: bounded by cable, shared power, its order."""

from __future__ import annotations

from pdcheck.bits.offers import FIRST_EPR, Offer, arranged
from pdcheck.bits.power import FIXED_SOURCE
from pdcheck.contract.available import available, bound_current
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_OBJECTS_MAX, SPR_OBJECTS_MAX
from pdcheck.facts.power_rules import PPS_PROG, PPS_PROG_5V_OLDER
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
        self._full = available(source, cable)
        self._has_epr = any(offer.is_epr for offer in source.offers)
        self._now = self._full.offers
        low = [offer for offer in self._now if not offer.is_epr]
        if len(low) > _MOST_LOW or any(offer.position > _MOST_LOW for offer in low):
            most = f"at most {_MOST_LOW} of 21 V or less, in positions 1 to {_MOST_LOW}"
            raise InputError(f"{source.id} has more offers than a message holds", expected=most)
        if any(offer.position > EPR_OBJECTS_MAX.value for offer in self._now):
            raise InputError(f"{source.id} has more EPR offers than a message holds", expected="positions 8 to 11")

    @property
    def pd(self) -> bool:
        """Whether there is PD at all over this cable."""
        return self._full.pd

    @property
    def cable_epr(self) -> bool:
        """Whether the source takes the cable as EPR capable."""
        return self._cable.is_epr

    def lower(self, left: Lowered | None) -> None:
        """Offer only what is left; None for everything again."""
        if left is None:
            self._now = self._full.offers
        elif left.power_w is not None:
            kept = [(offer, within(offer, left.power_w)) for offer in self._full.offers]
            self._now = tuple(
                smaller for offer, smaller in kept if offer.position == 1 or smaller.current_ma_at(smaller.max_mv)
            )
            if len(self._now) < len(kept):
                self._now = arranged(self._now)
        else:
            most_ma = round(self._cable.current_a * 1000)
            offers = arranged(bound_current(offer, most_ma) for offer in left.offers)
            self._now = tuple(offer for offer in offers if self._cable.is_epr or not offer.is_epr)

    def low_words(self) -> tuple[int, ...]:
        """The objects of Source_Capabilities, in the order that this source sends them."""
        low = {offer.position: offer.word for offer in self._now if not offer.is_epr}
        words = [low.get(position, 0) for position in range(1, max(low, default=0) + 1)]
        order = self._source.behaviour.order
        if order and len(order) == len(words):
            words = [words[position - 1] for position in order]
        first = next((at for at, word in enumerate(words) if Offer.from_word(word).kind == "fixed"), None)
        if first == 0:
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


def within(offer: Offer, power_w: float) -> Offer:
    """An offer of a port that has ``power_w`` left: its voltages stay, its current is power / voltage, rounded down.

    PD R3.2 V1.1, Tables 10.3, 10.4 and 10.13 [checked]; a PPS range counts with its nominal voltage, Table 10.11.

    >>> from pdcheck.bits.offers import fixed
    >>> within(fixed(20000, 3250, 4), 30.0).current_ma, within(fixed(5000, 3000), 30.0).current_ma
    (1500, 3000)
    """
    power_mw = round(power_w * 1000)
    changes: dict[str, int | bool] = {}
    fields = offer.fields()
    for key, volts_mv in (
        ("current_ma", nominal_mv(offer)),
        ("current_15v_ma", 15000),
        ("current_20v_ma", 20000),
    ):
        value = getattr(offer, key)
        if value is None or not volts_mv:
            continue
        step = offer.layout.field(key).scale
        left = power_mw * 1000 // volts_mv // step * step
        if left < value:
            changes[key] = left
    if offer.power_mw is not None and offer.power_mw > power_mw:
        step = offer.layout.field("power_mw").scale
        changes["power_mw"] = power_mw // step * step
    if offer.pdp_w is not None and offer.pdp_w > int(power_w):
        changes["pdp_w"] = int(power_w)
    if not changes:
        return offer
    if offer.kind == "pps":
        changes["pps_power_limited"] = True
    return Offer.from_word(offer.layout.encode({**fields, **changes}), offer.position)


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


def full_power_w(source: Source) -> float:
    """What a source gives at most [W]: as printed, else the largest of its offers.

    >>> full_power_w(Source(id="s", offers="5V 3A, 15V 3A"))
    45.0
    """
    if source.pdp_w is not None:
        return source.pdp_w
    return max((offer.max_mv * offer.current_ma_at(offer.max_mv) / 1e6 for offer in source.offers), default=0.0)
