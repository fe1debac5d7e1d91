"""What a need means in a shop: the offers to look for as a label and in hex, the class of cable and its lengths."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pdcheck.bits.offers import Offer
from pdcheck.facts.copper import awg_ohm_per_m
from pdcheck.facts.origin import Origin
from pdcheck.facts.power_rules import FIXED_RULES
from pdcheck.marks import AS_TEXT, IF_KNOWN
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.choices import CableClass
from pdcheck.parts.offer_text import hex_words
from pdcheck.parts.source import Source

GAUGES = (28, 24, 22, 20)
"""Gauges of the conductors in cables that are sold [common practice]."""

Whole = Annotated[int | None, IF_KNOWN]


class OfferToBuy(NamedTuple):
    """One offer with the figures that it has."""

    position: int
    kind: str
    voltage_mv: Whole
    min_voltage_mv: Whole
    max_voltage_mv: Whole
    current_ma: Whole
    power_mw: Whole
    current_15v_ma: Whole
    current_20v_ma: Whole
    pdp_w: Whole


class SourceToBuy(NamedTuple):
    """A source as it is to be looked for."""

    offers: tuple[OfferToBuy, ...]
    label: str
    hex: str
    typec_current_a: float | None
    origin: Annotated[Origin, AS_TEXT]


class Length(NamedTuple):
    """The greatest length of a cable with conductors of a gauge."""

    awg: int
    length_m: float


class CableToBuy(NamedTuple):
    """A cable as it is to be looked for; ``loop_ohm`` is the most that its loop may have, None where all do."""

    cable_class: CableClass
    current_ma: int
    voltage_mv: int
    epr: bool
    loop_ohm: float | None
    lengths: tuple[Length, ...]


def source_to_buy(source: Source) -> SourceToBuy:
    """A source of the power rules as it is to be looked for."""
    words = hex_words(offer.word for offer in source.offers)
    offers = tuple(map(_offer, source.offers))
    return SourceToBuy(offers, label(source.offers), words, source.typec_current_a, FIXED_RULES)


def _offer(offer: Offer) -> OfferToBuy:
    alike = offer.min_mv == offer.max_mv
    return OfferToBuy(
        offer.position,
        offer.kind,
        offer.max_mv if alike else None,
        None if alike else offer.min_mv,
        None if alike else offer.max_mv,
        offer.current_ma,
        offer.power_mw,
        offer.current_15v_ma,
        offer.current_20v_ma,
        offer.pdp_w,
    )


def cable_to_buy(cable_class: CableClass, cable: Cable, loop_ohm: float | None) -> CableToBuy:
    """A cable of a class as it is to be looked for."""
    gauges = () if loop_ohm is None else GAUGES
    lengths = tuple(Length(awg, greatest_length_m(loop_ohm or 0.0, awg)) for awg in gauges)
    carries = round(1000 * cable.current_a), round(1000 * cable.voltage_v)
    return CableToBuy(cable_class, *carries, cable.is_epr, loop_ohm, lengths)


def greatest_length_m(loop_ohm: float, awg: int) -> float:
    """The greatest length of a cable [m] whose conductors, out and back, are of a gauge; contacts not counted.

    >>> round(greatest_length_m(0.25, 24), 2)
    1.48
    """
    return loop_ohm / (2 * awg_ohm_per_m(awg))


def label(offers: Sequence[Offer]) -> str:
    """Offers as a label, which every command reads back.

    >>> from pdcheck.bits.offers import epr_avs, fixed, spr_avs
    >>> label([fixed(9000, 2220), spr_avs(3000, 2250), epr_avs(15000, 28000, 140)])
    '9V 2.22A; AVS 9-20V 3A/2.25A; AVS 15-28V 140W'
    """
    plain = [f"{offer.max_mv / 1000:g}V {_amps(offer.current_ma)}" for offer in offers if offer.kind == "fixed"]
    ranges: list[str] = []
    for offer in offers:
        span = f"{offer.min_mv / 1000:g}-{offer.max_mv / 1000:g}V"
        if offer.kind == "pps":
            ranges.append(f"PPS {span} {_amps(offer.current_ma)}")
        elif offer.kind == "spr-avs":
            more = f"/{_amps(offer.current_20v_ma)}" if offer.current_20v_ma else ""
            ranges.append(f"AVS {span} {_amps(offer.current_15v_ma)}{more}")
        elif offer.kind == "epr-avs":
            ranges.append(f"AVS {span} {offer.pdp_w}W")
    return "; ".join([", ".join(plain), *ranges])


def _amps(milliamperes: int | None) -> str:
    return f"{(milliamperes or 0) / 1000:g}A"
