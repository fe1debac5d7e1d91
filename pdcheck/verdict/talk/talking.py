"""TalkResult: what a trigger and a source would tell each other, and what the branches of the rig see of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.bits.sequence import Listener
from pdcheck.contract.settle import Contract
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.contract.talk.cc_line import Packet
from pdcheck.contract.talk.conversation import Conversation, Outcome
from pdcheck.contract.talk.journal import Change, Remark, Stand
from pdcheck.contract.talk.words import says
from pdcheck.marks import AMONG, AS_HEX, UNTOLD, HexWord, Named, passed, told
from pdcheck.named import NamedTuple
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.result import Result
from pdcheck.verdict.talk.spans import Span, spans


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
            said, number_of = says(listener.hear(message)), message.header_fields()["id"]
            inner = message.revision, message.extended, message.words, message.data
            content = Content(number_of, *inner, said, packet.attempt, packet.answered_s)
        record = PacketRecord(number, packet.time_s, packet.end_s, packet.sop, packet.sender, kind, packet.raw, content)
        out.append(record)
    return tuple(out)


@dataclass(frozen=True, repr=False)
class TalkResult(Result):
    """A conversation, and what it does to a rig."""

    SCHEMA: ClassVar[str] = "talk/2"
    TITLE: ClassVar[str] = "What trigger and source tell each other"
    ROWS: ClassVar[tuple[str, ...]] = ("messages",)

    built: Annotated[Rig, UNTOLD]
    conversation: Annotated[Conversation, UNTOLD]

    rig = passed[str]("built.title", "The rig's title.")
    source = passed[str]("conversation.source.id", "The id of the source.")
    cable = passed[str]("conversation.cable.id", "The id of the cable.")

    @told
    def setting(self) -> str:
        """What the trigger is set to."""
        return request_text(self.conversation.trigger.request)

    until_s = passed[float]("conversation.until_s", "How long it was listened to.")
    result = passed[Outcome]("conversation.result", "How it ends.")
    reason = passed[str]("conversation.reason", "Why it ends so.")
    contract = passed[Contract | None]("conversation.contract", "What stands at the end.")
    contracts = passed[tuple[Stand, ...]]("conversation.stands", "What stood, from when on.")

    @told
    def messages(self) -> tuple[PacketRecord, ...]:
        """Every packet."""
        return packet_records(self.conversation.packets)

    states = passed[tuple[Change, ...]]("conversation.changes", "The states that the two sides went into.")
    remarks = passed[tuple[Remark, ...]]("conversation.remarks", "What happened besides.")
    voltage = passed[tuple[Segment, ...]]("conversation.voltage", "VBUS at the source's receptacle.")

    @told
    def seen(self) -> Annotated[tuple[Span, ...], Named("spans")]:
        """What the branches see on each level of VBUS."""
        return tuple(spans(self.built, self.conversation))

    assumed = passed[tuple[str, ...]]("conversation.assumed", "What nobody said and was taken.")

    @property
    def works(self) -> bool:
        """Whether a contract stands in the end, or there is no PD at all and 5 V come by Type-C."""
        return self.result != "failed"

    def answer(self) -> str:
        """How it ends."""
        stands = self.contract
        volts = "" if stands is None else f", {stands.voltage_v:g} V {stands.current_a:g} A"
        return f"{self.source} with {self.cable}: {self.result}{volts}"
