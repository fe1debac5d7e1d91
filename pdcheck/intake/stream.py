"""Stream: what an input says, message by message while it is read; Intake: all of it, gathered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from pdcheck.bits.identity import PD_SID
from pdcheck.bits.message import Message, read_message
from pdcheck.bits.objects import Reading, read_request, read_sources, read_vendor
from pdcheck.bits.offers import Offer
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Listener, Told
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple

TORN: Final = "torn-line"
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
    is kept in memory: more than fits is refused. ``live`` says that each message is to be shown when it comes.
    ``measured`` says that the step of a log's times is wanted.
    ``torn`` says that a line of a log which cannot be read is told of, not refused.
    """

    channel: str | None = None
    sample_rate_hz: float | None = None
    threshold_v: float | None = None
    port: str | None = None
    progress: Callable[[int, int], None] | None = None
    gathered: bool = True
    torn: bool = False
    live: bool = False
    measured: bool = True


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
    """What a plain line says behind its time: the ordered set and the bytes, which fit their header; never extended.

    ``crc`` says whether a CRC stands at their end; it is right then. A message without objects that comes again is the
    same object, and ``shown`` is for whoever shows it.
    """

    __slots__ = ("crc", "data", "shown", "sop")

    def __init__(self, sop: str, data: bytes, crc: bool) -> None:
        self.sop = sop
        self.data = data
        self.crc = crc
        self.shown: Any = None


def proved(sop: str, data: bytes, time_s: float | None) -> Plain | Message:
    """A message whose CRC is right: plain, or read in full where its header says that it is extended."""
    return read_message(data, sop, time_s) if data[1] >> 7 else Plain(sop, data, True)


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
    from array import array

    from pdcheck.bits.cable import CableReading
    from pdcheck.intake.label_energy import Holds
    from pdcheck.intake.packet import BadPacket
    from pdcheck.intake.ports import Ports

    Item = Plain | Message | Words | BadPacket | BusReading | InputError


class Stream:
    """What an input says in turn, while it is read: each message with its time in seconds as text (empty for none).

    Between them may stand words, lost packets, and what is wrong with a line that cannot be read. ``before_reading`` is
    called each time before more is read, so that what has been given can be shown while there is nothing to read.
    ``said`` is what the input says beside, complete at the end; without a ``resolution_s`` there, no time is judged.
    ``size`` is the bytes in all that will be read, zero where that is not known.

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


class Heard:
    """A stream heard item by item: what each is read as, and at the end what is to be said of all of it.

    ``request_form`` is how to read a request without its capabilities; bare words are then requests. Keeps no message.
    """

    def __init__(self, request_form: str | None = None) -> None:
        self._listener = Listener(request_form)
        self._request_form = request_form
        self.messages = 0
        self.bad_crc = False
        self.gaps: list[Gap] = []
        self._offers: tuple[Offer, ...] = ()
        self._last: Told | None = None
        self._problems: list[Problem] = []
        self._of_objects: list[Problem] = []
        self._torn = 0
        self._times = Times()

    def hear(self, time: str, item: Item) -> Told | BusReading | BadPacket | list[Reading] | None:
        """What an item is read as: a message told, bare words as they are read; ``None`` where nothing is shown."""
        if isinstance(item, Plain):
            return self._told(read_message(item.data, item.sop, float(time) if time else None))
        if isinstance(item, Message):
            return self._told(item)
        if isinstance(item, InputError):
            self._cannot_read(item)
            return None
        if isinstance(item, BusReading):
            return item._replace(after=self.messages - 1)
        return self._words(item) if isinstance(item, Words) else item

    def _told(self, message: Message) -> Told:
        told = self._listener.hear(message)
        self.messages += 1
        self.bad_crc = self.bad_crc or message.crc_ok is False
        self._times.add(message)
        if told.offers:
            self._last = told
        return told

    def _cannot_read(self, item: InputError) -> None:
        self._torn += 1
        if not isinstance(item, NoMessage) and len(self.gaps) < MOST_GAPS:
            self.gaps.append(Gap(self.messages - 1, item.where, item.what))
        if self._torn <= FIRST_TORN:
            text = f"{item.what}; expected {item.expected}" if item.expected else item.what
            self._problems.append(Problem(TORN, text, item.where))

    def _words(self, item: Words) -> list[Reading] | None:
        if self._request_form is not None:
            objects = [read_request(word, self._offers, form=self._request_form) for word in item]
        elif item[0] >> 16 == PD_SID:
            objects = list(read_vendor(item))
        else:
            self._offers, odd = read_sources(item, epr_message=len(item) > 7)
            self._problems += odd
            return None
        for reading in objects:
            self._of_objects += reading.problems
        return objects

    def said(self, stream: Stream, lost: Sequence[BadPacket] = ()) -> Intake:
        """All but the messages, the objects and the readings, which whoever listens has kept or shown."""
        problems = [*self._listener.unfinished(), *self._problems]
        problems += self._of_objects
        unlikely = self._times.implausible() if stream.said.form == "hex" else ()
        problems += unlikely
        if self._torn > FIRST_TORN:
            text = f"{self._torn} lines in all could not be read; these are the first {FIRST_TORN}"
            problems.append(Problem(TORN, text))
        said, last = stream.said, self._last
        timed = bool(lost) or self._times.any
        return said._replace(
            offers=said.offers or self._offers or (last.offers if last else ()),
            problems=(*said.problems, *problems),
            doubtful=last is not None and last.message.crc_ok is False and not self._offers,
            gaps=tuple(self.gaps),
            lost=tuple(sorted(lost, key=lambda packet: packet.time_s)),
            resolution_s=None if unlikely else said.resolution_s if timed else None,
        )


def gathered(stream: Stream, request_form: str | None = None) -> Intake:
    """All of a stream: messages told in turn, bare words read as offers, requests or identity.

    ``request_form`` is how to read a request without its capabilities; bare words are then requests.
    """
    heard = Heard(request_form)
    told: list[Told] = []
    lost: list[BadPacket] = []
    objects: list[Reading] = []
    readings: list[BusReading] = []
    for time, item in stream:
        read = heard.hear(time, item)
        if isinstance(read, Told):
            told.append(read)
        elif isinstance(read, BusReading):
            readings.append(read)
        elif isinstance(read, list):
            objects += read
        elif read is not None:
            lost.append(read)
    said = heard.said(stream, lost)
    return said._replace(told=tuple(told), objects=(*said.objects, *objects), readings=tuple(readings))


class Times:
    """The times of a log's messages: whether they can be seconds. A GoodCRC is due 1.2 ms or so behind its message."""

    def __init__(self) -> None:
        self.any = False
        self._before: Message | None = None
        # Eight bytes a gap: a long log has many.
        self._gaps: list[float] | array[float] = []

    def add(self, message: Message) -> None:
        """The next message of the log."""
        before, self._before = self._before, message
        if message.time_s is None:
            return
        self.any = True
        if before is None or before.time_s is None or not message.type == "GoodCRC" != before.type:
            return
        self._gaps.append(message.time_s - before.time_s)
        if len(self._gaps) == _MANY_GAPS:
            from array import array

            self._gaps = array("d", self._gaps)

    def implausible(self) -> tuple[Problem, ...]:
        """What is said where times cannot be seconds.

        Half of all GoodCRCs more than 60 ms behind theirs, or less than 30 us, make it sure: no packet is shorter.
        """
        gaps = self._gaps
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


NOT_JUDGED: Final = "times-not-judged"
"""Code of the remark that nothing says the unit of the times."""
_FEWEST_GAPS = 3
_MANY_GAPS = 1000
_GAP_S = (30e-6, 60e-3)
