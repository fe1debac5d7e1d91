"""The value changes of a dump (IEEE 1364): tokens found for a whole chunk at once, edges of the chosen signals kept."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from pdcheck.errors import InputError
from pdcheck.intake.waveform.edges import HIGH, LOW, NO_SPAN, UNKNOWN, Budget, EdgeCollector, Reader, Threshold
from pdcheck.intake.waveform.numbers import Bytes, Flags, Floats, Ints, parse_decimals
from pdcheck.intake.waveform.text import CaptureText, Chunk
from pdcheck.intake.waveform.vcd_header import HEADER_LIMIT, Choice, Header, choices, chosen, read_header
from pdcheck.named import NamedTuple

_COMMENT = re.compile(rb"\$(?<!\S\$)(?:comment|attrbegin|vcdclose)(?!\S)")
_END = re.compile(rb"\$(?<!\S\$)end(?!\S)")

_SCALAR = np.full(256, 255, dtype=np.uint8)
for _characters, _level in (("0lL", LOW), ("1hH", HIGH), ("xXzZuUwW-", UNKNOWN)):
    for _character in _characters:
        _SCALAR[ord(_character)] = _level
_LONG = np.zeros(256, dtype=bool)
_LONG[[ord(character) for character in "bBrRsS"]] = True
_KEY_BYTES = 64
_FEW = 16


class Words(NamedTuple):
    """Words of a chunk: where each starts and ends, its first byte, and what it is.

    ``takes`` marks values whose identifier is the next word, which is marked in ``is_id``.
    """

    start: Ints
    end: Ints
    first: Bytes
    is_time: Flags
    takes: Flags
    is_id: Flags

    def cut(self, count: int) -> Words:
        """The first ``count`` words."""
        start, end, first, is_time, takes, is_id = self
        return Words(start[:count], end[:count], first[:count], is_time[:count], takes[:count], is_id[:count])


class VcdReader(Reader):
    """One value change dump: its channels, and a scan of some of them."""

    def __init__(self, text: CaptureText, threshold: Threshold) -> None:
        super().__init__(text, threshold)
        self._header: Header = read_header(text)
        self._choices = {choice.name: choice for choice in choices(self._header)}
        self.channels: tuple[str, ...] = tuple(self._choices)
        self.all_names = tuple(variable.name for variable in self._header.variables)

    def resolve(self, wanted: str) -> str:
        """The full name of a channel as the user wrote it; raises InputError when there is none or several."""
        choice = chosen(self._header, wanted)
        self._choices[choice.name] = choice
        return choice.name

    def scan(self, names: tuple[str, ...], budget: Budget | None = None) -> list[EdgeCollector]:
        """Read all changes once and collect the edges of the named channels."""
        wanted = [self._choices[name] for name in names]
        collectors = [EdgeCollector(name, budget) for name in names]
        self.spans |= dict.fromkeys(names, NO_SPAN)
        now = 0.0
        first = True
        for chunk, buffer, words in self._body():
            stamps = self._stamps(chunk, buffer, words)
            if len(stamps):
                if not first and stamps[0] < now:
                    raise _backwards(chunk, int(words.start[words.is_time][0]))
                self.start_s, first = self.start_s if not first else float(stamps[0]), False
            clock = np.concatenate([[now], stamps])
            place = np.cumsum(words.is_time)
            for at, where in _changes(buffer, words, wanted):
                levels = self._levels(chunk, buffer, words, where, wanted[at])
                edges = collectors[at].changes(levels)
                collectors[at].add(clock[place[where[edges]]])
            now = float(clock[-1])
        self.end_s = max(now, self.start_s)
        if not any(collector.count for collector in collectors):
            for name in names:
                uncrossed = self.threshold_of(name).crossed(name, self.spans[name])
                if uncrossed is not None:
                    raise uncrossed
        return collectors

    def _body(self) -> Iterator[tuple[Chunk, Bytes, Words]]:
        """Chunks after the declarations with their words, comments blanked, no value torn from its identifier."""
        skip = self._header.body_offset
        rest = b""
        opened = 0  # bytes since a comment began that has not ended
        for chunk in self._text.chunks():
            if skip >= len(chunk.text):
                skip -= len(chunk.text)
                continue
            line = chunk.first_line + chunk.text.count(b"\n", 0, skip) - rest.count(b"\n")
            text, rest, skip = rest + chunk.text[skip:], b"", 0
            if opened or b"$" in text:
                text, still = _blanked(text, opened > 0)
                opened = opened + len(chunk.text) if still else 0
                if opened > HEADER_LIMIT:
                    raise InputError("comment without $end", where=f"line {line}")
            chunk, buffer = Chunk(text, line), np.frombuffer(text, dtype=np.uint8)  # noqa: PLW2901
            words = _words(chunk, buffer)
            if len(words.start) and words.takes[-1]:
                rest = text[int(words.start[-1]) :] + rest
                words = words.cut(len(words.start) - 1)
            if len(words.start):
                yield chunk, buffer, words

    def _stamps(self, chunk: Chunk, buffer: Bytes, words: Words) -> Floats:
        start, end = words.start[words.is_time], words.end[words.is_time]
        stamps = parse_decimals(buffer, start + 1, end)
        wrong = ~(np.isfinite(stamps) & (stamps >= 0))
        if wrong.any():
            at = int(np.flatnonzero(wrong)[0])
            raise _unreadable(chunk, int(start[at]), int(end[at]), "a time such as #1200")
        if len(stamps) > 1 and (np.diff(stamps) < 0).any():
            raise _backwards(chunk, int(start[int(np.flatnonzero(np.diff(stamps) < 0)[0]) + 1]))
        return stamps * self._header.unit_s

    def _levels(self, chunk: Chunk, buffer: Bytes, words: Words, where: Ints, choice: Choice) -> NDArray[np.uint8]:
        """The level code that each of the change words ``where`` sets."""
        start, end, first = words.start[where], words.end[where], words.first[where]
        levels = _SCALAR[first]
        long_form = _LONG[first]
        if not long_form.any():
            return levels
        if choice.is_real:
            volts = parse_decimals(buffer, start[long_form] + 1, end[long_form])
            levels[long_form] = self.codes_of(choice.name, volts)
        else:
            digit = end[long_form] - 1 - choice.bit
            leftmost = start[long_form] + 1
            # A short vector is padded on the left: 0 and 1 with 0, x and z with themselves.
            stretched = digit < leftmost
            code = _SCALAR[buffer[np.minimum(np.maximum(digit, leftmost), len(buffer) - 1)]]
            levels[long_form] = np.where(stretched & (code == HIGH), LOW, code)
        wrong = levels > UNKNOWN
        if wrong.any():
            at = int(np.flatnonzero(wrong)[0])
            raise _unreadable(chunk, int(start[at]), int(end[at]), "a value of 0, 1, x or z")
        return levels


def _words(chunk: Chunk, buffer: Bytes) -> Words:
    solid = buffer > 32
    turns = np.flatnonzero(solid[1:] != solid[:-1]) + 1
    if len(solid) and solid[0]:
        turns = np.concatenate([[0], turns])
    if len(turns) & 1:
        turns = np.concatenate([turns, [len(buffer)]])
    start, end = turns[0::2], turns[1::2]
    first = buffer[start]
    scalar = _SCALAR[first] <= UNKNOWN
    takes = _LONG[first] | (scalar & (end - start == 1))  # some writers leave a space: "1 !"
    is_id = np.zeros(len(start), dtype=bool)
    if takes.any():
        takes = _settled(takes)
        is_id[1:] = takes[:-1]
    is_time = (first == 35) & ~is_id
    unknown = ~(is_time | is_id | takes | scalar | (first == 36))
    if unknown.any():
        at = int(np.flatnonzero(unknown)[0])
        raise _unreadable(chunk, int(start[at]), int(end[at]), "a value change or #time")
    return Words(start, end, first, is_time, takes, is_id)


def _settled(looks: Flags) -> Flags:
    """Of words that look as if they took an identifier, those that do: in a row of them every other one is an id."""
    index = np.arange(len(looks))
    row_starts = looks & ~np.concatenate([[False], looks[:-1]])
    begin = np.maximum.accumulate(np.where(row_starts, index, 0))
    settled: Flags = looks & ((index - begin) & 1 == 0)
    return settled


def _changes(buffer: Bytes, words: Words, wanted: list[Choice]) -> Iterator[tuple[int, Ints]]:
    """For each wanted signal that changes in this chunk: its place in ``wanted`` and the words that change it."""
    change = np.flatnonzero(~(words.is_time | words.is_id | (words.first == 36)))
    if not len(change):
        return
    takes = words.takes[change]
    after = np.minimum(change + 1, len(words.start) - 1)
    start, end = words.start[change] + 1, words.end[change]
    if takes.any():
        start, end = np.where(takes, words.start[after], start), np.where(takes, words.end[after], end)
    length = end - start
    if len(wanted) <= _FEW:
        for at, choice in enumerate(wanted):
            same = length == len(choice.code)
            for place, character in enumerate(choice.code):
                same &= buffer[np.minimum(start + place, len(buffer) - 1)] == character
            if same.any():
                yield at, change[same]
        return
    key = np.zeros(len(change), dtype=np.uint64)
    for place in range(min(int(length.max()), _KEY_BYTES)):
        byte = buffer[np.minimum(start + place, len(buffer) - 1)].astype(np.uint64) + np.uint64(1)
        key = np.where(place < length, key * np.uint64(257) + byte, key)
    order = np.argsort(key, kind="stable")
    present, begins = np.unique(key[order], return_index=True)
    groups = dict(zip(present.tolist(), np.split(change[order], begins[1:]), strict=True))
    for at, choice in enumerate(wanted):
        if _key(choice.code) in groups:
            yield at, groups[_key(choice.code)]


def _key(code: bytes) -> int:
    """An identifier code as one integer, exact up to seven characters."""
    key = 0
    for byte in code[:_KEY_BYTES]:
        key = (key * 257 + byte + 1) & 0xFFFFFFFFFFFFFFFF
    return key


def _blanked(text: bytes, inside: bool) -> tuple[bytes, bool]:
    """Whole lines with their comments as line ends alone, and whether one is open at their end."""
    pieces: list[bytes] = []
    at = 0
    while True:
        begin = None if inside else _COMMENT.search(text, at)
        if begin is None and not inside:
            return b"".join([*pieces, text[at:]]), False
        start = at if begin is None else begin.start()
        end = _END.search(text, start if begin is None else begin.end())
        past = len(text) if end is None else end.end()
        pieces += [text[at:start], b" " + b"\n" * text.count(b"\n", start, past)]
        if end is None:
            return b"".join(pieces), True
        at, inside = past, False


def _unreadable(chunk: Chunk, start: int, end: int, expected: str) -> InputError:
    word = chunk.text[start : min(end, start + 24)].decode("utf-8", "replace")
    return InputError(f"unreadable {word!r}", where=f"line {chunk.line_at(start)}", expected=expected)


def _backwards(chunk: Chunk, offset: int) -> InputError:
    return InputError("time runs backwards", where=f"line {chunk.line_at(offset)}", expected="rising times")
