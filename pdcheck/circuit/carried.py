"""How much load many circuits can carry, each its own factor: the loads of one set of branches scaled one by one.

The loads of a circuit are scaled together until something passes its limit at some corner. More load only ever makes
things worse, so a bisection of all open circuits in step finds where, corner by corner: what holds at the worst one is
mostly only confirmed at the others.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.cells import Bools, Floats
from pdcheck.circuit.corners import EXACT, NetworkSpec, agreement, networks
from pdcheck.circuit.network import Network
from pdcheck.circuit.point import Bound, Met, Node, is_warm, nodes_of
from pdcheck.circuit.warm import settled
from pdcheck.named import NamedTuple
from pdcheck.physics.number import taken

_NEXT_TO_NOTHING = 1e-6
_RESOLUTION = 1e-7
_FAR = 1e9

Cells = NDArray[np.intp]
Places = NDArray[np.intp]
Holds = Callable[[Cells, Floats], Bools]
"""Whether each of some circuits, by index, holds with its loads scaled by a factor."""
_Meets = Callable[[Cells, Floats], tuple[Places, Floats]]
"""What each of some circuits meets with its loads scaled by a factor: its place, or -1; and how far it is from it, NaN
where nobody can say."""


class Carried(NamedTuple):
    """By circuit: the greatest factor on the stated loads, and what the loads take then [W], the least of the corners.

    Both are 0 where even next to no load is too much. ``first`` is what is met just beyond: of several bounds the one
    that comes first in their order, ``also`` where it is what was asked beside them.
    """

    factor: Floats
    load_w: Floats
    first: list[Met | Literal["also"]]


# Far past any load the slope of a constant power is a pole, and of no account.
@np.errstate(over="ignore", divide="ignore", invalid="ignore")
def greatest_factors(spec: NetworkSpec, bounds: Sequence[Bound], also: Holds | None = None) -> Carried:
    """The greatest factor on the loads of each circuit at which every bound is kept at every corner.

    Args:
        spec: branches and tolerances; ``source_v`` is of arrays, with one figure for each circuit.
        bounds: limits on any nodes, in the order in which they are named where several are met at once. A source that
            holds its current is past its limit where it does.
        also: whether circuits (by index) hold with factors on their loads, by something beside the bounds.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.parts.loads import Load
    >>> from pdcheck.quantities import Triple
    >>> series = (("cable", Triple.exact(0.2)),)
    >>> spec = NetworkSpec(Triple.exact(20.0), (BranchSpec("lamp", Load("10W")),), series=series)
    >>> found = greatest_factors(spec, [Bound("source", "current", "at_most", 3.0)])
    >>> found.factor.round(2).tolist(), found.first[0].node
    ([5.82], 'source')
    """
    kept = list(bounds)
    if spec.holds_a is not None:
        kept.insert(0, Bound("source", "current", "at_most", spec.holds_a))
    spec = spec._replace(holds_a=None)
    at_corners = sorted(networks(spec), key=lambda each: -agreement(each[0]))
    meets: list[_Meets] = [LoadedCells(network, kept).met for _, network in at_corners]
    if also is not None:
        meets.append(_meets_also(also, len(kept) + 1))
    count = np.asarray(spec.source_v.typ).size
    alive, met = np.arange(count), np.full(count, -1, dtype=np.intp)
    for each in meets:
        met[alive], _ = each(alive, np.full(alive.shape, _NEXT_TO_NOTHING))
        alive = alive[met[alive] < 0]
    reached, load_w = np.zeros(count), np.zeros(count)
    reached[alive], met[alive] = _greatest(meets, alive)
    if alive.size:
        load_w[alive] = _least_load_w(spec, alive, reached[alive])
    names: list[Met | Literal["also"]] = [*kept, "collapse", "also", "nothing"]
    return Carried(reached, load_w, [names[place] for place in met.tolist()])


def _meets_also(also: Holds, place: int) -> _Meets:
    return lambda cells, factor: (np.where(also(cells, factor), -1, place), np.full(cells.shape, np.nan))


def _least_load_w(spec: NetworkSpec, cells: Cells, factor: Floats) -> Floats:
    least = np.full(cells.shape, np.inf)
    for _, network in networks(spec._replace(load=EXACT)):
        np.fmin(least, LoadedCells(network).load_w(cells, factor), out=least)
    return np.where(np.isinf(least), 0.0, least)


def _greatest(meets: Sequence[_Meets], cells: Cells) -> tuple[Floats, Places]:
    """The greatest factor of each of these circuits, which hold with next to no load, and what they meet beyond it."""
    best, met = np.full(cells.shape, 2.0 * _FAR), np.full(cells.shape, -1, dtype=np.intp)
    for each in meets:
        # Only where this corner is the harder one does it need a search of its own.
        beyond, _ = each(cells, best)
        past = np.flatnonzero(beyond >= 0)
        if past.size:
            best[past], met[past] = _greatest_of(each, cells[past], best[past], beyond[past])
    return best, met


def _greatest_of(meets: _Meets, cells: Cells, high: Floats, met: Places) -> tuple[Floats, Places]:
    """The greatest factor below ``high``, where something is met: doubled or halved to a bracket, then narrowed down.

    Narrowed by Chandrupatla's method: inverse quadratic interpolation where the last three margins allow it, else
    bisection [T. R. Chandrupatla, Advances in Engineering Software 28 (1997), from memory].
    """
    low, tried = np.full(cells.shape, _NEXT_TO_NOTHING), np.minimum(1.0, high)
    # Margins at both ends of the bracket, and the point before with its own; NaN where there is none.
    at_low, at_high, third, at_third = (np.full(cells.shape, np.nan) for _ in range(4))
    left = np.arange(cells.size)
    while left.size:
        x = tried[left]
        found, margin = meets(cells[left], x)
        held = found < 0
        lower, upper = left[held], left[~held]
        third[lower], at_third[lower] = low[lower], at_low[lower]
        third[upper], at_third[upper] = high[upper], at_high[upper]
        low[lower], at_low[lower] = x[held], margin[held]
        high[upper], at_high[upper], met[upper] = x[~held], margin[~held], found[~held]
        lowest, highest = low[left], high[left]
        wider = np.where(held, np.minimum(2.0 * x, highest), np.sqrt(lowest * highest))
        between = _between(lowest, highest, third[left], at_low[left], at_high[left], at_third[left])
        tried[left] = np.where(highest <= 2.0 * lowest, between, wider)
        left = left[(highest - lowest > _RESOLUTION * highest) & (lowest < _FAR)]
    return low, met


def _between(low: Floats, high: Floats, third: Floats, at_low: Floats, at_high: Floats, at_third: Floats) -> Floats:
    """The next point to try of each bracket: by interpolation of the margins there and at a third point, or halfway."""
    # The near end is on the side of the third point; with it on the other side, all is the same with the ends swapped.
    beyond = third < low
    near, far, at_near, at_far = (
        np.where(beyond, one, other) for one, other in ((low, high), (high, low), (at_low, at_high), (at_high, at_low))
    )
    part, rise = (near - far) / (third - far), (at_near - at_far) / (at_third - at_far)
    smooth = (rise * rise < part) & ((1.0 - rise) * (1.0 - rise) < 1.0 - part)
    along = at_near / (at_far - at_near) * at_third / (at_far - at_third)
    along += (third - near) / (far - near) * at_near / (at_third - at_near) * at_far / (at_third - at_far)
    share = np.where(smooth & np.isfinite(along), along, 0.5)
    least = 0.4 * _RESOLUTION * high / (high - low)
    there: Floats = near + np.clip(share, least, np.maximum(1.0 - least, least)) * (far - near)
    return there


class LoadedCells:
    """Many circuits at one corner, with any factor on each one's loads."""

    def __init__(self, network: Network, bounds: Sequence[Bound] = ()) -> None:
        # What is just switched on has no temperature to hold against anything: such a bound is kept there.
        self.network = network
        self.bounds = [each if network.heat or not is_warm(each.node) else None for each in bounds]

    def demanding(self, cells: Cells, factor: Floats) -> Network:
        """Some of the circuits, by index, with their loads asking for as many times as much."""
        network = self.network
        source, series = taken((network.source, network.series), cells)
        return network._replace(source=source, series=series).demanding(factor)

    def _nodes(self, cells: Cells, factor: Floats) -> dict[str, Node]:
        network = self.demanding(cells, factor)
        return nodes_of(*settled(network))

    def met(self, cells: Cells, factor: Floats) -> tuple[Places, Floats]:
        """The place of the first bound that each of these circuits does not keep, that after the last of them where
        it collapses, -1 where it holds; and the least margin to any bound, NaN where it collapses."""
        nodes = self._nodes(cells, factor)
        last = len(self.bounds)
        found, margin = np.full(cells.shape, -1), np.full(cells.shape, np.inf)
        for place in reversed(range(last)):
            bound = self.bounds[place]
            if bound is None:
                continue
            here = bound._replace(limit=taken(bound.limit, cells)).margin(bound.value(*nodes[bound.node]))
            found, margin = np.where(here >= 0.0, found, place), np.minimum(margin, here)
        fails = np.isnan(nodes["bus"].voltage_v)
        return np.where(fails, last, found), np.where(fails, np.nan, margin)

    def load_w(self, cells: Cells, factor: Floats) -> Floats:
        """What all loads of each of these circuits take [W]; NaN where there is no operating point."""
        nodes = self._nodes(cells, factor)
        total = np.asarray(0.0 * nodes["bus"].voltage_v)
        for branch in self.network.branches:
            volts, amperes = nodes[f"{branch.name}/load"]
            total = total + volts * amperes
        return total
