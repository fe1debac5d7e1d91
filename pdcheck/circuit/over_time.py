"""What a circuit takes over time: the mean of what it is in turn, at every corner of tolerance, and the least of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pdcheck.circuit.corners import TYPICAL, Corner, NetworkSpec, corners
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
    shared = set.intersection(*(set(each.points) for _, each in told))
    points: dict[Corner, list[tuple[float, OperatingPoint]]] = {
        corner: [(part, each.points[corner]) for part, each in told] for corner in shared
    }
    means = {corner: _mean(listed) for corner, listed in points.items()}
    lightest = {
        corner: min(point.nodes["source"].current_a for _, point in listed) for corner, listed in points.items()
    }
    return OverTime(
        _over({corner: mean.source_w for corner, mean in means.items()}),
        _by_part({corner: mean.losses for corner, mean in means.items()}),
        _by_part({corner: mean.loads for corner, mean in means.items()}),
        _over(lightest),
    )


class _Mean(NamedTuple):
    source_w: float
    losses: dict[str, float]
    loads: dict[str, float]


def _mean(listed: list[tuple[float, OperatingPoint]]) -> _Mean:
    mean = _Mean(sum(part * point.source_w for part, point in listed), {}, {})
    for part, point in listed:
        for total, own in ((mean.losses, point.losses), (mean.loads, point.loads)):
            for name, watts in own.items():
                total[name] = total.get(name, 0.0) + part * watts
    return mean


def _by_part(at_corners: Mapping[Corner, Mapping[str, float]]) -> dict[str, Triple]:
    return {
        name: _over({corner: parts.get(name, 0.0) for corner, parts in at_corners.items()})
        for name in at_corners[TYPICAL]
    }


def _over(values: Mapping[Corner, float]) -> Triple:
    return Triple(min(values.values()), values[TYPICAL], max(values.values()))
