"""EncodeResult: offers, or messages in hex, as messages with their CRC, ready to be sent."""

from __future__ import annotations

from typing import Annotated, ClassVar, NamedTuple

from pdcheck.bits.capabilities import encode_capabilities
from pdcheck.errors import InputError
from pdcheck.intake.given import given
from pdcheck.intake.sniff import read_any
from pdcheck.marks import AS_HEX, UNTOLD
from pdcheck.result import Result


class EncodedMessage(NamedTuple):
    """A message as it stands on the wire, CRC included, behind its ordered set."""

    type: str
    hex: Annotated[bytes, AS_HEX]
    sop: Annotated[str, UNTOLD] = "SOP"


class _Encoded(NamedTuple):
    messages: tuple[EncodedMessage, ...]


class EncodeResult(Result, _Encoded):
    """Messages in hex."""

    SCHEMA: ClassVar[str] = "encode/1"
    TITLE: ClassVar[str] = "Offers as messages"
    ROWS: ClassVar[tuple[str, ...]] = ("messages",)

    def answer(self) -> str:
        """The messages by name."""
        return ", ".join(each.type for each in self.messages)

    def vcd(self) -> str:
        """The CC line with these messages on it, as a value change dump (IEEE 1364)."""
        from pdcheck.intake.waveform.writing import Sent, write_vcd

        # Far enough apart that no packet of the standard's longest reaches into the next.
        spacing_s = 5e-3
        return write_vcd(Sent(at * spacing_s, each.hex, each.sop) for at, each in enumerate(self.messages, 1))


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
