"""Many words at once: NumPy arrays in, one array a field out, from the same tables as the single decoder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pdcheck.bits.layout import Field, Word
from pdcheck.bits.offers import KIND_KEYS
from pdcheck.bits.power import REQUEST_WORDS, SINK_WORDS, SOURCE_WORDS, kind_of
from pdcheck.errors import InputError
from pdcheck.named import NamedTuple

Words = NDArray[np.uint32]
Columns = dict[str, NDArray[Any]]

RESERVED = "reserved"
"""Key of the column that holds the reserved bits, in their places."""

KINDS: tuple[str, ...] = tuple(SOURCE_WORDS)
"""The kinds of power data object; a ``kind`` column counts into it."""

# Words taken at a time: words, scratch and one column of it stay in the processor's cache.
_STRIDE = 1 << 16
_TOP_LOW = 28


def _words(words: ArrayLike, bits: int) -> Words:
    array = np.asarray(words)
    if array.size == 0:
        return np.zeros(array.shape, np.uint32)
    if array.dtype.kind not in "ui":
        raise InputError(f"words of type {array.dtype}", expected="an array of integers")
    if int(array.min()) < 0 or int(array.max()) >> bits:
        raise InputError(f"a word that does not fit {bits} bits")
    return np.ascontiguousarray(array, dtype=np.uint32)


def _columns(fields: Iterable[Field], size: int) -> Columns:
    """Room for the columns and for the reserved bits."""
    out: Columns = {field.key: np.empty(size, np.bool_ if field.flag else np.uint32) for field in fields}
    out[RESERVED] = np.empty(size, np.uint32)
    return out


def _extract(words: Words, field: Field, into: NDArray[Any], scratch: Words) -> None:
    """One field of every word, scaled, into ``into``."""
    if field.flag:
        np.bitwise_and(words, np.uint32(1 << field.low), out=scratch)
        np.not_equal(scratch, 0, out=into)
        return
    source = words
    if field.low:
        np.right_shift(source, np.uint32(field.low), out=into)
        source = into
    if field.high < 31:
        np.bitwise_and(source, np.uint32(field.mask), out=into)
        source = into
    if field.scale != 1:
        np.multiply(source, np.uint32(field.scale), out=into)
    elif source is words:
        into[:] = words


def decode_words(words: ArrayLike, word: Word) -> Columns:
    """Every named field of ``words`` (any length, integers) by one table: flags as bool, the rest scaled, as uint32.

    ``reserved`` holds the reserved bits in their places. A count that stands for "not known" stays a number here.
    Raises ``InputError`` for words that are no integers or do not fit the table.

    >>> from pdcheck.bits.power import FIXED_SOURCE
    >>> decode_words([0x0801912C, 0x0002D12C], FIXED_SOURCE)["voltage_mv"].tolist()
    [5000, 9000]
    """
    raw = _words(words, word.bits).ravel()
    out = _columns(word.named, raw.size)
    scratch = np.empty(min(_STRIDE, raw.size), np.uint32)
    mask = np.uint32(word.reserved_mask)
    for start in range(0, raw.size, _STRIDE):
        part = raw[start : start + _STRIDE]
        for field in word.named:
            _extract(part, field, out[field.key][start : start + _STRIDE], scratch[: part.size])
        np.bitwise_and(part, mask, out=out[RESERVED][start : start + _STRIDE])
    return out


class _Spot(NamedTuple):
    """One place of a key, and the kinds that have it there."""

    field: Field
    kinds: tuple[str, ...]


class _Family:
    """The words of all kinds of one sender, laid side by side."""

    def __init__(self, tables: Mapping[str, Word]) -> None:
        self.tables = tables
        places: dict[tuple[str, int, int, int], _Spot] = {}
        for kind, word in tables.items():
            for field in word.named:
                if field.key not in KIND_KEYS:
                    place = (field.key, field.low, field.high, field.scale)
                    spot = places.get(place, _Spot(field, ()))
                    places[place] = _Spot(spot.field, (*spot.kinds, kind))
        self.spots: dict[str, list[_Spot]] = {}
        for spot in places.values():
            self.spots.setdefault(spot.field.key, []).append(spot)
        tops = [kind_of(top << _TOP_LOW) for top in range(16)]
        self.kind_of_top = np.array([KINDS.index(kind) for kind in tops], np.uint8)
        self.reserved_of_top = np.array([tables[kind].reserved_mask for kind in tops], np.uint32)
        self.select_of_top = {
            spot.kinds: np.array([0xFFFFFFFF if kind in spot.kinds else 0 for kind in tops], np.uint32)
            for spot in places.values()
        }

    def decode(self, words: ArrayLike) -> Columns:
        """Objects of all kinds mixed: ``kind`` (counts into ``KINDS``) and every field of every kind.

        A field is zero where the word is of a kind that does not have it. Units are in the keys, as in the single
        decoder.

        >>> columns = decode_sources([0x0801912C, 0xC0DC213C])
        >>> [KINDS[kind] for kind in columns["kind"]], columns["max_voltage_mv"].tolist()
        (['fixed', 'pps'], [0, 11000])
        """
        raw = _words(words, 32).ravel()
        out: Columns = {"kind": np.empty(raw.size, np.uint8)}
        out |= _columns((spots[0].field for spots in self.spots.values()), raw.size)
        room = min(_STRIDE, raw.size)
        # An index of the platform's own size: take() is spared a conversion at every use.
        top_room = np.empty(room, np.intp)
        scratch_room, other_room = np.empty(room, np.uint32), np.empty(room, np.uint32)
        chosen_room = {kinds: np.empty(room, np.uint32) for kinds in self.select_of_top}
        for start in range(0, raw.size, _STRIDE):
            part = raw[start : start + _STRIDE]
            here = slice(start, start + part.size)
            held = slice(0, part.size)
            top, scratch, other = top_room[held], scratch_room[held], other_room[held]
            np.right_shift(part, np.uint32(_TOP_LOW), out=top, casting="unsafe")
            self.kind_of_top.take(top, out=out["kind"][here], mode="clip")
            self.reserved_of_top.take(top, out=scratch, mode="clip")
            np.bitwise_and(part, scratch, out=out[RESERVED][here])
            chosen: dict[tuple[str, ...], Words] = {}
            for kinds, select in self.select_of_top.items():
                # The word where it is of these kinds, else zero: every field of it is then zero too.
                select.take(top, out=scratch, mode="clip")
                chosen[kinds] = np.bitwise_and(part, scratch, out=chosen_room[kinds][held])
            for key, spots in self.spots.items():
                column = out[key][here]
                _extract(chosen[spots[0].kinds], spots[0].field, column, scratch)
                for spot in spots[1:]:
                    _extract(chosen[spot.kinds], spot.field, other, scratch)
                    np.bitwise_or(column, other, out=column)
        return out


_SOURCES, _SINKS = _Family(SOURCE_WORDS), _Family(SINK_WORDS)
decode_sources, decode_sinks = _SOURCES.decode, _SINKS.decode


def decode_objects(
    words: ArrayLike | Iterable[int], *, sink: bool = False, request_as: str | None = None
) -> dict[str, NDArray[Any]]:
    """Data objects of a power negotiation as columns: one array a field, with its unit in its name; a million at once.

    ``words`` are whole numbers (a list, a generator, an array, a column of a table) or a text of hex words. They are
    what a source offers; with ``sink`` what a sink wants; with ``request_as`` (fixed, battery, pps, avs) requests.
    ``word`` is the word itself, ``kind`` its kind by name, ``reserved`` its reserved bits in their places. Flags are
    booleans, and a field is zero where the word is of a kind without it; ``object_rows`` leaves those out.
    Raises ``InputError`` for what is no word of 32 bits.

    >>> columns = decode_objects("0x0801912C, 0xC0DC213C")
    >>> columns["kind"].tolist(), columns["current_ma"].tolist()
    (['fixed', 'pps'], [3000, 3000])
    >>> int(decode_objects(range(1 << 20))["current_ma"].max())
    10230
    """
    raw = _words(_numbers(words), 32).ravel()
    if request_as is not None:
        if request_as not in REQUEST_WORDS:
            raise InputError(f"no form of request {request_as!r}", expected=", ".join(REQUEST_WORDS))
        return {"word": raw, **decode_words(raw, REQUEST_WORDS[request_as])}
    columns = decode_sinks(raw) if sink else decode_sources(raw)
    return {"word": raw, **columns, "kind": np.array(KINDS, object)[columns["kind"]]}


def _numbers(words: ArrayLike | Iterable[int]) -> ArrayLike:
    if isinstance(words, str):
        return [_word_of(text, place) for place, text in enumerate(words.replace(",", " ").split(), 1)]
    try:
        array = words if hasattr(words, "__len__") else np.fromiter(words, np.int64)  # type: ignore[arg-type]
        return np.asarray(array)
    except (TypeError, ValueError, OverflowError):
        raise InputError("words that are no numbers of 32 bits", expected="whole numbers, or a text of hex") from None


def _word_of(text: str, place: int) -> int:
    try:
        return int(text, 16)
    except ValueError:
        raise InputError(f"{text[:40]!r} is no hex", where=f"word {place}", expected="words as in 0x0801912C") from None


def object_rows(columns: Mapping[str, NDArray[Any]]) -> list[dict[str, Any]]:
    """The columns of ``decode_objects`` as flat records of plain values, a word each, with the fields of its kind.

    >>> fixed, pps = object_rows(decode_objects([0x0801912C, 0xC0DC213C]))
    >>> fixed["voltage_mv"], pps["max_voltage_mv"], "voltage_mv" in pps
    (5000, 11000, False)
    """
    lists = {key: column.tolist() for key, column in columns.items()}
    if "kind" not in lists:
        return [dict(zip(lists, row, strict=True)) for row in zip(*lists.values(), strict=True)]
    family = _SOURCES if set(_SOURCES.spots) <= set(lists) else _SINKS
    own = {
        kind: ("word", "kind", *(field.key for field in table.named if field.key in lists), RESERVED)
        for kind, table in family.tables.items()
    }
    return [{key: lists[key][at] for key in own[kind]} for at, kind in enumerate(lists["kind"])]
