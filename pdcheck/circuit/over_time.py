"""What a circuit takes over time: the mean of what it is in turn, at every corner of tolerance, and the least of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from pdcheck.circuit.corners import TYPICAL, NetworkSpec, corners
from pdcheck.circuit.point import OperatingPoint
from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple


class OverTime(NamedTuple):
    """Means over time, over all corners: ``source_w`` [W], ``losses`` and ``loads`` [W] by part.

    ``lightest_a`` [A] is the current from the source in the state that takes least.
    """

    source_w: Triple
    losses: dict[str, Triple]
    loads: dict[str, Triple]
    lightest_a: Triple


def mean_over_time(states: Iterable[tuple[float, NetworkSpec]], off: frozenset[str] = frozenset()) -> OverTime | None:
    """The means of a circuit that is each of some states for a part (0..1) of the time.

    ``off`` are branches that are switched off all the time. None where a state has no operating point as stated; a
    corner at which one of them has none is left out.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.parts.loads import Load
    >>> on, rest = (NetworkSpec(Triple.exact(5.0), (BranchSpec("a", Load(each)),)) for each in ("10W", "2W"))
    >>> mean_over_time([(0.25, on), (0.75, rest)]).source_w.typ
    4.0
    """
    told = [(part, corners(spec, off)) for part, spec in states]
    if not told or any(each.typical is None for _, each in told):
        return None
    in_turn = {
        corner: [(part, each.points[corner]) for part, each in told]
        for corner in set.intersection(*(set(each.points) for _, each in told))
    }

    def over(value: Callable[[list[tuple[float, OperatingPoint]]], float]) -> Triple:
        values = {corner: value(points) for corner, points in in_turn.items()}
        return Triple(min(values.values()), values[TYPICAL], max(values.values()))

    def mean(figure: Callable[[OperatingPoint], float]) -> Triple:
        return over(lambda points: sum(part * figure(point) for part, point in points))

    def by_part(parts: Callable[[OperatingPoint], dict[str, float]]) -> dict[str, Triple]:
        names = dict.fromkeys(name for _, point in in_turn[TYPICAL] for name in parts(point))
        return {name: mean(lambda point: parts(point).get(name, 0.0)) for name in names}  # noqa: B023

    return OverTime(
        mean(lambda point: point.source_w),
        by_part(lambda point: point.losses),
        by_part(lambda point: point.loads),
        over(lambda points: min(point.nodes["source"].current_a for _, point in points)),
    )
