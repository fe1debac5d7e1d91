"""Offers and words as text: for people, and for a file so that it reads back as the same offers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from pdcheck.bits.offers import Offer
from pdcheck.errors import InputError

_ALONE = re.compile(
    r"(?i)(?:usb[ -]?c\s+|pd\s+|max\.?\s+)*([0-9]{1,3}(?:[.,][0-9]{1,2})?)\s?w(?:atts?)?"
    r"(?:[ ,]+(?:pd|gan|max\.?|usb[ -]?c|power delivery|charger|adapter|supply))*"
)
_WORDS = re.compile(r"(?:0x[0-9A-Fa-f]{8}\s*)+")


def hex_words(words: Iterable[int]) -> str:
    """32-bit words as a file holds them.

    >>> hex_words([0x0801912C, 0])
    '0x0801912C 0x00000000'
    """
    return " ".join(f"0x{word:08X}" for word in words)


def offers_text(offers: Sequence[Offer]) -> str:
    """Offers for a file: the text of a label where it says all that the words say, else the words.

    >>> offers_text([Offer.from_word(0x0001912C, 1)]), offers_text([Offer.from_word(0x0801912C, 1)])
    ('5V 3A', '0x0801912C')
    """
    from pdcheck.intake.label import LONGEST, looks_like_label, read_label

    label = offers_line(offers)
    try:
        same = looks_like_label(label) and len(label) <= LONGEST and read_label(label).offers == tuple(offers)
    except InputError:
        same = False
    return label if same else hex_words(offer.word for offer in offers)


def read_offers(text: str) -> tuple[Offer, ...] | None:
    """The inverse of ``offers_text``; None for a text that is neither a label nor words.

    >>> [offer.max_mv for offer in read_offers("5V 3A, 9V 2A") or ()], read_offers("45W")
    ([5000, 9000], None)
    """
    # What makes no source of a label needs none of its patterns.
    from pdcheck.intake.label import looks_like_label, read_label

    if looks_like_label(text):
        return read_label(text).offers
    if not is_words(text):
        return None
    return tuple(Offer.from_word(int(word, 16), at) for at, word in enumerate(text.split(), 1))


def is_words(text: Any) -> bool:
    """Whether a text is bare 32-bit words, as ``hex_words`` writes them."""
    return isinstance(text, str) and _WORDS.fullmatch(text.strip()) is not None


def as_offers(value: Any) -> tuple[Offer, ...] | None:
    """What is offers already, one or a list of them; None for anything else."""
    listed = value if isinstance(value, list) or type(value) is tuple else (value,)
    return tuple(listed) if all(isinstance(each, Offer) for each in listed) else None


def offers_line(offers: Sequence[Offer]) -> str:
    """The offers for people, for a comment.

    >>> offers_line([Offer.from_word(0x0801912C, 1), Offer.from_word(0x0002D12C, 2)])
    '5V 3A, 9V 3A'
    """
    return ", ".join(_offer_text(offer) for offer in offers if not offer.is_gap)


def _offer_text(offer: Offer) -> str:
    span = f"{offer.max_mv / 1000:g}V"
    if offer.min_mv != offer.max_mv:
        span = f"{offer.kind.upper().replace('-', ' ')} {offer.min_mv / 1000:g}-{span}"
    if offer.current_ma is not None:
        return f"{span} {offer.current_ma / 1000:g}A"
    if offer.current_15v_ma is not None:
        return f"{span} {offer.current_15v_ma / 1000:g}A"
    watts = offer.pdp_w if offer.pdp_w is not None else (offer.power_mw or 0) / 1000
    return f"{span} {watts:g}W"


def power_alone(text: Any) -> float | None:
    """The power [W] of a text that says nothing else; None for any other.

    >>> power_alone("65W"), power_alone("USB-C 30 W charger"), power_alone("65W; 5V 3A"), power_alone("74Wh")
    (65.0, 30.0, None, None)
    """
    found = _ALONE.fullmatch(text.strip()) if isinstance(text, str) else None
    return None if found is None else float(found[1].replace(",", "."))
