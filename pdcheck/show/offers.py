"""Offers as people read them: the cells of one, and the table of all."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.bits.offers import Offer, volts
from pdcheck.show.columns import table


def offer_cells(offer: Offer) -> list[str]:
    """Position, kind, voltage, current, power and word of an offer, for a table."""
    span = volts(offer.max_mv) if offer.min_mv == offer.max_mv else f"{offer.min_mv / 1000:g}..{volts(offer.max_mv)}"
    if offer.kind == "augmented-reserved":
        span = "?"
    if offer.current_ma is not None:
        current = f"{offer.current_ma / 1000:g} A"
        power = f"{offer.max_mv * offer.current_ma / 1e6:.4g} W"
    elif offer.power_mw is not None:
        current, power = "by power", f"{offer.power_mw / 1000:g} W"
    elif offer.pdp_w is not None:
        current, power = "by power", f"{offer.pdp_w} W"
    elif offer.current_15v_ma is not None and offer.current_20v_ma is not None:
        current = f"{offer.current_15v_ma / 1000:g} A"
        if offer.current_20v_ma:
            current += f" (to 15 V), {offer.current_20v_ma / 1000:g} A"
        power = f"{max(15 * offer.current_15v_ma, 20 * offer.current_20v_ma) / 1000:.4g} W"
    else:
        current = power = "?"
    return [str(offer.position), offer.kind, span, current, power, f"{offer.word:08X}"]


def offers_table(offers: Iterable[Offer]) -> str:
    rows = [offer_cells(offer) for offer in offers if not offer.is_gap]
    return table(["at", "kind", "voltage", "current", "power", "word"], rows)
