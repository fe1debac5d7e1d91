"""Offers and requests in a few words, for the texts of an audit."""

from __future__ import annotations

from pdcheck.bits.offers import Offer
from pdcheck.contract.following.state import Asked
from pdcheck.facts.capabilities import UNREGULATED


def offer_text(offer: Offer) -> str:
    """An offer in a few words.

    >>> offer_text(Offer.from_word(0x0002D12C, 2))
    '9 V 3 A'
    """
    span = f"{offer.max_mv / 1000:g} V"
    if offer.min_mv != offer.max_mv:
        span = f"{offer.kind} {offer.min_mv / 1000:g}..{span}"
    if offer.current_ma is not None:
        return f"{span} {offer.current_ma / 1000:g} A"
    if offer.power_mw is not None:
        return f"{span} {offer.power_mw / 1000:g} W"
    if offer.pdp_w is not None:
        return f"{span} {offer.pdp_w} W"
    if offer.current_15v_ma is not None:
        return f"{span} {offer.current_15v_ma / 1000:g} A"
    return span


def agreed_text(asked: Asked) -> str:
    """What a request asks for, in a few words."""
    if asked.offer is None:
        return f"object {asked.position}"
    fixed = asked.offer.kind == "fixed"
    kind = "" if fixed else f"{asked.offer.kind} "
    span = f"{(asked.voltage_mv or 0) / 1000:g} V"
    if asked.offer.kind in UNREGULATED:
        span = f"{asked.offer.min_mv / 1000:g}..{span}"
    if asked.current_ma is not None:
        return f"{kind}{span} {asked.current_ma / 1000:g} A"
    return f"{kind}{span} {(asked.power_mw or 0) / 1000:g} W"
