"""Biphase mark coding: glitches out, preambles found, the clock followed from edge to edge, bits read off, twice."""

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

_SURVIVORS = 4
_FARTHEST = 0.4
_PULSE_COST = 0.12
_PULSE_BITS = 0.45
_PHASE_GAIN, _PERIOD_GAIN = 0.25, 0.015

GAINS = ((0.35, 0.02), (0.15, 0.01), (0.7, 0.05))
"""How hard phase and period follow an edge: first the middle way, then for steady clocks, then for wandering ones."""


def without_glitches(times: Floats) -> Floats:
    """Edge times without pulses shorter than ``GLITCH_S``, the shortest going first.

    >>> without_glitches(np.array([0.0, 3.0, 4.5, 4.6, 6.0]) * 1e-6).tolist()
    [0.0, 3e-06, 6e-06]
    """
    for _ in range(_ROUNDS):
        step = np.diff(times)
        short = step < GLITCH_S
        if not short.any():
            return times
        least = short.copy()
        least[1:] &= step[1:] <= step[:-1]
        least[:-1] &= step[:-1] < step[1:]
        keep = np.ones(len(times), dtype=bool)
        at = np.flatnonzero(least)
        keep[at] = keep[at + 1] = False
        times = times[keep]
    return _collapsed(times)


def _collapsed(times: Floats) -> Floats:
    """What is still crowded: a crowd of an odd number of edges leaves its first, an even one leaves nothing."""
    first = np.concatenate([[True], np.diff(times) >= GLITCH_S])
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


class _Path(NamedTuple):
    """Bits up to an edge: summed squared error in bits, the clock there, and how it came there."""

    cost: float
    boundary: float
    period: float
    before: _Path | None
    bit: int
    edge: int


def read_bits_again(edges: list[float], lock: Lock, captured_s: float) -> Bits:
    """Bits from a lock on, as ``read_bits`` gives them, by the path of least squared error through the edges.

    ``edges`` are raw, in seconds, ``lock.edge`` the index of the boundary in them. At every edge the few best paths are
    kept; a path may leave out a short pulse at a price. Several times slower than ``read_bits`` and less easily misled.
    """
    live: dict[int, list[_Path]] = {lock.edge: [_Path(0.0, lock.boundary, lock.period, None, 0, lock.edge)]}
    final: _Path | None = None
    for at in range(lock.edge, len(edges)):
        paths = live.pop(at, None)
        if not paths:
            if not live:
                break
            continue
        paths.sort(key=lambda path: path.cost)
        for path in paths[:_SURVIVORS]:
            grown = _grow(path, edges, live)
            if not grown and (final is None or path.edge > final.edge):
                final = path
    return _unrolled(final, edges, captured_s)


def _grow(path: _Path, edges: list[float], live: dict[int, list[_Path]]) -> bool:
    """Add every way to go on by one bit from a path; False when there is none."""
    cost, boundary, period, _, _, at = path
    grown = False
    for first, first_cost in _next_edges(edges, at, period):
        one = (edges[first] - boundary) / period
        if one > 1 + _FARTHEST:
            continue
        error = one - 1
        if error > -_FARTHEST:
            _keep(live, path, 0, first, error, cost + first_cost + error * error)
            grown = True
        half = one - 0.5
        if not -_FARTHEST < half < _FARTHEST:
            continue
        for second, second_cost in _next_edges(edges, first, period):
            error = (edges[second] - boundary) / period - 1
            if -_FARTHEST < error < _FARTHEST:
                price = first_cost + second_cost + half * half + error * error
                _keep(live, path, 1, second, (error + half) / 2, cost + price)
                grown = True
    return grown


def _next_edges(edges: list[float], at: int, period: float) -> list[tuple[int, float]]:
    """The next edge, and the one after a short pulse, each with its price."""
    last = len(edges) - 1
    if at >= last:
        return []
    found = [(at + 1, 0.0)]
    if at + 3 <= last and edges[at + 2] - edges[at + 1] < _PULSE_BITS * period:
        found.append((at + 3, _PULSE_COST))
        if at + 5 <= last and edges[at + 4] - edges[at + 3] < _PULSE_BITS * period:
            found.append((at + 5, 2 * _PULSE_COST))
    return found


def _keep(live: dict[int, list[_Path]], path: _Path, bit: int, edge: int, error: float, cost: float) -> None:
    boundary = path.boundary + path.period * (1 + _PHASE_GAIN * error)
    period = min(max(path.period * (1 + _PERIOD_GAIN * error), PERIOD_MIN_S), PERIOD_MAX_S)
    live.setdefault(edge, []).append(_Path(cost, boundary, period, path, bit, edge))


def _unrolled(path: _Path | None, edges: list[float], captured_s: float) -> Bits:
    """The bits along a path, and the last one that only the quiet closes."""
    if path is None:
        return Bits([], [], [], True)
    end = path
    values: list[int] = []
    ends: list[float] = []
    places: list[int] = []
    while path.before is not None:
        values.append(path.bit)
        ends.append(path.boundary)
        places.append(path.edge)
        path = path.before
    values.reverse()
    ends.reverse()
    places.reverse()
    cut_off = captured_s < end.boundary + 1.4 * end.period
    if not cut_off:
        half = end.edge + 1 < len(edges) and edges[end.edge + 1] < end.boundary + 0.75 * end.period
        values.append(int(half))
        ends.append(end.boundary + end.period)
        places.append(end.edge + int(half))
    return Bits(values, ends, places, cut_off)
