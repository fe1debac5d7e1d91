"""A time axis for what happens in microseconds and in seconds, bands of a curve in its columns, and who is on when."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise

from pdcheck.circuit.transient.result import Moment, Samples
from pdcheck.named import NamedTuple

KNEE_S = 20e-6
"""Stretches much shorter than this are drawn next to nothing, longer ones by the logarithm of their length."""
_ONS = ("converter starts", "load starts", "load on")
_OFFS = ("converter stops", "load stops", "load off")
OFF, PARTLY, ON = 0, 1, 2


class TimeAxis(NamedTuple):
    """Knots [s] with their places, 0 to 1: between them time is drawn evenly."""

    times_s: tuple[float, ...]
    places: tuple[float, ...]

    def place(self, time_s: float) -> float:
        """Where a time [s] is drawn, 0 to 1."""
        return _straight(self.times_s, self.places, time_s)

    def time_s(self, place: float) -> float:
        """The time [s] that is drawn at a place."""
        return _straight(self.places, self.times_s, place)


def _straight(x: Sequence[float], y: Sequence[float], at: float) -> float:
    after = min(max(bisect_right(x, at), 1), len(x) - 1)
    low, high = x[after - 1], x[after]
    share = (at - low) / (high - low) if high > low else 0.0
    return y[after - 1] + min(max(share, 0.0), 1.0) * (y[after] - y[after - 1])


def time_axis(moments_s: Iterable[float], end_s: float) -> TimeAxis:
    """An axis from 0 to ``end_s`` [s] on which every stretch between two moments can be seen.

    >>> axis = time_axis([0.001, 0.3], 1.0)
    >>> [round(axis.place(time), 2) for time in (0.0, 0.001, 0.3, 1.0)], round(axis.time_s(axis.place(0.2)), 6)
    ([0.0, 0.16, 0.56, 1.0], 0.2)
    """
    knots = sorted({0.0, end_s, *(time for time in moments_s if 0.0 < time < end_s)})
    sizes = [math.log10(1.0 + (b - a) / KNEE_S) for a, b in pairwise(knots)]
    total, places = sum(sizes), [0.0]
    for size in sizes:
        places.append(places[-1] + size / total)
    places[-1] = 1.0
    return TimeAxis(tuple(knots), tuple(places))


def bands(samples: Samples, node: str, edges_s: Sequence[float]) -> list[tuple[float, float]]:
    """Least and greatest voltage [V] of a node between each two edges [s]; a skipped cycle has those of its last round.

    >>> samples = Samples((0.0, 1.0, 2.0), {"bus": (0.0, 4.0, 4.0)}, ())
    >>> bands(samples, "bus", (0.0, 0.5, 2.0))
    [(0.0, 2.0), (2.0, 4.0)]
    """
    times, volts = samples.time_s, samples.nodes[node]
    rounds = [(start, end, _band(times, volts, max(start - period, 0.0), start)) for start, end, period in samples.gaps]
    found = []
    for low_s, high_s in pairwise(edges_s):
        least, most = _band(times, volts, low_s, high_s)
        for start, end, (low, high) in rounds:
            if low_s < end and start < high_s:
                least, most = min(least, low), max(most, high)
        found.append((least, most))
    return found


def _band(times: Sequence[float], volts: Sequence[float], low_s: float, high_s: float) -> tuple[float, float]:
    inside = volts[bisect_left(times, low_s) : bisect_right(times, high_s)]
    both = (*inside, _straight(times, volts, low_s), _straight(times, volts, high_s))
    return min(both), max(both)


def on_in(moments: Sequence[Moment], gaps: Sequence[tuple[float, float, float]], branch: str,
          edges_s: Sequence[float]) -> list[int]:  # fmt: skip
    """Whether a branch is ``ON``, ``OFF`` or ``PARTLY`` on between each two edges [s].

    >>> moments = [Moment(0.2, "amp", "converter starts"), Moment(0.8, "amp", "converter stops")]
    >>> on_in(moments, (), "amp", (0.0, 0.1, 0.3, 0.7, 0.9, 1.0))
    [0, 1, 2, 1, 0]
    """
    turns = [
        (each.time_s, each.what in _ONS) for each in moments if each.subject == branch and each.what in _ONS + _OFFS
    ]
    found = []
    for low_s, high_s in pairwise(edges_s):
        before = [on for time, on in turns if time <= low_s]
        states = {before[-1] if before else False, *(on for time, on in turns if low_s < time < high_s)}
        for start, end, period in gaps:
            if low_s < end and start < high_s:
                states |= {on for time, on in turns if start - 1.001 * period <= time <= start}
        found.append(PARTLY if len(states) > 1 else ON if True in states else OFF)
    return found
