"""Spans: runs of PDPs on which a rig fares alike, found from the ends of each row of the power rules inwards."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple, Protocol

from pdcheck.contract.settle import Contract
from pdcheck.facts.power_rules import ROWS
from pdcheck.verdict.finding import Verdict
from pdcheck.verdict.need.to_buy import CableClass

Place = tuple[CableClass, int]
"""A class of cable, and a PDP [W]."""

Found = tuple[Verdict, Contract]
"""What a rig does there, and on which contract."""


class Judged(Protocol):
    """A rig that can be judged at any place."""

    def contract(self, place: Place) -> Contract:
        """The contract there."""

    def at(self, places: Sequence[Place]) -> Sequence[Found]:
        """Verdict and contract at some places; asked for many at a time."""


class Span(NamedTuple):
    """PDPs [W] in a run, over one class of cable, on which a rig has one verdict on contracts that differ in their
    current alone; ``contract`` is that of the first."""

    cable_class: CableClass
    from_w: int
    to_w: int
    verdict: Verdict
    contract: Contract

    def pdps_w(self) -> range:
        """All of them."""
        return range(self.from_w, self.to_w + 1)


def spans_on(classes: Sequence[CableClass], pdps_w: Sequence[int], judged: Judged) -> list[Span]:
    """What a rig does on every PDP over each class of cable, in order.

    Within one row of the power rules a source of more PDP offers the same voltages with no less current, and more
    current is never worse. So where both ends of a run come to the same, all of it does; else each half is looked at.

    Args:
        classes: the classes of cable.
        pdps_w: rising whole watts without a gap.
        judged: the rig.
    """
    rows = list(_rows(pdps_w))
    open_runs = [(each, *row) for each in classes for row in rows]
    found: dict[Place, Found] = {}
    closed: list[Span] = []
    while open_runs:
        ends = dict.fromkeys((each, end) for each, *run in open_runs for end in run if (each, end) not in found)
        found |= zip(ends, judged.at(list(ends)), strict=True)
        halves = []
        for each, low, high in open_runs:
            if _alike(found[each, low], found[each, high]):
                closed.append(Span(each, low, high, *found[each, low]))
            else:
                middle = (low + high) // 2
                halves += [(each, low, middle), (each, middle + 1, high)]
        open_runs = halves
    closed.sort(key=lambda span: (classes.index(span.cable_class), span.from_w))
    return list(_joined(closed))


def lowest_on(
    classes: Sequence[CableClass], pdps_w: Sequence[int], judged: Judged, accept: Callable[[Verdict, Contract], bool]
) -> Place | None:
    """The lowest PDP that is accepted, on the first class that is; None where none is.

    The first row of which the top is accepted holds it, and there it is found by halving.
    """
    rows = list(_rows(pdps_w))
    tops = [(each, high) for each in classes for _, high in rows]
    tops = [top for top in tops if accept("runs", judged.contract(top))]
    able = {top for top, found in zip(tops, judged.at(tops), strict=True) if accept(*found)}
    runs = {each: next((row for row in rows if (each, row[1]) in able), None) for each in classes}
    open_runs = {each: run for each, run in runs.items() if run is not None}
    while True:
        least_w = min((high for _, high in open_runs.values()), default=0)
        open_runs = {each: run for each, run in open_runs.items() if run[0] <= least_w}
        middles = [(each, (low + high) // 2) for each, (low, high) in open_runs.items() if low < high]
        if not middles:
            break
        for (each, middle), found in zip(middles, judged.at(middles), strict=True):
            low, high = open_runs[each]
            open_runs[each] = (low, middle) if accept(*found) else (middle + 1, high)
    return next(((each, low) for each, (low, _) in open_runs.items()), None)


def lowest_unsafe_w(classes: Sequence[CableClass], pdps_w: Sequence[int], judged: Judged) -> int | None:
    """The lowest PDP [W] that is unsafe over any of the classes; None where none is.

    As more current is never worse, it is the first of a row.
    """
    rows = list(_rows(pdps_w))
    firsts = [(each, low) for each in classes for low, _ in rows]
    unsafe = (low for (_, low), (verdict, _) in zip(firsts, judged.at(firsts), strict=True) if verdict == "unsafe")
    return min(unsafe, default=None)


def _rows(pdps_w: Sequence[int]) -> Iterator[tuple[int, int]]:
    """The first and the last of these PDPs in each row of the power rules."""
    for row in ROWS:
        inside = [watts for watts in pdps_w if row.above_w < watts <= row.up_to_w]
        if inside:
            yield inside[0], inside[-1]


def _alike(one: Found, other: Found) -> bool:
    return one[0] == other[0] and _but_current(one[1]) == _but_current(other[1])


def _but_current(contract: Contract) -> tuple[object, ...]:
    return contract.outcome, contract.kind, contract.voltage_v


def _joined(spans: Sequence[Span]) -> Iterator[Span]:
    """Neighbours that are alike as one."""
    if not spans:
        return
    whole = spans[0]
    for before, span in pairwise(spans):
        alike = before.cable_class == span.cable_class and _alike(before[3:], span[3:])
        if not alike:
            yield whole
        whole = whole._replace(to_w=span.to_w) if alike else span
    yield whole
