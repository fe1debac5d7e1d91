"""Row: one line of the table of measurements, and how a time is taken."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter
from typing import NamedTuple


class Row(NamedTuple):
    """What was measured against what, by how much, and the bar that it is held to, where there is one."""

    what: str
    against: str
    ratio: str
    bar: str = ""
    told: str = ""


def seconds(job: Callable[[], object]) -> float:
    """The time of one run [s]."""
    begin = perf_counter()
    job()
    return perf_counter() - begin


def side_by_side(ours: Callable[[], object], theirs: Callable[[], object], runs: int = 7) -> tuple[float, float, float]:
    """Median times of both [s], run in turn, and the median of the ratios of the pairs."""
    ours(), theirs()
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(runs)]
    return (
        median(one for one, _ in pairs),
        median(other for _, other in pairs),
        median(one / other for one, other in pairs),
    )


def times(ratio: float) -> str:
    """A ratio with two digits that count.

    >>> times(1.234), times(12.34), times(1234.5)
    ('1.23', '12.3', '1234')
    """
    return f"{ratio:.2f}" if ratio < 10 else f"{ratio:.1f}" if ratio < 100 else f"{ratio:.0f}"
