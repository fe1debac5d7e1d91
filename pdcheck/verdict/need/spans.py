"""Spans: what a rig does on sources of every PDP, found from the ends of each row of the power rules inwards.

Within one row a source of more PDP offers the same voltages with no less current, and more current is never worse.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import floor
from typing import Protocol

from pdcheck.contract.settle import Contract
from pdcheck.facts.power_rules import ROWS
from pdcheck.named import NamedTuple
from pdcheck.parts.choices import CableClass
from pdcheck.verdict.finding import Verdict

Place = tuple[CableClass, int]
"""A class of cable, and a PDP [W]."""

Found = tuple[Verdict, Contract]
"""What a rig does there, and on which contract."""

Accept = Callable[[Verdict, Contract], bool]
"""Whether a verdict on a contract is what is wanted."""


class Judged(Protocol):
    """A rig that can be judged at any place."""

    def contract(self, place: Place) -> Contract:
        """The contract there."""

    def at(self, places: Sequence[Place]) -> Sequence[Found]:
        """Verdict and contract at some places; asked for many at a time."""


class Span(NamedTuple):
    """PDPs [W] in a run on which a rig has one verdict on contracts that differ in their current alone; ``contract`` is
    that of the first."""

    from_w: int
    to_w: int
    verdict: Verdict
    contract: Contract


def spans_on(cable_class: CableClass, pdps_w: Sequence[int], judged: Judged) -> list[Span]:
    """What a rig does on every one of these PDPs, rising whole watts without a gap, over one class of cable.

    Where both ends of a run come to the same, all of it does; else each half is looked at.
    """
    open_runs = rows(pdps_w)
    found: dict[int, Found] = {}
    closed: list[Span] = []
    while open_runs:
        ends = [end for end in dict.fromkeys(end for run in open_runs for end in run) if end not in found]
        found |= zip(ends, judged.at([(cable_class, end) for end in ends]), strict=True)
        halves = []
        for low, high in open_runs:
            if _alike(found[low], found[high]):
                closed.append(Span(low, high, *found[low]))
            else:
                middle = (low + high) // 2
                halves += [(low, middle), (middle + 1, high)]
        open_runs = halves
    joined: list[Span] = []
    for span in sorted(closed, key=lambda span: span.from_w):
        alike = bool(joined) and _alike(joined[-1][2:], span[2:])
        joined.append(joined.pop()._replace(to_w=span.to_w) if alike else span)
    return joined


def lowest_on(classes: Sequence[CableClass], pdps_w: Sequence[int], judged: Judged, accept: Accept) -> Place | None:
    """The lowest PDP that is accepted, on the first class that is; None where none is.

    The first row of which the top is accepted holds it, and there it is found by halving.
    """
    runs, tops = rows(pdps_w), tops_on(classes, pdps_w, judged, accept)
    able = {top for top, found in zip(tops, judged.at(tops), strict=True) if accept(*found)}
    first = {each: next((run for run in runs if (each, run[1]) in able), None) for each in classes}
    open_runs = {each: run for each, run in first.items() if run is not None}
    while True:
        least_w = min((high for _, high in open_runs.values()), default=0)
        open_runs = {each: run for each, run in open_runs.items() if run[0] <= least_w}
        middles = [(each, (low + high) // 2) for each, (low, high) in open_runs.items() if low < high]
        if not middles:
            return next(((each, low) for each, (low, _) in open_runs.items()), None)
        for (each, middle), found in zip(middles, judged.at(middles), strict=True):
            low, high = open_runs[each]
            open_runs[each] = (low, middle) if accept(*found) else (middle + 1, high)


def tops_on(classes: Sequence[CableClass], pdps_w: Sequence[int], judged: Judged, accept: Accept) -> list[Place]:
    """The last of these PDPs in each row on which a contract can be accepted: where none is, none in its row is."""
    tops = [(each, high) for each in classes for _, high in rows(pdps_w)]
    return [top for top in tops if accept("runs", judged.contract(top))]


def lowest_unsafe_w(classes: Sequence[CableClass], pdps_w: Sequence[int], judged: Judged) -> int | None:
    """The lowest PDP [W] that is unsafe over any of the classes, the first of a row; None where none is."""
    firsts = [(each, low) for each in classes for low, _ in rows(pdps_w)]
    unsafe = (low for (_, low), (verdict, _) in zip(firsts, judged.at(firsts), strict=True) if verdict == "unsafe")
    return min(unsafe, default=None)


def rows(pdps_w: Sequence[int]) -> list[tuple[int, int]]:
    """The first and the last of these PDPs, rising whole watts without a gap, in each row of the power rules.

    >>> rows(range(10, 50))
    [(10, 15), (16, 27), (28, 45), (46, 49)]
    """
    if not pdps_w:
        return []
    ends = [(max(pdps_w[0], floor(row.above_w) + 1), min(pdps_w[-1], floor(row.up_to_w))) for row in ROWS]
    return [(low, high) for low, high in ends if low <= high]


def _alike(one: Found, other: Found) -> bool:
    (verdict, contract), (same, beside) = one, other
    alike = (contract.outcome, contract.kind, contract.voltage_v) == (beside.outcome, beside.kind, beside.voltage_v)
    return alike and verdict == same
