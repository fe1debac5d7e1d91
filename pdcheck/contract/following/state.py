"""What is known at one moment of a captured conversation: offers, request, contract, mode, MessageIDs, what is due."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from pdcheck.bits.cable import CableReading
from pdcheck.bits.header import CONTROL, DATA, EXTENDED, REQUESTS
from pdcheck.bits.message import Message
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer
from pdcheck.bits.sequence import Told
from pdcheck.intake.stream import BusReading
from pdcheck.marks import AMONG, UNTOLD, HexWord, Named, passed, told
from pdcheck.named import NamedTuple

SENDERS = SOURCE, SINK, PLUG, PORT = "source", "sink", "cable", "port"
"""Who speaks: the two ports on SOP; on SOP' and SOP'' the cable's plug or the port that asks it."""
OTHER: Mapping[str, str] = {SOURCE: SINK, SINK: SOURCE, PLUG: PORT, PORT: PLUG}
"""Who hears what each of them says."""

_GETS = [name for names in (CONTROL, DATA, EXTENDED) for name in names.values() if name.startswith("Get_")]
_GETS += ["EPR_Get_Source_Cap", "EPR_Get_Sink_Cap"]
ANSWERS: Mapping[str, tuple[str, ...]] = {
    "Source_Capabilities": ("Request",),
    "EPR_Source_Capabilities": ("EPR_Request",),
    **dict.fromkeys((*REQUESTS, "PR_Swap", "DR_Swap", "VCONN_Swap"), ("Accept", "Reject", "Wait")),
    **dict.fromkeys(("Data_Reset", "Enter_USB"), ("Accept", "Reject")),
    **dict.fromkeys(("Soft_Reset", "FR_Swap"), ("Accept",)),
    **{name: (name.replace("Get_", "").replace("_Cap", "_Capabilities"),) for name in _GETS},
    "Get_Source_Cap": ("Source_Capabilities", "Reject"),
    "Get_Sink_Cap": ("Sink_Capabilities", "Reject"),
    "EPR_KeepAlive": ("EPR_KeepAlive_Ack",),
    "EPR_Mode Enter": ("EPR_Mode Enter Acknowledged", "EPR_Mode Enter Failed"),
}
"""What may answer what, by message name; Not_Supported may answer all (PD R3.2 V1.1, message sequences [memory])."""

POWER_SWAPS = ("PR_Swap", "FR_Swap")
SWAPS = (*POWER_SWAPS, "VCONN_Swap", "Data_Reset")
"""What goes on after its Accept, to PS_RDY or Data_Reset_Complete; a DR_Swap is done with the Accept."""
CABLE_SOFT_RESET = "Soft_Reset of the cable"
SOFT_RESETS = ("Soft_Reset", CABLE_SOFT_RESET)
"""It has MessageID 0, and the one who is asked counts from 0 after it; that of the cable is nothing to the ports."""
CHUNK, CHUNK_REQUEST = "chunk", "chunk request"
INTERRUPTING = ("Alert", "Ping", "Vendor_Defined", "Vendor_Defined_Extended", CHUNK, CHUNK_REQUEST)
"""What may come between a question and its answer without being wrong: it is read and passed over."""


class Sent(NamedTuple):
    """The last message of one sender on one ordered set, and how often it came; ``acknowledged`` by a GoodCRC.

    ``due`` is the MessageID that it should have had, where that is another: its sender may go on from there.
    """

    number: int
    time_s: float | None
    id: int
    raw: bytes
    tries: int = 1
    acknowledged: bool = False
    due: int | None = None

    @property
    def next_ids(self) -> tuple[int, ...]:
        """The MessageIDs that may follow, the plainest first."""
        return ((self.id + 1) % 8,) if self.due is None else ((self.id + 1) % 8, (self.due + 1) % 8)


class Due(NamedTuple):
    """A GoodCRC that is due."""

    number: int
    time_s: float | None
    sop: str
    id: int
    sender: str


class Open(NamedTuple):
    """A question that waits for its answer; ``time_s`` is that of its last try."""

    number: int
    time_s: float | None
    sender: str
    name: str
    message: Message

    @property
    def answers(self) -> tuple[str, ...]:
        """What may answer it."""
        return ANSWERS[self.name]


class Asked(NamedTuple):
    """A request, read by the offer it points at; ``offer`` is ``None`` where there is no such offer."""

    number: int
    time_s: float | None
    position: int
    reading: Reading
    offer: Offer | None
    epr: bool
    voltage_mv: int | None
    current_ma: int | None
    power_mw: int | None
    mismatch: bool
    epr_capable: bool


class AskedCurrent(NamedTuple):
    """What a request that is bounded in current asks for."""

    current_ma: int | None


class AskedPower(NamedTuple):
    """What a request that is bounded in power asks for."""

    power_mw: int


@dataclass(frozen=True)
class Agreed:
    """A contract: the request that was accepted, and the message that made it stand."""

    asked: Annotated[Asked, UNTOLD]
    number: Annotated[int, Named("index")]
    time_s: float | None

    position = passed[int]("asked.position", "The object that was asked for.")

    @told
    def kind(self) -> str | None:
        """The kind of that offer, where it is known."""
        return None if self.asked.offer is None else self.asked.offer.kind

    voltage_mv = passed[int | None](
        "asked.voltage_mv",
        "Nominal voltage; the greatest of a variable or battery supply; ``None`` where the offer is not known.",
    )

    @told
    def much(self) -> Annotated[AskedCurrent | AskedPower, AMONG]:
        """The current or the power that was asked for."""
        power = self.asked.power_mw
        return AskedCurrent(self.asked.current_ma) if power is None else AskedPower(power)

    request_word = passed[HexWord]("asked.reading.word", "The request.")
    mismatch = passed[bool]("asked.mismatch", "Whether the sink said that it wanted more.")


class Accepted(NamedTuple):
    """An Accept (or GotoMin) after which PS_RDY is due."""

    number: int
    time_s: float | None
    message: Message
    by: str


class Swap(NamedTuple):
    """A swap that was accepted; ``ready`` and ``ready_s`` are of the first of the two PS_RDY of a power role swap."""

    name: str
    number: int
    time_s: float | None
    message: Message
    ready: int | None = None
    ready_s: float | None = None


class Entry(NamedTuple):
    """An entry into EPR mode on its way."""

    number: int
    time_s: float | None
    acknowledged: bool


class State(NamedTuple):
    """All that is known before or after a message.

    ``offers`` are what may be asked for now, ``epr_list`` the last list with EPR objects, read in either mode.
    ``epr_list_due``: EPR mode was entered and its list has not come yet; ``spr_list_due``: it was left and the SPR list
    has not come yet; ``epr_refused`` is the cause of the last refusal. ``sure``: the log has shown which mode is on;
    ``doubt``: the source has sent an SPR list in EPR mode, and which mode the two take it for is open. ``block`` is the
    number of the first chunk of a message that is not whole yet. ``unsure``: an Accept came for which no question is
    known. ``fresh`` are ordered sets and senders whose
    MessageIDs start at 0. ``blur`` is the number of the message before which something could not be read: what is
    missing there may have been there. ``heard`` is who has spoken since the last start, ``last`` the number and time
    of the last message on SOP. ``odd`` are the ports whose role bit was wrong when they last spoke.
    """

    offers: tuple[Offer, ...] = ()
    offers_at: int | None = None
    epr_list: tuple[Offer, ...] = ()
    epr: bool = False
    epr_list_due: bool = False
    spr_list_due: bool = False
    sure: bool = False
    doubt: bool = False
    epr_refused: int | None = None
    entry: Entry | None = None
    cable: CableReading | None = None
    cable_asked: bool = False
    question: Open | None = None
    asked: Asked | None = None
    accepted: Accepted | None = None
    unsure: bool = False
    contract: Agreed | None = None
    swap: Swap | None = None
    block: int | None = None
    waited_s: float | None = None
    request_s: float | None = None
    ids: Mapping[tuple[str, str], Sent] = {}
    fresh: frozenset[str] = frozenset()
    due: Due | None = None
    heard: frozenset[str] = frozenset()
    last: tuple[int, float | None] | None = None
    blur: int = -1
    odd: frozenset[str] = frozenset()


class Step(NamedTuple):
    """One message with what was known before and after it.

    ``name`` is the message's name, more closely than its type where a word in it decides (``EPR_Mode Enter``).
    ``sender`` is who sent it by all that the log shows, also where its header says otherwise. ``retry`` marks one that
    was sent again at once. ``answered`` is the question that it answers. ``restart`` marks
    the first message after the plug was pulled and put in again.
    """

    number: int
    told: Told
    name: str
    sender: str
    before: State
    after: State
    retry: bool = False
    answered: Open | None = None
    restart: bool = False

    @property
    def message(self) -> Message:
        """The message."""
        return self.told.message

    @property
    def time_s(self) -> float | None:
        """Its time."""
        return self.told.message.time_s

    @property
    def read(self) -> bool:
        """Whether its CRC allows it to be followed."""
        return self.told.message.crc_ok is not False


class Log(NamedTuple):
    """A conversation followed: its steps, its end, whether it holds GoodCRCs, the step of its times [s].

    ``stated_ma`` is the current of the cable as the user states it, ``None`` where the log alone is to tell.
    ``readings`` are what the log says of the bus between the messages.
    """

    steps: Sequence[Step]
    end: State
    shows_good_crc: bool
    resolution_s: float | None
    stated_ma: int | None = None
    readings: Sequence[BusReading] = ()

    def since(self, number: int) -> Iterator[Step]:
        """The steps from ``number`` on, without a look at those before."""
        return (self.steps[at] for at in range(number, len(self.steps)))
