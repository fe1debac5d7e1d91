"""Offers to the capability messages that a source would send them in."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.bits.message import build_extended, build_message, make_header
from pdcheck.bits.offers import FIRST_EPR, Offer, arranged
from pdcheck.bits.power import FIXED_SOURCE
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import EPR_OBJECTS_MAX, SPR_OBJECTS_MAX


def encode_capabilities(
    offers: Sequence[Offer], *, revision: str = "3.x", message_id: int = 0
) -> list[tuple[str, bytes]]:
    """``(message name, bytes with CRC)`` of Source_Capabilities and, with EPR offers, of each EPR chunk after it.

    The offers are put in the standard's order; with EPR ones the first object is marked EPR Capable.

    Raises ``InputError`` for more objects than a message holds, and for a list without SPR offers.

    >>> from pdcheck.bits.offers import fixed
    >>> [raw.hex() for _, raw in encode_capabilities([fixed(5000, 3000)])]
    ['a1112c910100da2e2c31']
    """
    placed = arranged(offers)
    low = [offer.word for offer in placed if not offer.is_epr]
    high = [offer.word for offer in placed if offer.is_epr]
    most, most_high = round(SPR_OBJECTS_MAX.value), round(EPR_OBJECTS_MAX.value - SPR_OBJECTS_MAX.value)
    if not low:
        raise InputError("no offer of 21 V or less", expected="5 V first, as every source has it")
    if len(low) > most or len(high) > most_high:
        raise InputError(
            f"{len(low)} SPR and {len(high)} EPR offers", expected=f"at most {most} and {most_high} in a message"
        )
    if high and placed[0].kind == "fixed":
        low[0] |= 1 << FIXED_SOURCE.field("epr_capable").low
    name = "Source_Capabilities"
    header = make_header(name, len(low), message_id=message_id, revision=revision)
    messages = [(name, build_message(header, low))]
    if high:
        name = "EPR_Source_Capabilities"
        padded = low + [0] * (FIRST_EPR - 1 - len(low)) + high
        data = b"".join(word.to_bytes(4, "little") for word in padded)
        header = make_header(name, 0, revision=revision, extended=True)
        messages += [(name, chunk) for chunk in build_extended(header, data, message_id=message_id + 1)]
    return messages
