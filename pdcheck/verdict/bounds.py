"""Bounds: the limits of parts that more load can break, as the sums of the circuit take them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import cast

from pdcheck.circuit.point import Bound
from pdcheck.parts.limits import PartLimit, Quantity, Sense
from pdcheck.parts.rig import Branch, Rig
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE

Where = tuple[str, Quantity, Sense]
"""What a bound bounds: node, quantity and sense."""
_NONE = {"at_most": 1e30, "at_least": -1e30}
"""The figure of a circuit without a limit that others have: out of reach, and no infinity, to divide by."""


def shared_bounds(case: Case) -> tuple[Bound, ...]:
    """What all branches share needs and carries: source, cable, connector, trigger and bus; the tightest of each kind.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger={"request": "20V", "rating": "4A"}, branch=[{"name": "lamp", "load": "10W"}])
    >>> shared_bounds(Case(rig, Source(id="s", offers="5V 3A, 20V 5A"), Cable(id="c", kind="C-C", rating="5A")))
    (Bound(node='source', quantity='current', sense='at_most', limit=4.0),)
    """
    found: dict[Where, float] = {}
    for limit, bound in _bounds(case.limits):
        if limit.branch:
            continue
        # What flows from the source is what flows into the bus.
        node = "source" if bound.quantity == "current" and bound.node == "bus" else bound.node
        where = (node, bound.quantity, bound.sense)
        tighter = min if bound.sense == "at_most" else max
        found[where] = tighter(bound.limit, found.get(where, bound.limit))
    return tuple(Bound(*where, limit) for where, limit in found.items())


def of_many(bounds: Sequence[tuple[Bound, ...]]) -> list[Bound]:
    """The shared bounds of many circuits, each with one figure for each circuit: out of reach where it has none there.

    >>> import numpy as np
    >>> some = Bound("source", "current", "at_most", 3.0), Bound("bus", "power", "at_most", 22.0)
    >>> [(each.node, np.asarray(each.limit).tolist()) for each in of_many([some, some[:1]])]
    [('source', [3.0, 3.0]), ('bus', [22.0, 1e+30])]
    """
    import numpy as np  # what looks at one circuit alone needs none

    kinds = dict.fromkeys(each[:3] for those in bounds for each in those)
    limits = [{each[:3]: each.limit for each in those} for those in bounds]
    # One figure for each circuit; a bound is annotated for one.
    return [Bound(*kind, cast(float, np.array([each.get(kind, _NONE[kind[2]]) for each in limits]))) for kind in kinds]


def branch_bounds(rig: Rig) -> list[Bound]:
    """What each branch of a rig needs and carries.

    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": {"current": "1A", "voltage": "8V-12V"}}])
    >>> branch_bounds(rig)
    [Bound(node='fan/load', quantity='voltage', sense='at_least', limit=8.0)]
    """
    listed = chain(*(branch.limits() for branch in rig.branches), rig.warm_limits())
    return [bound for _, bound in _bounds(listed)]


def part_bounds(branch: Branch) -> list[tuple[str, Bound]]:
    """What one branch needs and carries, by the name of the part."""
    return [(limit.part, bound) for limit, bound in _bounds(branch.limits())]


def output_bounds(case: Case, branch: Branch, output_v: float | None) -> list[tuple[str, Bound]]:
    """What bounds the output of one branch set to a voltage [V], by the name of the part, from source to load.

    Its own load is left out of account; the other branches run, and keep their own limits.
    """
    own = branch
    if branch.converter is not None and output_v is not None:
        own = branch.model_copy(update={"converter": branch.converter.with_output(output_v)})
    listed = [limit for limit in case.limits if limit.branch != branch.name]
    listed += [limit for limit in own.limits() if limit.part != "load"]
    if case.rig.states_heat:
        listed += own.warm_limits()
    return [
        (limit.part if limit.branch in ("", branch.name) else f"{limit.branch} {limit.part}", bound)
        for limit, bound in _bounds(listed, inputs_of=branch.name)
    ]


def _bounds(limits: Iterable[PartLimit], inputs_of: str = "") -> Iterator[tuple[PartLimit, Bound]]:
    """The grave limits on what flows; of one branch also what its converter's input stands."""
    for limit in limits:
        flows = limit.state == "loaded" or (limit.state == "unloaded" and limit.node == f"{inputs_of}/in")
        if flows and limit.limit is not None and limit.rule.level in GRAVE and not limit.rule.as_stated:
            yield limit, Bound(limit.node, limit.quantity, limit.sense, limit.limit)
