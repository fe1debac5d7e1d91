"""DecodeResult: what an input says, message by message, and what a source offers in it."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pdcheck.bits.message_record import MessageRecord
from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer, offer_words
from pdcheck.bits.problems import Problem
from pdcheck.intake.label_energy import Holds
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.ports import Ports
from pdcheck.intake.sniff import Intake
from pdcheck.intake.stream import BusReading
from pdcheck.intake.sysfs.vendor import Marker
from pdcheck.named import NamedTuple
from pdcheck.result import AMONG, IF_KNOWN, UNTOLD, Result, shows, told
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

    @told
    def form(self) -> str:
        """What the input was: hex, label, sysfs, raw, csv, vcd or pcapng."""
        return self.intake.form

    @told
    def messages(self) -> tuple[MessageRecord, ...]:
        """Its messages, each read by those before it."""
        return tuple(MessageRecord(said, index) for index, said in enumerate(self.intake.told))

    @told
    def offers(self) -> tuple[Offer, ...]:
        """The last list of offers in it."""
        return tuple(offer for offer in self.intake.offers if not offer.is_gap)

    @told
    def ports(self) -> Ports | None:
        """The ports of a charger with several: each alone, and together; ``offers`` are those of the strongest."""
        return self.intake.ports

    @told
    def objects(self) -> tuple[Reading, ...]:
        """Bare words that are no offers."""
        return self.intake.objects

    @told
    def doubtful(self) -> bool:
        """Whether the message that brought the offers has a bad CRC."""
        return self.intake.doubtful

    @told
    def problems(self) -> tuple[Problem, ...]:
        """What is odd about all of it."""
        return self.intake.problems

    @told
    def holds(self) -> Annotated[Holds | None, IF_KNOWN]:
        """What a power bank's label says of its energy."""
        return self.intake.holds

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
    """What a person reads."""
    return text_of(result.intake)
