"""TalkResult: what a trigger and a source would tell each other, and what the branches of the rig see of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.contract.settle import Contract
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.contract.talk.conversation import Conversation, Outcome
from pdcheck.contract.talk.journal import Change, Remark, Stand
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.result import UNTOLD, Named, Result, told
from pdcheck.verdict.talk.packets import PacketRecord, packet_records
from pdcheck.verdict.talk.spans import Span, spans


@dataclass(frozen=True, repr=False)
class TalkResult(Result):
    """A conversation, and what it does to a rig."""

    SCHEMA: ClassVar[str] = "talk/2"
    TITLE: ClassVar[str] = "What trigger and source tell each other"
    ROWS: ClassVar[tuple[str, ...]] = ("messages",)

    built: Annotated[Rig, UNTOLD]
    conversation: Annotated[Conversation, UNTOLD]

    @told
    def rig(self) -> str:
        """The rig's title."""
        return self.built.title

    @told
    def source(self) -> str:
        """The id of the source."""
        return self.conversation.source.id

    @told
    def cable(self) -> str:
        """The id of the cable."""
        return self.conversation.cable.id

    @told
    def setting(self) -> str:
        """What the trigger is set to."""
        return request_text(self.conversation.trigger.request)

    @told
    def until_s(self) -> float:
        """How long it was listened to."""
        return self.conversation.until_s

    @told
    def result(self) -> Outcome:
        """How it ends."""
        return self.conversation.result

    @told
    def reason(self) -> str:
        """Why it ends so."""
        return self.conversation.reason

    @told
    def contract(self) -> Contract | None:
        """What stands at the end."""
        return self.conversation.contract

    @told
    def contracts(self) -> tuple[Stand, ...]:
        """What stood, from when on."""
        return self.conversation.stands

    @told
    def messages(self) -> tuple[PacketRecord, ...]:
        """Every packet."""
        return packet_records(self.conversation.packets)

    @told
    def states(self) -> tuple[Change, ...]:
        """The states that the two sides went into."""
        return self.conversation.changes

    @told
    def remarks(self) -> tuple[Remark, ...]:
        """What happened besides."""
        return self.conversation.remarks

    @told
    def voltage(self) -> tuple[Segment, ...]:
        """VBUS at the source's receptacle."""
        return self.conversation.voltage

    @told
    def seen(self) -> Annotated[tuple[Span, ...], Named("spans")]:
        """What the branches see on each level of VBUS."""
        return tuple(spans(self.built, self.conversation))

    @told
    def assumed(self) -> tuple[str, ...]:
        """What nobody said and was taken."""
        return self.conversation.assumed

    @property
    def works(self) -> bool:
        """Whether a contract stands in the end, or there is no PD at all and 5 V come by Type-C."""
        return self.result != "failed"

    def answer(self) -> str:
        """How it ends."""
        stands = self.contract
        volts = "" if stands is None else f", {stands.voltage_v:g} V {stands.current_a:g} A"
        return f"{self.source} with {self.cable}: {self.result}{volts}"
