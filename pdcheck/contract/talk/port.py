"""Port: runs a policy table on the line: states, timers, MessageIDs, chunks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar

from pdcheck.bits.blocks import EXTENDED_CONTROL
from pdcheck.bits.crc import with_crc
from pdcheck.bits.header import EXTENDED_HEADER, HEADER
from pdcheck.bits.message import Message, build_extended, build_message, make_header
from pdcheck.bits.power import EPR_MODE
from pdcheck.bits.sequence import Listener, Told
from pdcheck.contract.talk.bus_voltage import BusVoltage
from pdcheck.contract.talk.cable_plug import codes_of
from pdcheck.contract.talk.cc_line import Line, tries
from pdcheck.contract.talk.clock import Due
from pdcheck.contract.talk.journal import Journal, Side
from pdcheck.contract.talk.policy import AT_ONCE, ENTRY, SENT, TIMEOUT, Policy, TimerUse, conditions
from pdcheck.facts.timing import COUNTERS


def sets(**values: bool) -> Callable[[Any], None]:
    """An action that only keeps something in mind."""
    return lambda port: vars(port).update(values)


def unseen(port: Any) -> None:
    """An action of which the line shows nothing."""


class Port:
    """One side of the conversation; what else its table does and asks is up to the two kinds of it.

    Each action and guard of the table, by its key, is said in words for the page, and done by a function of the port.
    """

    name: Side
    policy: Policy
    actions: ClassVar[Mapping[str, tuple[str, Callable[[Any], Any]]]] = {
        "enter_epr": ("EPR mode is on", sets(in_epr=True)),
        "leave_epr": ("SPR mode from now on", sets(in_epr=False)),
        "send_hard_reset": ("HardResetCounter up by one; send Hard Reset", lambda self: self.send_hard_reset()),
    }
    guards: ClassVar[Mapping[str, tuple[str, Callable[[Any], bool]]]] = {
        "hard_resets_left": (
            "HardResetCounter is at most nHardResetCount",
            lambda self: self.hard_resets <= COUNTERS["nHardResetCount"].value,
        ),
        "in_epr": ("EPR mode is on", lambda self: self.in_epr),
    }

    def __init__(self, line: Line, journal: Journal, bus: BusVoltage) -> None:
        self.line, self.journal, self.bus = line, journal, bus
        self.clock, self.pace = line.clock, line.pace
        self.revision = "3.x"
        self.state = ""
        self.in_epr = False
        self.hard_resets = 0
        self.dead = False
        self.stuck = False
        self._stay = 0
        self._timers: dict[str, Due] = {}
        self._ids: dict[str, int] = {}
        self._chunks: list[bytes] = []
        self._listener = Listener()
        self.told: Told | None = None

    # states

    def start(self) -> None:
        """Go into the first state."""
        self._enter(self.policy.initial, "start")

    def happen(self, event: str) -> None:
        """Take the first arrow that this event opens, where there is one."""
        arrows = [] if self.dead or self.stuck else self.policy.arrows_from(self.state, event)
        arrow = next((arrow for arrow in arrows if self._holds(arrow.guard)), None)
        if arrow is not None:
            self._do(arrow.does)
            if arrow.target:
                self._enter(arrow.target, event)

    def _enter(self, name: str, because: str) -> None:
        state = self.policy.states[name]
        before = self.policy.states.get(self.state)
        kept = {use.name for use in state.timers if use.after == ENTRY}
        kept &= {use.name for use in before.timers if use.after == ENTRY} if before is not None else set()
        for timer in set(self._timers) - kept:
            self._timers.pop(timer).cancel()
        self.leaving(self.state, name, because)
        self.state = name
        self._stay += 1
        stay = self._stay
        self.journal.change(self.name, name, because)
        self._do(state.does)
        if self._stay == stay:
            self._run_timers(ENTRY)
        if self._stay == stay:
            self.happen(AT_ONCE)

    def leaving(self, old: str, new: str, because: str) -> None:
        """Take note of what ought not to be."""
        if new in self.policy.resets:
            kind = "Soft_Reset" if "Soft" in new else "Hard Reset"
            self.journal.remark("trouble", f"the {self.name} sends a {kind}: {self._cause(old, because)}")

    def _cause(self, state: str, event: str) -> str:
        if event.startswith(TIMEOUT):
            return f"{event.removeprefix(TIMEOUT)} ran out in {state}"
        if event == AT_ONCE:
            return f"{state} leads to it"
        return f"{event} in {state}"

    def _do(self, actions: Sequence[str]) -> None:
        stay = self._stay
        for action in actions:
            self.actions[action][1](self)
            if self._stay != stay:
                return
            self._run_timers(action)

    def _holds(self, guard: str) -> bool:
        return all(self.says(key) is wanted for key, wanted in conditions(guard))

    def says(self, guard: str) -> bool:
        """Whether a guard of the table holds now."""
        return bool(self.guards[guard][1](self))

    # timers

    def _run_timers(self, after: str) -> None:
        for use in self.policy.states[self.state].timers:
            if use.after == after and self._holds(use.guard) and not (after == ENTRY and use.name in self._timers):
                self._run(use)

    def _run(self, use: TimerUse) -> None:
        running = self._timers.pop(use.name, None)
        if running is not None:
            running.cancel()
        self._timers[use.name] = self.clock.after(self.time_of(use.name), lambda: self._out(use.name))

    def time_of(self, timer: str) -> float:
        """How long a timer runs [s]."""
        return self.pace.of(timer, epr=self.in_epr)

    def _out(self, name: str) -> None:
        if self.held_back(name):
            # Not this side's turn: look again after the time that a source gives the sink to see Rp change.
            self._timers[name] = self.clock.after(self.pace.of("tSinkTx"), lambda: self._out(name))
            return
        self._timers.pop(name, None)
        self.happen(TIMEOUT + name)

    def held_back(self, timer: str) -> bool:
        """Whether what this timer starts has to wait for the other side."""
        return False

    # sending

    def send(
        self, name: str, words: Sequence[int] = (), *, sop: str = "SOP", event: str = SENT, answer: bool = True
    ) -> None:
        """Send a control or data message: in answer to something within tReceiverResponse, else at once."""
        self._send(answer, lambda: self._frame(name, words, sop), sop, event)

    def send_block(self, name: str, data: bytes, *, answer: bool = True) -> None:
        """Send an extended message, in chunks where it is long; later chunks go out when they are asked for."""
        header = make_header(name, 0, revision=self.revision, source=self._is_source(), extended=True)
        self._chunks = build_extended(header, data, message_id=self._ids.get("SOP", 0))
        self._send(answer, lambda: self._chunks[0], "SOP", SENT if len(self._chunks) == 1 else "")

    def send_control(self, kind: str, *, answer: bool = True) -> None:
        """Send an Extended_Control message of a kind."""
        head = EXTENDED_CONTROL.head
        self.send_block("Extended_Control", head.to_bytes(codes_of(head, type=kind)), answer=answer)

    def send_epr_mode(self, action: str, data: int = 0, *, answer: bool = True) -> None:
        """Send an EPR_Mode message with an action and its data."""
        self.send("EPR_Mode", [EPR_MODE.encode(codes_of(EPR_MODE, action=action, data=data))], answer=answer)

    def send_hard_reset(self) -> None:
        """Send a Hard Reset, and count it."""
        self.hard_resets += 1
        self.line.hard_reset(self.name, lambda: self.happen("Hard Reset sent"))

    def _send(self, answer: bool, raw: Callable[[], bytes], sop: str, event: str) -> None:
        if answer:
            self._later("tReceiverResponse", lambda: self._send_frame(raw(), sop, event))
        else:
            self._send_frame(raw(), sop, event)

    def _is_source(self) -> bool:
        return self.name == "source"

    def _frame(self, name: str, words: Sequence[int], sop: str) -> bytes:
        on_port = sop == "SOP" and self._is_source()
        header = make_header(
            name,
            len(words),
            message_id=self._ids.get(sop, 0),
            revision=self.revision,
            source=on_port,
            dfp=on_port,
        )
        return build_message(header, words)

    def _later(self, timer: str, call: Callable[[], None]) -> None:
        stay = self._stay
        self.clock.after(self.pace.of(timer), lambda: call() if stay == self._stay else None)

    def _send_frame(self, raw: bytes, sop: str, event: str) -> None:
        stay = self._stay

        def done(answered: bool) -> None:
            self._ids[sop] = (self._ids.get(sop, 0) + 1) % 8
            if stay != self._stay:
                return
            if answered and event == SENT:
                self._run_timers(SENT)
            if event or not answered:
                self.happen(event if answered else "unsent")

        wanted = lambda: stay == self._stay and not self.stuck and not self.dead  # noqa: E731
        self.line.send(self.name, sop, raw, tries(self.revision), done, wanted)

    def reset_ids(self) -> None:
        """MessageIDs to zero, nothing heard, nothing half sent."""
        self._ids = {}
        self._chunks = []
        self._listener = Listener()

    # hearing

    def hears(self, sop: str) -> bool:
        """A port answers what is sent on SOP."""
        return sop == "SOP" and not self.dead

    def hear_reset(self) -> None:
        """A Hard Reset came."""
        self.happen("Hard_Reset")

    def hear(self, message: Message) -> None:
        """Take a message; a chunk that is not the last one is answered with a request for the next."""
        if self.dead:
            return
        inner = message.extended_fields()
        if inner.get("request_chunk"):
            self._send_chunk(int(inner["chunk_number"]))
            return
        told = self._listener.hear(message)
        if inner.get("chunked") and not told.offers and told.block is None:
            self._ask_for_chunk(message, int(inner["chunk_number"]) + 1)
            return
        self.told = told
        self.happen(event_of(told))

    def _send_chunk(self, number: int) -> None:
        if number >= len(self._chunks):
            return
        event = SENT if number == len(self._chunks) - 1 else ""
        self._later("tChunkReceiverResponse", lambda: self._send_frame(self._chunks[number], "SOP", event))

    def _ask_for_chunk(self, message: Message, number: int) -> None:
        def ask() -> None:
            inner = EXTENDED_HEADER.encode({"chunked": True, "chunk_number": number, "request_chunk": True})
            header = make_header(message.type, 0, revision=self.revision, source=self._is_source(), extended=True)
            header = HEADER.encode({**HEADER.decode(header), "object_count": 1, "id": self._ids.get("SOP", 0)})
            body = header.to_bytes(2, "little") + inner.to_bytes(2, "little") + bytes(2)
            self._send_frame(with_crc(body), "SOP", "")

        self._later("tChunkReceiverRequest", ask)


def event_of(told: Told) -> str:
    """The event that a message is for a policy table.

    >>> from pdcheck.bits.message import read_message
    >>> event_of(Listener().hear(read_message(bytes.fromhex("8a12 00000001".replace(" ", "")))))
    'EPR_Mode Enter'
    """
    name = told.message.type
    if name == "EPR_Mode" and told.objects:
        return f"EPR_Mode {told.objects[0].meanings().get('action', 'reserved')}"
    if name == "Extended_Control" and told.block is not None:
        return str(told.block.meanings().get("type", "reserved"))
    if name == "Vendor_Defined" and told.objects:
        meanings = told.objects[0].meanings()
        acknowledged = meanings.get("command_type") == "ACK"
        return f"{meanings.get('command', 'unstructured')} {'ACK' if acknowledged else 'refused'}"
    return name
