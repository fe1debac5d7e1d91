"""The quick reading: all packets of a stretch at once by the lengths between edges; the CRC vouches for each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pdcheck.bits.crc import crc_matches
from pdcheck.bits.line import (
    K_CODES,
    MESSAGE_BYTES_MAX,
    NIBBLE_OF_SYMBOL,
    ORDERED_SETS,
    PREAMBLE_BITS,
    RESETS,
    SYMBOL_BITS,
)
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.clock import ALIKE, FIT_PAIRS, Floats, Ints, Lock, Preamble
from pdcheck.intake.waveform.frame import SET_BITS, rate_problems
from pdcheck.named import NamedTuple

_NO_NIBBLE = 0x80
_NIBBLE = np.full(1 << SYMBOL_BITS, _NO_NIBBLE, dtype=np.uint8)
for _symbol, _nibble in NIBBLE_OF_SYMBOL.items():
    _NIBBLE[_symbol] = _nibble
_EOP = bytes([K_CODES["EOP"]])
_MESSAGE_SETS = {
    sum(K_CODES[code] << SYMBOL_BITS * place for place, code in enumerate(codes)): name
    for name, codes in ORDERED_SETS.items()
    if name not in RESETS
}
_WHOLE = 0.75
_LONGEST = 1.35


class Reading(NamedTuple):
    """A packet read the quick way, the clock it was read with, and the bits of preamble after the lock."""

    packet: Packet
    lock: Lock
    preamble_bits: int


class _Locks(NamedTuple):
    """Clocks after several preambles: their number among all, edge of the boundary, its time, the period."""

    number: Ints
    edge: Ints
    boundary: Floats
    period: Floats


def read_quickly(times: Floats, preambles: list[Preamble], quiet: Ints) -> dict[int, Reading]:
    """The messages after full-length preambles that read without doubt, by the number of their preamble.

    ``times`` are edges in seconds, ``quiet`` the edges after which the line is quiet; of each burst between two of them
    the first message is tried. Whatever is missing from the answer is to be read with care.
    """
    locks = _all_locks(times, preambles, quiet)
    if not len(locks.number):
        return {}
    ends = np.append(quiet, len(times) - 1)[np.searchsorted(quiet, locks.edge)]
    bit_edge, values = _all_bits(times, locks, ends)
    if len(values) < SET_BITS:
        return {}
    symbols = values[: -SYMBOL_BITS + 1].copy()
    for place in range(1, SYMBOL_BITS):
        symbols |= values[place : len(values) - SYMBOL_BITS + 1 + place] << place
    set_places, set_codes = _ordered_sets(symbols)
    nibbles = _NIBBLE[symbols]
    octets = nibbles[:-SYMBOL_BITS] | (nibbles[SYMBOL_BITS:] << 4)
    found: dict[int, Reading] = {}
    begins = np.searchsorted(bit_edge, locks.edge)
    stops = np.searchsorted(bit_edge, ends)
    firsts = np.searchsorted(set_places, begins)
    columns = zip(
        *(
            column.tolist()
            for column in (locks.number, locks.edge, locks.boundary, locks.period, begins, stops, firsts)
        ),
        strict=True,
    )
    for number, edge, boundary, period, begin, stop, first in columns:
        if first >= len(set_places):
            break
        place = int(set_places[first])
        if place > begin + PREAMBLE_BITS:
            continue
        begins_at = place + SET_BITS
        most = min(stop, begins_at + 2 * SYMBOL_BITS * (MESSAGE_BYTES_MAX + 1))
        count = symbols[begins_at : most : 2 * SYMBOL_BITS].tobytes().find(_EOP)
        if count < 0:
            continue
        eop_at = begins_at + 2 * SYMBOL_BITS * count
        raw = octets[begins_at : eop_at : 2 * SYMBOL_BITS].tobytes()
        last_bit = eop_at + SYMBOL_BITS - 1
        if last_bit >= stop or not crc_matches(raw):
            continue
        end_s = float(times[bit_edge[last_bit] + 1])
        rate = (last_bit + 1 - begin) / (end_s - boundary)
        sop = _MESSAGE_SETS[int(set_codes[first])]
        packet = Packet(boundary, end_s, sop, raw, rate, rate_problems(rate))
        found[number] = Reading(packet, Lock(boundary, period, edge), place - begin)
    return found


def _all_locks(times: Floats, preambles: list[Preamble], quiet: Ints) -> _Locks:
    """The clocks after preambles of full length and even pairs, the first of each burst."""
    number = np.array([at for at, preamble in enumerate(preambles) if preamble.pairs >= FIT_PAIRS], dtype=np.int64)
    if not len(number):
        return _Locks(number, number, np.empty(0), np.empty(0))
    edge = np.array([preambles[at].first + 3 * preambles[at].pairs for at in number.tolist()], dtype=np.int64)
    _, first = np.unique(np.searchsorted(quiet, edge), return_index=True)
    number, edge = number[first], edge[first]
    marks = times[edge[:, None] - 3 * np.arange(FIT_PAIRS, -1, -1)]
    length = np.diff(marks, axis=1)
    usual = np.median(length, axis=1, keepdims=True)
    even = (np.abs(length - usual) < ALIKE * usual).all(axis=1)
    number, edge, marks = number[even], edge[even], marks[even]
    count = np.arange(FIT_PAIRS + 1) - FIT_PAIRS / 2
    middle = marks.mean(axis=1)
    period = (marks - middle[:, None]) @ count / (count @ count) / 2
    return _Locks(number, edge, middle + period * FIT_PAIRS, period)


def _all_bits(times: Floats, locks: _Locks, ends: Ints) -> tuple[Ints, NDArray[np.uint8]]:
    """Bits between locks and ends: the interval that each bit ends in, and its value.

    An interval of a whole bit is a 0, two of half a bit are a 1. The bits of a stretch stop short at the first interval
    that does not fit, for what is left of it there is no telling.
    """
    first, stop = int(locks.edge[0]), int(ends.max())
    step = np.diff(times[first : stop + 1])
    count = len(step)
    span = np.diff(np.append(locks.edge, stop))
    period = np.repeat(locks.period, span)
    whole = step > _WHOLE * period
    index = np.arange(count)
    start = locks.edge - first
    mark = np.where(whole, index, -1)
    mark[start[1:] - 1] = start[1:] - 1
    before = np.maximum.accumulate(mark)
    halves = index - np.concatenate([[-1], before[:-1]])  # 1 for the first interval after a whole one
    second = ~whole & (halves & 1 == 0)
    wrong = (whole & (halves & 1 == 0)) | (step > _LONGEST * period)
    is_bit = whole | second
    if wrong.any():
        is_bit &= ~_spoilt(wrong, start, count)
    at = np.flatnonzero(is_bit)
    return at + first, (~whole[at]).astype(np.uint8)


def _spoilt(wrong: NDArray[np.bool_], start: Ints, count: int) -> NDArray[np.bool_]:
    """Everything in a stretch from its first wrong interval on."""
    total = np.cumsum(wrong)
    base = np.concatenate([[0], total])[start]
    spoilt: NDArray[np.bool_] = total - np.repeat(base, np.diff(np.append(start, count))) > 0
    return spoilt


def _ordered_sets(symbols: NDArray[np.uint8]) -> tuple[Ints, Ints]:
    """Where the ordered sets of messages stand, and which."""
    code = symbols[: len(symbols) - 3 * SYMBOL_BITS].astype(np.int64)
    for place in range(1, 4):
        code |= symbols[place * SYMBOL_BITS : len(symbols) - (3 - place) * SYMBOL_BITS].astype(np.int64) << (5 * place)
    at = np.flatnonzero(np.isin(code, list(_MESSAGE_SETS)))
    return at, code[at]
