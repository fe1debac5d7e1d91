"""The packets of a modelled conversation as a document holds them, each read by those before it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pdcheck.bits.sequence import Listener
from pdcheck.contract.talk.cc_line import Packet
from pdcheck.contract.talk.words import says
from pdcheck.marks import AMONG, AS_HEX, HexWord, Named
from pdcheck.named import NamedTuple


class Content(NamedTuple):
    """What a packet says, and when the other side acknowledged it [s]; a reset says nothing."""

    id: int
    revision: str
    extended: bool
    words: tuple[HexWord, ...]
    data: Annotated[bytes, AS_HEX]
    text: str
    attempt: int
    good_crc_s: float | None


class PacketRecord(NamedTuple):
    """A packet with its times [s]."""

    number: Annotated[int, Named("index")]
    time_s: float
    end_s: float
    sop: str
    sender: str
    type: str
    raw: Annotated[bytes, AS_HEX]
    content: Annotated[Content | None, AMONG]


def packet_records(packets: Sequence[Packet]) -> tuple[PacketRecord, ...]:
    """Every packet in turn."""
    listener = Listener()
    out: list[PacketRecord] = []
    for number, packet in enumerate(packets):
        kind, content = packet.sop, None
        if packet.is_reset:
            listener = Listener()
        else:
            message = packet.message()
            kind = message.type
            content = Content(
                message.header_fields()["id"],
                message.revision,
                message.extended,
                message.words,
                message.data,
                says(listener.hear(message)),
                packet.attempt,
                packet.answered_s,
            )
        record = PacketRecord(number, packet.time_s, packet.end_s, packet.sop, packet.sender, kind, packet.raw, content)
        out.append(record)
    return tuple(out)
