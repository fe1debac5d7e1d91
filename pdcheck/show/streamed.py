"""A stream shown message by message while it is read: JSON Lines and CSV, from texts made once for what comes again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from struct import Struct

from pdcheck.bits.crc import CRC_BYTES, crc32
from pdcheck.bits.header import REQUESTS, type_name
from pdcheck.bits.layout import Word
from pdcheck.bits.message import HEADER_BYTES, Message, read_message
from pdcheck.bits.message_record import message_json, offered_json
from pdcheck.bits.objects import Reading, read_request
from pdcheck.bits.offers import Offer, fixed, list_problems, offer_problems, order_key
from pdcheck.bits.power import REQUEST_FORM, REQUEST_WORDS, REQUEST_WORDS_SHORT
from pdcheck.bits.problems import Problem
from pdcheck.bits.request_bounds import request_bounds
from pdcheck.bits.sequence import Listener, Told
from pdcheck.errors import InputError
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.stream import FIRST_TORN, BusReading, Plain, Stream, Words
from pdcheck.named import NamedTuple
from pdcheck.records import as_dict as reading_json
from pdcheck.show.object_text import Table
from pdcheck.show.record_text import RecordText

_SHORT = {**REQUEST_WORDS, **REQUEST_WORDS_SHORT}
_MOST = 1 << 14
_MOST_MESSAGES = 1 << 12
_WORD = Struct("<I")
_FIRST = order_key(fixed(round(FIRST_OBJECT_VOLTAGE.value * 1000), 0))
_DERIVED = ("spr-avs",)
"""Offers whose record says more than their word: a range that follows from the figures."""


class _Bounds(NamedTuple):
    """Of a request of one offer: its texts, and shift, mask, scale, least and greatest of its figures."""

    texts: Table
    figures: tuple[tuple[int, int, int, int, int], ...]


class _Offered(NamedTuple):
    """An offer at its place in a list: its text, the problems with it, and where it belongs among others.

    ``whole`` says that it counts as an offer. ``bounds`` are those of its requests, by whether the header says an old
    revision; made when first asked for.
    """

    offer: Offer
    text: str
    problems: list[str]
    order: tuple[int, int, int]
    whole: bool
    bounds: dict[bool, _Bounds | None]


class _Head(NamedTuple):
    """What a header says: its text, the message's name, its revision, and the problems with it.

    ``position`` is the shift and mask of the object position in a request of that revision.
    """

    text: str
    name: str
    revision: str
    short: bool
    position: tuple[int, int]
    problems: list[str]
    odd: tuple[Problem, ...]


_MOST_HELD = 1 << 12
"""So many records wait to be written together where nothing more is read between them."""


class Streamed:
    """Turns messages, one after the other, into text; what ``RecordText`` says decides between JSON Lines and CSV.

    ``bad_crc`` says whether any had a CRC that does not fit; ``left_out`` counts what stood between them, by its class.
    """

    def __init__(self, text: RecordText, request_form: str | None = None) -> None:
        self.text = text
        self.request_form = request_form
        self._body = text.body
        self.bad_crc = False
        self.left_out: Counter[type] = Counter()
        self._torn: list[InputError] = []
        self._listener = Listener(request_form)
        self._offers: dict[int, _Offered] = {}
        self._list: list[_Offered] = []
        # Whether the listener has yet to hear of the list.
        self._ahead = False
        self._heads: dict[tuple[str, int], _Head] = {}
        self._bodies: dict[tuple[str, bytes], str] = {}
        self._tables: dict[tuple[Word, int | str], Table] = {}
        self._bare: dict[str, str] = {}

    def show(self, stream: Stream, write: Callable[[str], object], first: int = 0) -> None:
        """Write the text of a stream, whenever it is about to wait for more; ``first`` is the index of its messages.

        Raises ``InputError`` where the stream does, after what stands before it has been written.

        >>> from pdcheck.intake.sniff import open_input
        >>> from pdcheck.show.record_text import JsonLines
        >>> with open_input("4100bb6cbba8") as stream:
        ...     Streamed(JsonLines()).show(stream, lambda text: print(text[32:70]))
        "index": 0, "time_s": null, "sop": "SO
        """
        record = self.text.record
        held: list[str] = []

        def flush() -> None:
            if held:
                write("".join(held))
                held.clear()

        stream.before_reading = flush
        index = first
        try:
            for time, item in stream:
                if item.__class__ is Plain:
                    held.append(record(index, time, item.shown or self._plain(item)))
                elif isinstance(item, Message):
                    held.append(record(index, time, self._hear(item)))
                else:
                    self.left_out[type(item)] += 1
                    if isinstance(item, InputError):
                        self._torn = [*self._torn, item][:FIRST_TORN]
                    continue
                index += 1
                if len(held) >= _MOST_HELD:
                    flush()
        finally:
            flush()

    @property
    def flawed(self) -> bool:
        """Whether a CRC is wrong, or a packet or a line could not be read."""
        return self.bad_crc or bool(self.left_out[BadPacket] or self._torn)

    def notes(self) -> list[str]:
        """What is to be said of all that is no message, and so has no record."""
        lost, words, readings = (self.left_out[kind] for kind in (BadPacket, Words, BusReading))
        notes = [f"left out what could not be decoded, {lost} in all; --json lists it"] if lost else []
        if words:
            notes.append(f"bare object words are no messages and are left out, {words} time{'s' * (words > 1)}")
        if readings:
            notes.append(f"readings of the bus are no messages and are left out, {readings} in all; --json lists them")
        if self._torn:
            torn = sum(count for kind, count in self.left_out.items() if issubclass(kind, InputError))
            notes.append(f"left out what could not be read, {torn} in all; first {self._torn[0]}")
            notes += [f"  also {error}" for error in self._torn[1:]]
        return notes

    def text_of(self, plain: Iterable[tuple[str, Plain]], first: int) -> str:
        """The text of plain lines, with their times; ``first`` is the index of the first."""
        record = self.text.record
        return "".join(
            [record(index, time, what.shown or self._plain(what)) for index, (time, what) in enumerate(plain, first)]
        )

    def is_list(self, plain: Plain) -> bool:
        """Whether what follows a line is read by nothing that came before it."""
        header = plain.data[0] | plain.data[1] << 8
        return (self._heads.get((plain.sop, header)) or self._head(plain, header)).name == "Source_Capabilities"

    @property
    def standing(self) -> tuple[int, ...]:
        """The objects that stand, by which requests are read."""
        return tuple(each.offer.word for each in self._list)

    @standing.setter
    def standing(self, words: Iterable[int]) -> None:
        self._list = [self._offer(word, position) for position, word in enumerate(words, 1)]
        self._ahead = True

    def _tell(self, message: Message) -> Told:
        """What a message says, by what came before it; what it offers stands from here on."""
        listener = self._listener
        if self._ahead:
            listener.offers = tuple(each.offer for each in self._list)
            self._ahead = False
        before = listener.offers
        told = listener.hear(message)
        if listener.offers is not before:
            self._list = [self._offer(offer.word, offer.position) for offer in listener.offers]
        return told

    def _hear(self, message: Message) -> str:
        """The text of a message that was read in full."""
        self.bad_crc = self.bad_crc or message.crc_ok is False
        return self.text.whole(message_json(self._tell(message), 0))

    def _plain(self, plain: Plain) -> str:
        """The text of a plain line that has not come before, or is not kept because there are too many of its like."""
        data = plain.data
        header = data[0] | data[1] << 8
        head = self._heads.get((plain.sop, header)) or self._head(plain, header)
        if head.name == "Source_Capabilities":
            return self._capabilities(plain, head)
        if head.name == "Request" and len(data) == HEADER_BYTES + 4 + CRC_BYTES * plain.crc:
            return self._request(plain, head)
        if head.name in REQUESTS:
            return self._hear(read_message(data, plain.sop))
        body = self._bodies.get((plain.sop, data))
        if body is None:
            told = self._tell(_message(plain, header, head.odd))
            problems = [self.text.problem(each) for each in told.problems]
            objects = [self._reading(each) for each in told.objects]
            body = self._body(head.text, objects, data, plain.crc, problems)
            if len(self._bodies) >= _MOST_MESSAGES:
                self._bodies.clear()
            self._bodies[plain.sop, data] = body
        plain.shown = body
        return body

    def _head(self, plain: Plain, header: int) -> _Head:
        message = read_message(plain.data, plain.sop)
        text = self.text.head(message_json(Told(message), 0))
        problems = [self.text.problem(each) for each in message.problems]
        short = message.revision in ("1.0", "2.0")
        head = _Head(text, type_name(header), message.revision, short, _POSITION[short], problems, message.problems)
        self._heads[plain.sop, header] = head
        return head

    def _capabilities(self, plain: Plain, head: _Head) -> str:
        end = len(plain.data) - CRC_BYTES * plain.crc
        known = self._offers
        offered = [
            known.get(word << 4 | position) or self._offer(word, position)
            for position, (word,) in enumerate(_WORD.iter_unpack(plain.data[HEADER_BYTES:end]), 1)
        ]
        problems = head.problems
        if not _in_order(offered):
            odd = list_problems(tuple([each.offer for each in offered]))
            problems = problems + [self.text.problem(each) for each in odd]
        for each in offered:
            if each.problems:
                problems = problems + each.problems
        self._list, self._ahead = offered, True
        return self._body(head.text, [each.text for each in offered], plain.data, plain.crc, problems)

    def _offer(self, word: int, position: int) -> _Offered:
        if len(self._offers) >= _MOST:
            self._offers.clear()
        offer = Offer.from_word(word, position)
        problems = offer_problems(offer)
        if problems or offer.kind in _DERIVED:
            text = self.text.object(offered_json(offer))
        else:
            texts = self._table(offer.layout, position)
            text = texts.known(word) or texts.learn(word, offered_json(offer))
        whole = not offer.is_gap and offer.kind != "augmented-reserved"
        made = _Offered(offer, text, [self.text.problem(each) for each in problems], order_key(offer), whole, {})
        self._offers[word << 4 | position] = made
        return made

    def _request(self, plain: Plain, head: _Head) -> str:
        """The text of a request, read by what was offered last."""
        word = int.from_bytes(plain.data[HEADER_BYTES : HEADER_BYTES + 4], "little")
        text = self._asked(word, head)
        problems = head.problems
        if text is None:
            offers = tuple([each.offer for each in self._list])
            reading = read_request(word, offers, form=self.request_form, revision=head.revision)
            problems = problems + [self.text.problem(each) for each in reading.problems]
            text = self._reading(reading)
        return self._body(head.text, (text,), plain.data, plain.crc, problems)

    def _asked(self, word: int, head: _Head) -> str | None:
        """The text of a request that is surely in order, ``None`` where it takes a closer look to tell."""
        low, mask = head.position
        position = (word >> low) & mask
        if not 0 < position <= len(self._list) or self.request_form is not None:
            return None
        offered = self._list[position - 1]
        if head.short not in offered.bounds:
            offered.bounds[head.short] = self._bounds(offered.offer, head.short)
        bounds = offered.bounds[head.short]
        if bounds is None:
            return None
        for low, mask, scale, least, most in bounds.figures:
            if not least <= ((word >> low) & mask) * scale <= most:
                return None
        return bounds.texts.known(word)

    def _bounds(self, offer: Offer, short: bool) -> _Bounds | None:
        bounds = request_bounds(offer)
        if bounds is None:
            return None
        form = REQUEST_FORM[offer.kind]
        texts = self._table((_SHORT if short else REQUEST_WORDS)[form], form)
        return _Bounds(texts, tuple((*texts.figures[key], *ends) for key, ends in bounds.items()))

    def _table(self, layout: Word, variant: int | str) -> Table:
        table = self._tables.get((layout, variant))
        if table is None:
            table = self._tables[layout, variant] = Table(layout, self.text.object)
        return table

    def _reading(self, reading: Reading) -> str:
        """The text of an object that is no offer."""
        if reading.problems:
            return self.text.object(reading_json(reading))
        if reading.layout is not None:
            texts = self._table(reading.layout, reading.kind)
            return texts.known(reading.word) or texts.learn(reading.word, reading_json(reading))
        if reading.fields:
            return self.text.object(reading_json(reading))
        form = self._bare.get(reading.kind)
        if form is None:
            shown = self.text.object({**reading_json(reading), "word": _MARK})
            form = self._bare[reading.kind] = shown.replace("%", "%%").replace(_MARK, "%08X")
        return form % reading.word


_MARK = "WORDWORD"
_POSITION = {
    short: (words["fixed"].field("position").low, words["fixed"].field("position").mask)
    for short, words in ((False, REQUEST_WORDS), (True, _SHORT))
}


def _message(plain: Plain, header: int, problems: tuple[Problem, ...]) -> Message:
    """What ``read_message`` makes of a plain line."""
    data = plain.data
    raw = data[:-CRC_BYTES] if plain.crc else data
    words = tuple([word for (word,) in _WORD.iter_unpack(raw[HEADER_BYTES:])])
    crc = crc32(raw)
    return Message(raw, header, None, words, b"", crc if plain.crc else None, crc, plain.sop, None, problems)


def _in_order(offers: Sequence[_Offered]) -> bool:
    """Whether there is surely nothing odd about a list as a whole: 5 V first, all in order, none twice."""
    if not offers or offers[0].order != _FIRST:
        return False
    before = offers[0]
    for each in offers[1:]:
        if each.order < before.order or each.offer.word == before.offer.word or not each.whole:
            return False
        before = each
    return True
