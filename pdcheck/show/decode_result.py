"""DecodeResult: what an input says, message by message, and what a source offers in it."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pdcheck.bits.message_record import LINE, MessageRecord
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer, offer_words
from pdcheck.bits.problems import Problem
from pdcheck.intake.label_energy import Holds
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.ports import Ports
from pdcheck.intake.sniff import Intake
from pdcheck.intake.stream import BusReading
from pdcheck.intake.sysfs.vendor import Marker
from pdcheck.marks import AMONG, IF_KNOWN, UNTOLD, passed, told
from pdcheck.named import NamedTuple
from pdcheck.result import Result, shows
from pdcheck.show import decode as show
from pdcheck.show.written import text_of


class OfWaveform(NamedTuple):
    """What a waveform has besides: the channel that was read, and its packets that could not be."""

    channel: str
    undecoded: tuple[BadPacket, ...]


class OfBus(NamedTuple):
    """What a log has besides: readings of the bus between the messages."""

    readings: tuple[BusReading, ...]


class OfSystem(NamedTuple):
    """What this machine's tables have besides: the e-marker of the cable that is plugged in."""

    cable: Marker | None


class Taken(NamedTuple):
    """The field of ``DecodeResult``, all that was read."""

    intake: Annotated[Intake, UNTOLD]


# A named tuple is made in less time than a dataclass, and one message takes little else.
class DecodeResult(Result, Taken):
    """All that an input says."""

    SCHEMA: ClassVar[str] = "decode/3"
    TITLE: ClassVar[str] = "What a capture, hex or a label says"

    form = passed[str]("intake.form", "What the input was: hex, label, sysfs, raw, csv, vcd or pcapng.")

    @told
    def messages(self) -> tuple[MessageRecord, ...]:
        """Its messages, each read by those before it."""
        return tuple(MessageRecord(said, index) for index, said in enumerate(self.intake.told))

    @told
    def offers(self) -> tuple[Offer, ...]:
        """The last list of offers in it."""
        return tuple(offer for offer in self.intake.offers if not offer.is_gap)

    ports = passed[Ports | None](
        "intake.ports",
        "The ports of a charger with several: each alone, and together; ``offers`` are those of the strongest.",
    )
    objects = passed[tuple[Reading, ...]]("intake.objects", "Bare words that are no offers.")
    doubtful = passed[bool]("intake.doubtful", "Whether the message that brought the offers has a bad CRC.")
    problems = passed[tuple[Problem, ...]]("intake.problems", "What is odd about all of it.")
    holds = passed[Annotated[Holds | None, IF_KNOWN]]("intake.holds", "What a power bank's label says of its energy.")

    @told
    def of_waveform(self) -> Annotated[OfWaveform | None, AMONG]:
        """What a waveform has besides."""
        channel = self.intake.channel
        return None if channel is None else OfWaveform(channel, self.intake.lost)

    @told
    def of_bus(self) -> Annotated[OfBus | None, AMONG]:
        """Readings of the bus between the messages, where there are any."""
        return OfBus(self.intake.readings) if self.intake.readings else None

    @told
    def of_system(self) -> Annotated[OfSystem | None, AMONG]:
        """What this machine's tables have besides."""
        cable = self.intake.cable
        return OfSystem(None if cable is None else Marker(cable)) if self.form == "sysfs" else None

    @property
    def works(self) -> bool:
        """Whether all could be read and every CRC fits."""
        return show.works(self.intake)

    def answer(self) -> str:
        """How many messages, and what is offered."""
        offered = ", ".join(map(offer_words, self.offers))
        counts = ((self.messages, "message"), (self.objects, "object"))
        parts = [f"{len(each)} {name}{'s' * (len(each) > 1)}" for each, name in counts if each]
        return "; ".join([*parts, offered] if offered else parts) or "nothing"

    def row_path(self) -> tuple[str, ...]:
        """A row for each object of a message; for each offer or object where there is no message."""
        return ("messages", "objects") if self.messages else ("offers",) if self.offers else ("objects",)


@shows(DecodeResult)
def text(result: DecodeResult) -> str:
    return text_of(result.intake)


class MessageLine(Result, MessageRecord):
    """One message, as the document of ``decode`` has it among its messages."""

    SCHEMA: ClassVar[str] = LINE
    TITLE: ClassVar[str] = "A line of decode --jsonl: one message"


@shows(MessageLine)
def line_text(line: MessageLine) -> str:
    return line.to_json(indent=None)
