"""Text and files in, words and messages out; reads, never judges."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pdcheck.bits.offers import Offer


def offers_from_text(text: str) -> tuple[Offer, ...]:
    """Offers of a label, of bare object words or of the last capabilities in a hex log.

    Raises ``InputError`` where the text is none of these, or holds no offers.

    >>> [offer.max_mv for offer in offers_from_text("0x0801912C 0x0002D12C")]
    [5000, 9000]
    """
    from pdcheck.intake.sniff import read_any

    return read_any(text).offers_or_error()
