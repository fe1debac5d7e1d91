"""The conversation that would happen between a source and a trigger over a cable, packet by packet, with times."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pdcheck.contract.available import listed, plain_cable_hides
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.contract.talk.bus_voltage import BusVoltage, Segment, plain_level
from pdcheck.contract.talk.cable_plug import Plug, marker_words
from pdcheck.contract.talk.cc_line import Line, Packet
from pdcheck.contract.talk.clock import Clock, Pace
from pdcheck.contract.talk.events import Event, events_of
from pdcheck.contract.talk.journal import Change, Journal, Remark, Stand
from pdcheck.contract.talk.port import Port
from pdcheck.contract.talk.sink_port import PROPER, Manner, SinkPort
from pdcheck.contract.talk.source_port import SourcePort
from pdcheck.contract.talk.supply import Supply, full_power_w
from pdcheck.errors import InputError
from pdcheck.facts.voltage import VALID_MARGIN
from pdcheck.intake.waveform.writing import Sent, write_vcd
from pdcheck.named import NamedTuple
from pdcheck.parts.behaviour import LONGEST_S, Lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import NoRequest
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

DEFAULT_UNTIL_S = 20.0
Outcome = Literal["contract", "off", "type-c", "failed"]


class Conversation(NamedTuple):
    """All of it, up to ``until_s`` [s] after the plug went in.

    ``result``: ``contract``; ``off`` (a contract at 5 V, but the trigger's output stays off); ``type-c`` (5 V without
    PD); ``failed`` (none stands at the end, ``reason`` says why). ``contract`` is what stands then, None where it
    failed. ``voltage`` is VBUS at the source's receptacle. ``assumed`` holds what nobody said and was taken.
    """

    trigger: Trigger
    source: Source
    cable: Cable
    until_s: float
    result: Outcome
    contract: Contract | None
    reason: str
    packets: tuple[Packet, ...]
    changes: tuple[Change, ...]
    remarks: tuple[Remark, ...]
    stands: tuple[Stand, ...]
    voltage: tuple[Segment, ...]
    assumed: tuple[str, ...] = ()

    def log(self) -> str:
        """The packets as a hex log: seconds, ordered set, bytes with CRC; a reset is its name alone."""
        return "".join(f"{each.time_s:.6f} {each.sop} {each.raw.hex()}".rstrip() + "\n" for each in self.packets)

    def vcd(self) -> str:
        """The CC line as a value change dump (IEEE 1364)."""
        return write_vcd(Sent(each.time_s, each.raw, each.sop) for each in self.packets)


def converse(
    trigger: Trigger,
    source: Source,
    cable: Cable,
    *,
    events: Sequence[Event] = (),
    until_s: float = DEFAULT_UNTIL_S,
    manner: Manner = PROPER,
    seed: int | None = None,
) -> Conversation:
    """Let ``trigger`` and ``source`` talk over ``cable`` for ``until_s`` [s].

    Timers run at the middle of what the standard allows, or with ``seed`` anywhere within it. ``events`` come from
    outside; those of the source's own behaviour are added. The same call gives the same conversation.

    Raises ``InputError`` for a list of offers that no message holds, and for a time that is no time.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A")
    >>> talk = converse(Trigger(request="15V"), charger, Cable(id="c", kind="C-C"), until_s=2.0)
    >>> talk.result, talk.contract.voltage_v, [p.message().type for p in talk.packets if p.answered_s]
    ('contract', 15.0, ['Source_Capabilities', 'Request', 'Accept', 'PS_RDY'])
    """
    if not 0 < until_s <= LONGEST_S:
        raise InputError(f"{until_s:g} s is no time to talk for", expected=f"more than 0 s, at most {LONGEST_S:g} s")
    talk = Talk(trigger, source, cable, manner, seed)
    for event in sorted([*events, *events_of(source)], key=lambda each: each.at_s):
        talk.plan(event)
    talk.play(until_s)
    return talk.so_far()


class Talk:
    """A conversation that is going on: plan events, play up to a time, look at what has come of it so far."""

    def __init__(
        self, trigger: Trigger, source: Source, cable: Cable, manner: Manner = PROPER, seed: int | None = None
    ) -> None:
        self.trigger, self.given, self.cable = trigger, source, cable
        self.pace = Pace(seed)
        self.clock = Clock()
        self.line = Line(self.clock, self.pace)
        self.journal = Journal(self.clock)
        self.bus = BusVoltage(self.clock)
        self.seen = listed(source, cable)
        self.supply = Supply(source, cable)
        self.assumed: list[str] = []
        typec = self.seen.typec_a
        if not self.seen.typec_known:
            self.assumed.append(f"Type-C current at 5 V not stated: taken as {typec:g} A")
        speaks = self.seen.pd and source.behaviour.silent != "capabilities"
        listens = not isinstance(trigger.request, NoRequest)
        self.source: SourcePort | None = None
        self.sink: SinkPort | None = None
        if speaks:
            asks = cable.construction != "captive" and plain_cable_hides(source)
            self.source = SourcePort(self.line, self.journal, self.bus, source, self.supply, asks, typec)
        if listens:
            may_start = self._sink_may_start
            self.sink = SinkPort(self.line, self.journal, self.bus, trigger, self.seen, manner, may_start)
        self.line.stations += [port for port in (self.source, self.sink) if port is not None]
        if cable.pd and marker_words(cable):
            self.line.stations.append(Plug(self.line, cable))
        self.journal.remark("line", "plug in: CC connects")
        self.clock.after(self.pace.of("tCCDebounce"), self._attached)

    def _sink_may_start(self) -> bool:
        """Whether the source's Rp lets the sink begin; one that is dead says nothing else any more."""
        source = self.source
        return source is None or source.dead or (source.state == "PE_SRC_Ready" and not source.says("has_to_tell"))

    def plan(self, event: Event) -> None:
        """Let an event happen at its time, or now where that has passed."""
        self.clock.after(max(event.at_s - self.clock.now_s, 0.0), lambda: self._event(event))

    def play(self, until_s: float) -> None:
        """Go on to ``until_s`` [s] after the plug went in."""
        self.clock.run(until_s)

    def so_far(self) -> Conversation:
        """All of it up to now."""
        journal, outcome = self.journal, self._outcome()
        return Conversation(
            *(self.trigger, self.given, self.cable, self.clock.now_s, *outcome, tuple(self.line.packets)),
            *(tuple(journal.changes), tuple(journal.remarks), tuple(journal.stands)),
            *(tuple(self.bus.so_far()), tuple(self.assumed)),
        )

    def _attached(self) -> None:
        self.journal.remark("line", "CC steady for tCCDebounce: attached, the source turns VBUS on")
        if self.sink is not None:
            self.sink.start()
        level = plain_level(self.seen.typec_a)
        self.bus.move(level, self.pace.of("tSrcTurnOn"), VALID_MARGIN.value, self._powered)

    def _powered(self) -> None:
        self.journal.remark("line", "VBUS at vSafe5V")
        if self.source is not None:
            self.source.start()
        if self.sink is not None:
            self.sink.happen("VBUS present")

    def _event(self, event: Event) -> None:
        self.journal.remark("event", event.text)
        if event.kind == "request" and event.request is not None:
            if self.sink is None:
                self.journal.remark("trouble", "the trigger has no PD: it cannot be set")
            else:
                self.sink.set_to(event.request)
        elif event.kind == "sink silent" and self.sink is not None:
            self.sink.stuck = True
        elif self.source is None:
            self.journal.remark("trouble", "the source has no PD here: nothing on the CC line says so")
        else:
            self._source_event(event, self.source)

    def _source_event(self, event: Event, source: SourcePort) -> None:
        if event.kind == "lower":
            left = event.left
            if left is None:
                left = Lowered(power_w=full_power_w(self.given) / 2)
                self.assumed.append(f"{event.text}: what is left is not stated, taken as half of the power, {left}")
            source.change_offer(left)
        elif event.kind == "full":
            source.change_offer(None)
        elif event.kind == "reset":
            source.reset()
        elif event.kind == "least":
            source.want_least()
        elif event.kind in ("reject", "wait"):
            source.refuse_next(event.kind)
        elif event.kind == "source silent":
            source.dead = True

    def _outcome(self) -> tuple[Outcome, Contract | None, str]:
        if self.sink is None:
            plain = settle_on(NoRequest(), self.trigger.fallback, self.seen)
            return ("type-c", plain, plain.reason) if self.bus.present else ("failed", None, "VBUS is not up yet")
        standing = self.sink.standing
        if self.source is not None and not self.source.dead and not self.sink.stuck:
            if standing is not None and self.source.grant is not None:
                contract = standing.contract
                return ("off" if contract.outcome == "off" else "contract"), contract, contract.reason
            if self.source.state == "PE_SRC_Disabled" and self.sink.target().offer is None and self.sink.seen.offers:
                target = self.sink.target()
                return "type-c", target, target.reason
        elif self.source is None and self.sink.gave_up:
            plain = settle_on(self.sink.request, self.sink.fallback, self.seen._replace(pd=False))
            if self.seen.pd:
                plain = plain._replace(reason="the source sends no capabilities: 5 V by Type-C")
            return "type-c", plain, plain.reason
        return "failed", None, self._why()

    def _why(self) -> str:
        """Why no contract stands at the end."""
        sides: list[Port] = [port for port in (self.source, self.sink) if port is not None]
        troubles = [remark for remark in self.journal.remarks if remark.kind == "trouble"]
        last = f"; last: {troubles[-1].text}" if troubles else ""
        for port in sides:
            if port.dead or port.stuck:
                return f"the {port.name} does not answer any more{last}"
        states = " and ".join(port.state or "not attached" for port in sides)
        return f"no contract after {self.clock.now_s:g} s ({states}){last}"
