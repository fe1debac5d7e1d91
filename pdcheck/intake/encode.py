"""EncodeResult: offers, or messages in hex, as messages with their CRC, ready to be sent."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pdcheck.marks import AS_HEX, UNTOLD
from pdcheck.named import NamedTuple
from pdcheck.result import Result


class EncodedMessage(NamedTuple):
    """A message as it stands on the wire, CRC included, behind its ordered set."""

    type: str
    hex: Annotated[bytes, AS_HEX]
    sop: Annotated[str, UNTOLD] = "SOP"


class Encoded(NamedTuple):
    """The field of ``EncodeResult``: a named tuple loads faster than a dataclass."""

    messages: tuple[EncodedMessage, ...]


class EncodeResult(Result, Encoded):
    """Messages in hex."""

    SCHEMA: ClassVar[str] = "encode/1"
    TITLE: ClassVar[str] = "Offers as messages"
    ROWS: ClassVar[tuple[str, ...]] = ("messages",)

    def answer(self) -> str:
        """The messages by name."""
        return ", ".join(each.type for each in self.messages)

    def pcapng(self) -> bytes:
        """These messages as packets in a pcapng file, 5 ms apart."""
        from pdcheck.intake.pcapng import Written, written

        return written(Written(at * 5e-3, each.sop, each.hex) for at, each in enumerate(self.messages, 1))

    def vcd(self) -> str:
        """The CC line with these messages on it, as a value change dump (IEEE 1364)."""
        from pdcheck.intake.waveform.writing import Sent, write_vcd

        # Far enough apart that no packet of the standard's longest reaches into the next.
        spacing_s = 5e-3
        return write_vcd(Sent(at * spacing_s, each.hex, each.sop) for at, each in enumerate(self.messages, 1))
