"""Stream: what an input says, message by message while it is read; Intake: all of it, gathered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from pdcheck.bits.identity import PD_SID
from pdcheck.bits.message import Message, read_message
from pdcheck.bits.objects import Reading, read_request, read_sources, read_vendor
from pdcheck.bits.offers import Offer
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Listener, Told
from pdcheck.errors import InputError

TORN = "torn-line"
"""Code of the problem that a line of a log could not be read."""

FIRST_TORN = 5
"""So many of the lines that cannot be read are told one by one."""
MOST_GAPS = 10_000


class NoMessage(InputError):  # noqa: N818
    """A line among messages that says something else: a remark, a heading, what was decoded."""


class How(NamedTuple):
    """How an input is to be read.

    ``channel``, ``sample_rate_hz`` [Hz] and ``threshold_v`` [V] are for waveforms, ``port`` for the system's tables.
    ``progress`` is told the bytes done and the bytes in all, zero where that is not known. ``gathered`` says that all
    is kept in memory: more than fits is refused. ``torn`` says that a line of a log which cannot be read is told of,
    not refused.
    """

    channel: str | None = None
    sample_rate_hz: float | None = None
    threshold_v: float | None = None
    port: str | None = None
    progress: Callable[[int, int], None] | None = None
    gathered: bool = True
    torn: bool = False


AS_IT_LOOKS = How()


class Intake(NamedTuple):
    """All that an input says.

    ``offers`` are the last capabilities in it. ``objects`` are bare words that are no offers (requests, identity).
    ``doubtful`` is set where the message that brought the offers has a bad CRC. ``lost`` are packets of a waveform
    that could not be decoded, ``channel`` the one they were on. ``cable`` is the attached one's e-marker in the
    system's tables. ``resolution_s`` is the step of the times [s], ``None`` where it is not known. ``holds`` is what a
    power bank's label says of its energy, ``ports`` are those of a charger with several, of which ``offers`` are one's.
    ``readings`` are figures of the bus that stand between the messages, ``gaps`` lines that may have been messages and
    cannot be read.
    """

    form: str
    told: tuple[Told, ...] = ()
    offers: tuple[Offer, ...] = ()
    objects: tuple[Reading, ...] = ()
    problems: tuple[Problem, ...] = ()
    doubtful: bool = False
    power_w: float | None = None
    lost: tuple[BadPacket, ...] = ()
    channel: str | None = None
    cable: CableReading | None = None
    resolution_s: float | None = None
    holds: Holds | None = None
    readings: tuple[BusReading, ...] = ()
    gaps: tuple[Gap, ...] = ()
    ports: Ports | None = None

    def offers_or_error(self) -> tuple[Offer, ...]:
        """The offers that are choices; ``InputError`` where there is none."""
        real = tuple(offer for offer in self.offers if not offer.is_gap)
        if not real and self.holds is not None:
            from pdcheck.intake.label_energy import BESIDE, HOLDS_ONLY

            raise InputError(HOLDS_ONLY, expected=BESIDE)
        if not real:
            raise InputError("holds no source capabilities", expected="a capability list, object words or a label")
        return real

    def bad_crc(self) -> bool:
        """Whether any message in the input has a CRC that does not fit."""
        return any(told.message.crc_ok is False for told in self.told)

    def flawed(self) -> bool:
        """Whether a CRC is wrong, or a packet or a line could not be read."""
        return self.bad_crc() or bool(self.lost) or any(problem.code == TORN for problem in self.problems)


class Plain:
    """What a plain line says behind its time: the ordered set and the bytes, which fit their header.

    ``crc`` says whether a CRC stands at their end; it is right then. A message without objects that comes again is the
    same object, and ``shown`` is for whoever shows it.
    """

    __slots__ = ("crc", "data", "shown", "sop")

    def __init__(self, sop: str, data: bytes, crc: bool) -> None:
        self.sop = sop
        self.data = data
        self.crc = crc
        self.shown: Any = None


class Words(tuple[int, ...]):
    """A list of bare object words, which are no message."""

    __slots__ = ()


class BusReading(NamedTuple):
    """What a log says of the bus between the messages: time [s], voltage [V], current [A] where it says so.

    ``after`` is the index of the message before it, -1 where there is none.
    """

    time_s: float | None
    voltage_v: float
    current_a: float | None
    after: int = -1


class Gap(NamedTuple):
    """A line that may have been a message and cannot be read: the index of the message before it, where, and why."""

    after: int
    where: str
    reason: str


if TYPE_CHECKING:
    from pdcheck.bits.cable import CableReading
    from pdcheck.intake.label_energy import Holds
    from pdcheck.intake.packet import BadPacket
    from pdcheck.intake.ports import Ports

    Item = Plain | Message | Words | BadPacket | BusReading | InputError


class Stream:
    """What an input says in turn, while it is read: each message with its time in seconds as text (empty for none).

    Between them may stand words, lost packets, and what is wrong with a line that cannot be read. ``before_reading`` is
    called each time before more is read, so that what has been given can be shown while there is nothing to read.
    ``said`` is what the input says beside, complete at the end. ``size`` is the bytes in all that will be read, zero
    where that is not known.

    >>> from pdcheck.bits.message import read_message
    >>> [(time, item.type) for time, item in Stream(Intake("hex"), [read_message(b"\\x41\\x00", "SOP", 0.5)])]
    [('0.5', 'GoodCRC')]
    """

    size = 0

    def __init__(self, said: Intake, items: Iterable[Message | BadPacket | InputError] = ()) -> None:
        self.said = said
        self.before_reading: Callable[[], None] = _nothing
        self._items = items

    def __iter__(self) -> Iterator[tuple[str, Item]]:
        for item in self._items:
            yield "" if isinstance(item, InputError) else time_text(item.time_s), item
            self.before_reading()


def _nothing() -> None: ...


def time_text(time_s: float | None) -> str:
    """A time [s] as text, empty where there is none.

    >>> time_text(0.5), time_text(None)
    ('0.5', '')
    """
    return "" if time_s is None else repr(time_s)


def gathered(stream: Stream, request_form: str | None = None) -> Intake:
    """All of a stream: messages told in turn, bare words read as offers, requests or identity.

    ``request_form`` is how to read a request without its capabilities; bare words are then requests.
    """
    listener = Listener(request_form)
    told: list[Told] = []
    lost: list[BadPacket] = []
    offers: tuple[Offer, ...] = ()
    objects: list[Reading] = []
    problems: list[Problem] = []
    readings: list[BusReading] = []
    gaps: list[Gap] = []
    torn = 0
    for time, item in stream:
        if isinstance(item, Plain):
            told.append(listener.hear(read_message(item.data, item.sop, float(time) if time else None)))
        elif isinstance(item, Message):
            told.append(listener.hear(item))
        elif isinstance(item, InputError):
            torn += 1
            if not isinstance(item, NoMessage) and len(gaps) < MOST_GAPS:
                gaps.append(Gap(len(told) - 1, item.where, item.what))
            if torn <= FIRST_TORN:
                text = f"{item.what}; expected {item.expected}" if item.expected else item.what
                problems.append(Problem(TORN, text, item.where))
        elif isinstance(item, BusReading):
            readings.append(item._replace(after=len(told) - 1))
        elif not isinstance(item, Words):
            lost.append(item)
        elif request_form is not None:
            objects += [read_request(word, offers, form=request_form) for word in item]
        elif item[0] >> 16 == PD_SID:
            objects += read_vendor(item)
        else:
            offers, odd = read_sources(item, epr_message=len(item) > 7)
            problems += odd
    for reading in objects:
        problems += reading.problems
    timed = any(each.message.time_s is not None for each in told)
    unlikely = implausible_times(told) if timed and stream.said.form == "hex" else ()
    problems += unlikely
    if torn > FIRST_TORN:
        problems.append(Problem(TORN, f"{torn} lines in all could not be read; these are the first {FIRST_TORN}"))
    said = stream.said
    last = next((each for each in reversed(told) if each.offers), None)
    return said._replace(
        told=tuple(told),
        offers=said.offers or offers or (last.offers if last else ()),
        objects=(*said.objects, *objects),
        problems=(*said.problems, *listener.unfinished(), *problems),
        doubtful=last is not None and last.message.crc_ok is False and not offers,
        readings=tuple(readings),
        gaps=tuple(gaps),
        lost=tuple(sorted(lost, key=lambda packet: packet.time_s)),
        resolution_s=None if unlikely else said.resolution_s if lost or timed else None,
    )


def implausible_times(told: Sequence[Told]) -> tuple[Problem, ...]:
    """What is said where times cannot be seconds: a GoodCRC is due 1.2 ms or so behind its message.

    Half of all GoodCRCs more than 60 ms behind theirs, or less than 30 us, make it sure: no packet is shorter.
    """
    gaps = [
        each.message.time_s - before.message.time_s
        for before, each in pairwise(told)
        if each.message.type == "GoodCRC" != before.message.type
        and each.message.time_s is not None
        and before.message.time_s is not None
    ]
    if len(gaps) < _FEWEST_GAPS:
        return ()
    middle = sorted(gaps)[len(gaps) // 2]
    if _GAP_S[0] <= middle <= _GAP_S[1] or middle <= 0:
        return ()
    text = (
        f"times not judged: by them a GoodCRC comes {middle:.3g} s after its message, so they are no seconds; "
        "write their unit in a head, as in time_ms"
    )
    return (Problem(NOT_JUDGED, text, "time"),)


NOT_JUDGED = "times-not-judged"
"""Code of the remark that nothing says the unit of the times."""
_FEWEST_GAPS = 3
_GAP_S = (30e-6, 60e-3)
