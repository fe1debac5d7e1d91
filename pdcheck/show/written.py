"""An input decoded and written while it is read, as text or as the JSON document: no message is kept."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from typing import IO

from pdcheck.bits.objects import Reading
from pdcheck.bits.offers import Offer
from pdcheck.bits.problems import Problem
from pdcheck.bits.sequence import Told
from pdcheck.intake.long_list import putting_away
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.sniff import Intake
from pdcheck.intake.stream import BusReading, Heard, Stream
from pdcheck.show import decode as show

_HELD = 1 << 20
"""So much is held back, so that an input which proves to be none is answered with its fault alone [characters]."""
_AT_ONCE = 1 << 16
_MOST = 1 << 12


class Aside:
    """Texts that come at the end, kept on the disk where they are many."""

    def __init__(self) -> None:
        self._texts: list[str] = []
        self._file: IO[str] | None = None
        self.count = 0

    def add(self, text: str) -> None:
        self.count += 1
        self._texts.append(text)
        if len(self._texts) >= _MOST:
            with putting_away():
                if self._file is None:
                    from tempfile import TemporaryFile

                    opened = TemporaryFile("w+", encoding="utf-8", errors="surrogatepass", newline="")  # noqa: SIM115
                    self._file = opened
                self._file.write(_END.join([*self._texts, ""]))
                self._file.flush()
            self._texts.clear()

    def __iter__(self) -> Iterator[str]:
        if self._file is not None:
            self._file.seek(0)
            rest = ""
            while piece := self._file.read(_AT_ONCE):
                *texts, rest = (rest + piece).split(_END)
                yield from texts
            self._file.close()
        yield from self._texts


_END = "\0"


class Written(ABC):
    """What is written of an input, by its kind: ``begin``, then each message and what is beside it, then ``end``."""

    def __init__(self, write: Callable[[str], object]) -> None:
        self._write = write
        self._held: list[str] = []
        self._size = 0
        self._most = _HELD
        self.objects, self.readings = Aside(), Aside()

    def put(self, text: str) -> None:
        """Write a text, soon."""
        self._held.append(text)
        self._size += len(text)
        if self._size >= self._most:
            self.flush()

    def flush(self) -> None:
        """Write what is held back."""
        self._write("".join(self._held))
        self._held.clear()
        self._size, self._most = 0, _AT_ONCE

    def begin(self, said: Intake) -> None:  # noqa: B027 - nothing stands there in a text
        """What stands before the messages."""

    @abstractmethod
    def message(self, told: Told, index: int) -> None:
        """A message at its place."""

    @abstractmethod
    def object(self, reading: Reading) -> None:
        """A bare word that is no offer."""

    @abstractmethod
    def reading(self, reading: BusReading) -> None:
        """What the input says of the bus."""

    @abstractmethod
    def end(self, said: Intake, messages: int) -> None:
        """What stands behind the messages."""


class AsText(Written):
    def __init__(self, write: Callable[[str], object]) -> None:
        super().__init__(write)
        self._listed: tuple[Offer, ...] = ()
        self._problems: set[Problem] = set()
        self._bus = show.Readings()
        self._lines = 0

    def _part(self, text: str) -> None:
        self.put(f"\n{text}" if self._lines else text)
        self._lines += 1

    def message(self, told: Told, index: int) -> None:
        self._end_readings()
        for line in show.message_lines(told):
            self._part(line)
        self._listed = told.offers or self._listed
        self._problems.update(told.problems)

    def object(self, reading: Reading) -> None:
        self.objects.add(show.object_line(reading))

    def reading(self, reading: BusReading) -> None:
        self._bus.add(reading)

    def _end_readings(self) -> None:
        if self._bus.count:
            self._part(self._bus.line())
            self._bus = show.Readings()

    def end(self, said: Intake, messages: int) -> None:
        self._end_readings()
        for reading in said.objects:
            self._part(show.object_line(reading))
        for line in self.objects:
            self._part(line)
        for line in show.closing_lines(said, self._listed, self._problems, messages):
            self._part(line)
        self.put("\n")


def write_decoded(stream: Stream, request_form: str | None, written: Written) -> bool:
    """Write all that a stream says while it is read; whether all could be read and every CRC fits.

    Raises ``InputError`` where the stream does: with nothing written, but for long inputs.
    """
    heard = Heard(request_form)
    lost: list[BadPacket] = []
    written.begin(stream.said)
    for time, item in stream:
        read = heard.hear(time, item)
        if isinstance(read, Told):
            written.message(read, heard.messages - 1)
        elif isinstance(read, BusReading):
            written.reading(read)
        elif isinstance(read, list):
            for each in read:
                written.object(each)
        elif read is not None:
            lost.append(read)
    said = heard.said(stream, lost)
    written.end(said, heard.messages)
    written.flush()
    return show.works(said) and not heard.bad_crc


def text_of(intake: Intake) -> str:
    """What a person reads of all of an input."""
    out: list[str] = []
    written = AsText(out.append)
    after: dict[int, list[BusReading]] = {}
    for reading in intake.readings:
        after.setdefault(reading.after, []).append(reading)
    for at, told in enumerate((None, *intake.told), -1):
        if told is not None:
            written.message(told, at)
        for reading in after.get(at, ()):
            written.reading(reading)
    written.end(intake, len(intake.told))
    written.flush()
    return "".join(out).removesuffix("\n")
