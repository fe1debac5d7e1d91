"""The CC line between two ports and a cable plug: one packet at a time, each with its GoodCRC, or sent again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from pdcheck.bits.header import HEADER
from pdcheck.bits.line import BIT_RATE_NOMINAL, ORDERED_SETS, PREAMBLE_BITS, SYMBOL_BITS
from pdcheck.bits.message import Message, build_message, make_header, read_message
from pdcheck.contract.talk.clock import Clock, Pace
from pdcheck.errors import InputError
from pdcheck.facts.timing import COUNTERS
from pdcheck.named import NamedTuple

MOST_PACKETS = 50_000
CABLE = "cable"
"""What the plug of the cable is called where it speaks."""


class Packet(NamedTuple):
    """One packet on the line: start and end [s], ordered set, bytes with CRC (none for a reset), and who sent it.

    ``sender`` is ``source``, ``sink`` or ``cable``; ``attempt`` counts from 1; ``answered`` is the start of its GoodCRC
    [s], None where there was none or none is due.
    """

    time_s: float
    end_s: float
    sop: str
    raw: bytes
    sender: str
    attempt: int = 1
    answered_s: float | None = None

    @property
    def is_reset(self) -> bool:
        """Whether it is an ordered set alone."""
        return not self.raw

    def message(self) -> Message:
        """What it carries; not of a reset."""
        return read_message(self.raw, self.sop, self.time_s)


class Station(Protocol):
    """Who hangs on the line."""

    revision: str

    @property
    def name(self) -> str:
        """What it is called: source, sink or cable."""

    def hears(self, sop: str) -> bool:
        """Whether it answers packets with this ordered set."""

    def hear(self, message: Message) -> None:
        """Take a message."""

    def hear_reset(self) -> None:
        """Take a Hard Reset."""


def duration_s(raw: bytes, sop: str) -> float:
    """How long a packet takes at the nominal bit rate [s].

    >>> round(duration_s(b"", "Hard_Reset") * 1e6)
    280
    """
    symbols = len(ORDERED_SETS[sop]) + (2 * len(raw) + 1 if raw else 0)
    return (PREAMBLE_BITS + SYMBOL_BITS * symbols) / BIT_RATE_NOMINAL.value


class Line:
    """Carries packets between its stations and keeps all of them."""

    def __init__(self, clock: Clock, pace: Pace) -> None:
        self.clock = clock
        self.pace = pace
        self.stations: list[Station] = []
        self.packets: list[Packet] = []
        self._free_s = 0.0

    def send(
        self,
        sender: str,
        sop: str,
        raw: bytes,
        tries: int,
        done: Callable[[bool], None],
        still_wanted: Callable[[], bool],
        attempt: int = 1,
    ) -> None:
        """Send a packet as soon as the line is free, up to ``tries`` times; ``done`` learns whether it got a GoodCRC.

        ``still_wanted`` is asked before each try: what its sender gave up meanwhile is not sent.
        """

        def again(number: int) -> None:
            self.send(sender, sop, raw, tries, done, still_wanted, number)

        if self._is_busy(lambda: again(attempt)) or not still_wanted():
            return
        start = self.clock.now_s
        end = start + duration_s(raw, sop)
        receiver = next((one for one in self.stations if one.name != sender and one.hears(sop)), None)
        if receiver is None:
            self._keep(Packet(start, end, sop, raw, sender, attempt))
            if attempt < tries:
                wait = end + self.pace.of("tReceive") + self.pace.of("tRetry") - start
                self.clock.after(wait, lambda: again(attempt + 1))
            else:
                self.clock.after(end + self.pace.of("tReceive") - start, lambda: done(False))
            return
        self._acknowledge(Packet(start, end, sop, raw, sender, attempt), receiver, done)

    def _acknowledge(self, packet: Packet, receiver: Station, done: Callable[[bool], None]) -> None:
        answer_s = packet.end_s + max(self.pace.of("tTransmit"), self.pace.of("tInterFrameGap"))
        raw = good_crc(packet.message(), receiver)
        end = answer_s + duration_s(raw, packet.sop)
        self._keep(packet._replace(answered_s=answer_s))
        self._keep(Packet(answer_s, end, packet.sop, raw, receiver.name))

        def arrive() -> None:
            done(True)
            receiver.hear(packet.message())

        self.clock.after(end - self.clock.now_s, arrive)

    def hard_reset(self, sender: str, done: Callable[[], None]) -> None:
        """Send a Hard Reset as soon as the line is free; everybody on it hears it."""
        if self._is_busy(lambda: self.hard_reset(sender, done)):
            return
        start = self.clock.now_s
        end = start + duration_s(b"", "Hard_Reset")
        self._keep(Packet(start, end, "Hard_Reset", b"", sender))

        def arrive() -> None:
            done()
            for station in self.stations:
                if station.name != sender:
                    station.hear_reset()

        self.clock.after(end - start, arrive)

    def _is_busy(self, then: Callable[[], None]) -> bool:
        """Whether somebody speaks; ``then`` is called once it is free."""
        wait = self._free_s - self.clock.now_s
        if wait > 0:
            self.clock.after(wait, then)
        return wait > 0

    def _keep(self, packet: Packet) -> None:
        if len(self.packets) >= MOST_PACKETS:
            raise InputError(f"more than {MOST_PACKETS} packets", expected="a shorter --until")
        self.packets.append(packet)
        self._free_s = packet.end_s + self.pace.of("tInterFrameGap")


def good_crc(message: Message, receiver: Station) -> bytes:
    """The GoodCRC that a receiver answers a message with, CRC included.

    The plug's bit 8 says cable plug, where a port's says source; data role is the port's own, none on SOP'.
    """
    on_port = message.sop == "SOP"
    header = make_header(
        "GoodCRC",
        0,
        message_id=HEADER.field("id").take(message.header),
        revision=receiver.revision,
        source=receiver.name == ("source" if on_port else CABLE),
        dfp=on_port and receiver.name == "source",
    )
    return build_message(header)


def tries(revision: str) -> int:
    """How often a message is sent before it is given up.

    >>> tries("3.x"), tries("2.0")
    (3, 4)
    """
    counter = COUNTERS["nRetryCount R2.0" if revision == "2.0" else "nRetryCount"]
    return 1 + round(counter.value)
