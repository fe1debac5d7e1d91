"""Encode: offers as the messages that would make them."""

from __future__ import annotations

from pdcheck.bits.capabilities import encode_capabilities
from pdcheck.errors import InputError
from pdcheck.intake.encode import EncodedMessage, EncodeResult
from pdcheck.intake.given import given
from pdcheck.intake.sniff import read_any


def encode(offers: str, *, revision: str = "3.x", message_id: int = 0) -> EncodeResult:
    """The message that offers what a label's text says; EPR offers make an EPR message, a chunk a message.

    Messages in hex get their CRC. ``revision`` is ``2.0`` or ``3.x``, ``message_id`` 0 to 7. Raises ``InputError``.

    >>> encode("5V 3A").messages[0].hex.hex()
    'a1112c910100da2e2c31'
    """
    source = given(offers)
    try:
        intake = read_any(source.text())
        told = [each.message for each in intake.told]
        if told:
            found = [EncodedMessage(each.type, each.on_wire() if each.raw else b"", each.sop) for each in told]
        else:
            made = encode_capabilities(intake.offers_or_error(), revision=revision, message_id=message_id)
            found = [EncodedMessage(name, raw) for name, raw in made]
    except InputError as error:
        raise source.blame(error) from None
    return EncodeResult(tuple(found))
