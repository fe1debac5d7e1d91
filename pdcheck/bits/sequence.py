"""Messages one after the other: chunks joined, requests read by the capabilities before them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pdcheck.bits.header import CHUNK_BYTES, HEADER
from pdcheck.bits.message import Message
from pdcheck.bits.objects import UNREAD, Reading, read_epr_mode, read_request, read_sink, read_sources, read_vendor
from pdcheck.bits.offers import Offer
from pdcheck.bits.power import FIXED_REQUEST
from pdcheck.bits.problems import Problem
from pdcheck.named import NamedTuple

if TYPE_CHECKING:
    from pdcheck.bits.catalogue import BlockReading


BROKEN_BLOCK = ("chunk-missing",)
"""Codes of the problems after which a message in chunks cannot be put together."""


class Told(NamedTuple):
    """A message with what it says.

    ``offers`` is set for source capabilities, ``objects`` for other data objects, ``block`` for an extended message
    once all its chunks are there.
    """

    message: Message
    offers: tuple[Offer, ...] = ()
    objects: tuple[Reading, ...] = ()
    block: BlockReading | None = None
    problems: tuple[Problem, ...] = ()


class _Chunks(NamedTuple):
    size: int
    data: bytes
    next_number: int

    @property
    def whole(self) -> bool:
        """Whether no later chunk is due."""
        return len(self.data) >= self.size or self.next_number * CHUNK_BYTES >= self.size


class Listener:
    """Follows a sequence of messages and remembers what later ones are read by.

    >>> from pdcheck.bits.message import read_message
    >>> listener = Listener()
    >>> capabilities = bytes.fromhex("6111 2c910108".replace(" ", ""))
    >>> listener.hear(read_message(capabilities)).offers[0].max_mv
    5000
    >>> listener.offers[0].current_ma
    3000
    """

    def __init__(self, request_form: str | None = None) -> None:
        self.offers: tuple[Offer, ...] = ()
        self.request_form = request_form
        self._chunks: dict[tuple[str, int, int], _Chunks] = {}

    def hear(self, message: Message) -> Told:
        """What one message says, given what came before it."""
        if message.extended:
            return self._extended(message)
        name = message.type
        problems = list(message.problems)
        words = message.words
        if name in ("Source_Capabilities", "Sink_Capabilities"):
            return self._capabilities(message, words, problems)
        objects: list[Reading] = []
        if name == "Request":
            objects = [self._request(words[0], message)]
            objects += [Reading(UNREAD, word, None, {}) for word in words[1:]]
            if len(words) != 1:
                problems.append(Problem("object-count", f"a Request has one object, this one {len(words)}"))
        elif name == "EPR_Request":
            objects = self._epr_request(message, problems)
        elif name == "EPR_Mode":
            objects = [read_epr_mode(word) for word in words]
        elif name == "Vendor_Defined":
            objects = read_vendor(words, message.sop)
        elif words:
            # Loaded when first needed, as its tables are.
            from pdcheck.bits.catalogue import read_data_objects

            objects = read_data_objects(name, words, message.revision)
        for reading in objects:
            problems += reading.problems
        return Told(message, objects=tuple(objects), problems=tuple(problems))

    def _request(self, word: int, message: Message, *, epr: bool = False) -> Reading:
        return read_request(word, self.offers, form=self.request_form, revision=message.revision, epr_message=epr)

    def _epr_request(self, message: Message, problems: list[Problem]) -> list[Reading]:
        words = message.words
        if len(words) != 2:
            problems.append(Problem("object-count", f"an EPR_Request has two objects, this one {len(words)}"))
        if len(words) == 1:
            return [self._request(words[0], message, epr=True)]
        copy = Offer.from_word(words[1], asked_position(words[0]))
        known = next((offer for offer in self.offers if offer.position == copy.position), None)
        if known is not None and known.word != copy.word:
            text = f"the copy {copy.word:08X} is not the object {known.word:08X} that was offered: ends in a Hard Reset"
            problems.append(Problem("copy-differs", text, f"object {copy.position}"))
        reading = read_request(words[0], (copy,), form=self.request_form, revision=message.revision, epr_message=True)
        rest = [Reading(UNREAD, word, None, {}) for word in words[2:]]
        return [reading, Reading(copy.kind, copy.word, copy.layout, copy.fields()), *rest]

    def _extended(self, message: Message) -> Told:
        inner = message.extended_fields()
        problems = list(message.problems)
        if not inner or inner["request_chunk"]:
            return Told(message, problems=tuple(problems))
        data: bytes | None = message.data
        if inner["chunked"]:
            data = self._join(message, problems)
        elif len(message.data) < inner["data_size"]:
            problems.append(Problem("block-short", f"{len(message.data)} of {inner['data_size']} bytes are there"))
        if data is None:
            return Told(message, problems=tuple(problems))
        name = message.type
        if name in ("EPR_Source_Capabilities", "EPR_Sink_Capabilities"):
            if len(data) % 4:
                problems.append(Problem("block-length", f"{len(data)} bytes are not whole objects"))
            words = [int.from_bytes(data[at : at + 4], "little") for at in range(0, len(data) - 3, 4)]
            return self._capabilities(message, words, problems, epr=True)
        from pdcheck.bits.block_reading import read_block

        block = read_block(name, data, message.sop)
        problems += block.problems
        return Told(message, block=block, problems=tuple(problems))

    def _capabilities(
        self, message: Message, words: Sequence[int], problems: list[Problem], *, epr: bool = False
    ) -> Told:
        if "Source" in message.type:
            self.offers, odd = read_sources(words, epr_message=epr)
            return Told(message, offers=self.offers, problems=(*problems, *odd))
        # A list in EPR mode has gaps, which are no objects.
        objects = tuple(read_sink(word, position) for position, word in enumerate(words, 1) if word or not epr)
        odd = [problem for reading in objects for problem in reading.problems]
        return Told(message, objects=objects, problems=(*problems, *odd))

    def _join(self, message: Message, problems: list[Problem]) -> bytes | None:
        """The whole block once its last chunk is there, ``None`` before."""
        inner = message.extended_fields()
        number, size = int(inner["chunk_number"]), int(inner["data_size"])
        roles = HEADER.field("power_role").take(message.header)
        key = (message.sop, HEADER.field("type").take(message.header), roles)
        held = self._chunks.get(key)
        if number == 0:
            held = _Chunks(size, message.data, 1)
        elif held is not None and held.size != size:
            text = f"chunk {number} says Data Size {size}, the chunk before it {held.size}"
            problems.append(Problem("chunk-missing", text))
            self._chunks.pop(key, None)
            return None
        elif held is None or number > held.next_number:
            due = 0 if held is None else held.next_number
            problems.append(Problem("chunk-missing", f"chunk {number} came where chunk {due} was due"))
            self._chunks.pop(key, None)
            return None
        elif number == held.next_number:
            held = _Chunks(size, held.data + message.data, number + 1)
        else:
            # A chunk that came again, its GoodCRC lost, adds nothing; the last one may be it.
            return None
        self._chunks[key] = held
        return held.data if held.whole else None

    def unfinished(self) -> list[Problem]:
        """Blocks whose later chunks never came."""
        return [
            Problem("block-unfinished", f"{len(held.data)} of {held.size} bytes of an extended message came")
            for held in self._chunks.values()
            if not held.whole
        ]


def asked_position(word: int) -> int:
    """The object position that a request names."""
    return FIXED_REQUEST.field("position").take(word)
