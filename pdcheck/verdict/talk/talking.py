"""TalkResult: what a trigger and a source would tell each other, and what the branches of the rig see of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.contract.settle import Contract
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.contract.talk.conversation import DEFAULT_UNTIL_S, Conversation, Outcome, converse
from pdcheck.contract.talk.events import Event, parse_event
from pdcheck.contract.talk.faults import FAULTS
from pdcheck.contract.talk.journal import Change, Remark, Stand
from pdcheck.contract.talk.sink_port import Manner
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import parse_quantity
from pdcheck.result import UNTOLD, Named, Result, told
from pdcheck.verdict.talk.packets import PacketRecord, packet_records
from pdcheck.verdict.talk.spans import Span, spans


@dataclass(frozen=True, repr=False)
class TalkResult(Result):
    """A conversation, and what it does to a rig."""

    SCHEMA: ClassVar[str] = "talk/1"
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
    def request(self) -> str:
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
    def seen(self) -> Annotated[tuple[Span, ...], Named("branches")]:
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
        return f"{self.source} over {self.cable}: {self.result}{volts}"


def talk(
    rig: Rig,
    source: Source,
    cable: Cable,
    *,
    events: Iterable[str | Event] = (),
    until: str | float = DEFAULT_UNTIL_S,
    faults: Iterable[str] = (),
    give_back: str | float | None = None,
    seed: int | None = None,
) -> TalkResult:
    """What the trigger of a rig and a source tell each other over a cable in ``until`` [s], and what that gives.

    ``events`` are what happens meanwhile, as in ``second port at 3s``; ``faults`` what the trigger does wrong, by the
    keys of ``FAULTS``; with ``give_back`` [A] it offers to go down to that. ``seed`` draws each time from what the
    standard allows instead of taking its middle. Raises ``InputError``.

    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> talk(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C"), until="2s")
    <TalkResult: s over c: contract, 9 V 3 A>
    """
    manner = Manner()
    for fault in faults:
        manner = manner._replace(**_fault(fault))
    if give_back is not None:
        manner = manner._replace(least_a=_read(give_back, "A", "give_back"))
    planned = [each if isinstance(each, Event) else parse_event(each, source) for each in events]
    until_s = _read(until, "s", "until")
    return TalkResult(
        rig, converse(rig.trigger, source, cable, events=planned, until_s=until_s, manner=manner, seed=seed)
    )


def _fault(name: str) -> dict[str, bool]:
    if name not in FAULTS:
        raise InputError(f"no such fault: {name!r}", expected=", ".join(FAULTS))
    return FAULTS[name]


def _read(value: str | float, unit: str, name: str) -> float:
    try:
        return parse_quantity(value, unit)
    except InputError as error:
        raise error.inside(name) from None
