"""Biphase mark coding: glitches out, preambles found, the clock followed from edge to edge, bits read off."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pdcheck.bits.line import BIT_RATE_MAX, BIT_RATE_MIN
from pdcheck.named import NamedTuple

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

RATE_MARGIN = 1.06
"""Bit rates this far outside the allowed range are still read, and said to be outside."""

PERIOD_MIN_S = 1 / (BIT_RATE_MAX.value * RATE_MARGIN)
PERIOD_MAX_S = RATE_MARGIN / BIT_RATE_MIN.value

GLITCH_S = 0.55e-6
"""Shorter pulses are no part of the code: half a bit lasts 1.5 us or more, one sample at the slowest rate 0.5 us."""

QUIET_S = 3 * PERIOD_MAX_S
"""No edge for so long ends a burst of activity; the gap between packets is at least twice this."""

_SAMPLE_S = 0.6e-6
_ROUNDS = 10
FIT_PAIRS = 16
_LAG_BITS = 0.03
ALIKE = 0.125
LONGEST_BITS = 3200

GAINS = ((0.35, 0.02), (0.15, 0.01), (0.7, 0.05))
"""How hard phase and period follow an edge: first the middle way, then for steady clocks, then for wandering ones."""


def without_glitches(times: Floats, shortest_s: float = GLITCH_S) -> Floats:
    """Edge times without pulses shorter than ``shortest_s``, the shortest going first.

    >>> without_glitches(np.array([0.0, 3.0, 4.5, 4.6, 6.0]) * 1e-6).tolist()
    [0.0, 3e-06, 6e-06]
    """
    for _ in range(_ROUNDS):
        step = np.diff(times)
        short = step < shortest_s
        if not short.any():
            return times
        least = short.copy()
        least[1:] &= step[1:] <= step[:-1]
        least[:-1] &= step[:-1] < step[1:]
        keep = np.ones(len(times), dtype=bool)
        at = np.flatnonzero(least)
        keep[at] = keep[at + 1] = False
        times = times[keep]
    return _collapsed(times, shortest_s)


def _collapsed(times: Floats, shortest_s: float) -> Floats:
    """What is still crowded: a crowd of an odd number of edges leaves its first, an even one leaves nothing."""
    first = np.concatenate([[True], np.diff(times) >= shortest_s])
    begin = np.flatnonzero(first)
    size = np.diff(np.append(begin, len(times)))
    left: Floats = times[begin[size % 2 == 1]]
    return left


class Preamble(NamedTuple):
    """A row of alternating bits: index of its first edge, and how many pairs of 0 and 1 follow."""

    first: int
    pairs: int


def find_preambles(times: Floats, fewest_pairs: int) -> list[Preamble]:
    """Rows of at least ``fewest_pairs`` pairs 0 1, at any rate of the allowed range, in order of their first edge."""
    if len(times) < 3 * fewest_pairs + 4:
        return []
    four = times[6:] - times[:-6]  # two pairs, over which an edge and its opposite are late or early together
    pair = (four > 4 * PERIOD_MIN_S - _SAMPLE_S) & (four < 4 * PERIOD_MAX_S + _SAMPLE_S)
    middle = four * (0.75 / 4)  # between half a bit and a whole one
    step = np.diff(times)
    pair &= step[:-5] > middle
    pair &= step[1:-4] < middle
    pair &= step[2:-3] < middle
    found: list[Preamble] = []
    for phase in range(3):
        row = np.concatenate([[False], pair[phase::3], [False]])
        turns = np.flatnonzero(row[1:] != row[:-1])
        begin, length = turns[0::2], turns[1::2] - turns[0::2]
        long_enough = length >= fewest_pairs
        found += [
            Preamble(3 * int(at) + phase, int(pairs))
            for at, pairs in zip(begin[long_enough], length[long_enough], strict=True)
        ]
    return sorted(found)


class Lock(NamedTuple):
    """The clock at the end of a preamble: time of the bit boundary, period in seconds, index of the boundary's edge.

    ``lag_s`` is how much later than the mean an edge of the boundary's direction comes: levels sliced off their middle
    make the edges of one direction late and those of the other early.
    """

    boundary: float
    period: float
    edge: int
    lag_s: float = 0.0


def lock_on(times: Floats, preamble: Preamble) -> Lock:
    """Clock from the last pairs of a preamble, by a straight line through their boundaries."""
    pairs = min(preamble.pairs, FIT_PAIRS)
    last = preamble.first + 3 * preamble.pairs
    marks = times[last - 3 * pairs : last + 1 : 3]
    # A row of jittered ones after the preamble, or noise before it, can pass for a pair of another length.
    length = np.diff(marks)
    usual = float(np.median(length))
    alike = np.flatnonzero(np.abs(length - usual) < ALIKE * usual)
    marks = marks[alike[0] : alike[-1] + 2]
    last -= 3 * (pairs - 1 - int(alike[-1]))
    pairs = len(marks) - 1
    count = np.arange(pairs + 1) - pairs / 2
    middle = float(marks.mean())
    slope = float((count * (marks - middle)).sum() / (count * count).sum())
    period = min(max(slope / 2, PERIOD_MIN_S), PERIOD_MAX_S)
    turn = np.where(np.arange(pairs, -1, -1) % 2, -1.0, 1.0)
    lag_s = float((turn * (marks - middle - slope * count)).mean())
    return Lock(middle + period * pairs, period, last, lag_s if abs(lag_s) > _LAG_BITS * period else 0.0)


class Bits(NamedTuple):
    """Bits read off, the time at the end of each, the edge index there, and whether the capture ended before quiet."""

    values: list[int]
    ends: list[float]
    edges: list[int]
    cut_off: bool


def read_bits(
    edges: list[float], lock: Lock, gains: tuple[float, float], captured_s: float, most: int = LONGEST_BITS
) -> Bits:
    """Bits from a lock on until the line goes quiet; ``lock.edge`` is an index into ``edges``, all in seconds.

    A doubtful first edge is judged together with the one after it: half a bit is never left alone. The last bit may
    lack its closing edge; it is then closed by the quiet. ``captured_s`` is the end of the capture; after ``most``
    bits it stops.
    """
    phase_gain, period_gain = gains
    boundary, period, at = lock.boundary, lock.period, lock.edge
    values: list[int] = []
    ends: list[float] = []
    places: list[int] = []
    last = len(edges) - 1
    cut_off = False
    while len(values) < most:
        one = (edges[at + 1] - boundary) / period if at < last else 9.0
        if one > 1.35:
            cut_off = captured_s < boundary + 1.35 * period
            if not cut_off:
                values.append(0)
                ends.append(boundary + period)
                places.append(at)
            break
        two = (edges[at + 2] - boundary) / period if at + 1 < last else 9.0
        if one < 0.62:
            is_one = True
        elif one > 0.88:
            is_one = False
        elif two > 2.5:
            is_one = one < 0.75
        else:
            as_one = (one - 0.5) ** 2 + (two - 1) ** 2
            as_zero = (one - 1) ** 2 + min((two - 1.5) ** 2, (two - 2) ** 2)
            is_one = as_one < as_zero
        if not is_one:
            at += 1
            error = (one - 1) * period
        elif two > 1.4:
            cut_off = captured_s < boundary + 1.4 * period
            if not cut_off:
                values.append(1)
                ends.append(boundary + period)
                places.append(at + 1)
            break
        else:
            at += 2
            error = (one + two - 1.5) * 0.5 * period
        boundary += period + phase_gain * error
        period = min(max(period + period_gain * error, PERIOD_MIN_S), PERIOD_MAX_S)
        values.append(int(is_one))
        ends.append(boundary)
        places.append(at)
    return Bits(values, ends, places, cut_off)


def looks_coded(times: Floats) -> bool:
    """Whether the edges of a stretch lie half bits and whole bits apart, as biphase mark coding has them."""
    step = np.diff(times)
    middle = 0.75 * (PERIOD_MIN_S + PERIOD_MAX_S) / 2
    short, long = step[step < middle], step[step >= middle]
    if len(short) < 0.2 * len(step) or len(long) < 0.1 * len(step):
        return False
    half, whole = float(np.median(short)), float(np.median(long))
    if not (1.8 < whole / half < 2.2 and PERIOD_MIN_S < whole < PERIOD_MAX_S):
        return False
    near = (np.abs(step - half) < 0.3 * half) | (np.abs(step - whole) < 0.15 * whole)
    return bool(near.mean() > 0.95)
