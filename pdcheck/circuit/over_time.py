"""What a circuit takes over time: the mean of what it is in turn, at every corner of tolerance, and the least of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pdcheck.circuit.corners import TYPICAL, Corner, NetworkSpec, corners
from pdcheck.circuit.point import OperatingPoint
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
    typical = means[TYPICAL]

    def by_part(kind: int) -> dict[str, Triple]:
        names = typical[1] if kind == 1 else typical[2]
        return {
            name: _over({corner: (mean[1] if kind == 1 else mean[2]).get(name, 0.0) for corner, mean in means.items()})
            for name in names
        }

    return OverTime(
        _over({corner: source_w for corner, (source_w, _, _) in means.items()}),
        {
            name: _over({corner: losses.get(name, 0.0) for corner, (_, losses, _) in means.items()})
            for name in typical[1]
        },
        {name: _over({corner: loads.get(name, 0.0) for corner, (_, _, loads) in means.items()}) for name in typical[2]},
        _over(lightest),
    )


def _mean(listed: list[tuple[float, OperatingPoint]]) -> tuple[float, dict[str, float], dict[str, float]]:
    losses: dict[str, float] = {}
    loads: dict[str, float] = {}
    for part, point in listed:
        for total, own in ((losses, point.losses), (loads, point.loads)):
            for name, watts in own.items():
                total[name] = total.get(name, 0.0) + part * watts
    return sum(part * point.source_w for part, point in listed), losses, loads


def _over(values: Mapping[Corner, float]) -> Triple:
    return Triple(min(values.values()), values[TYPICAL], max(values.values()))
