"""Bounds: the limits of parts that more load can break, as the sums of the circuit take them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from pdcheck.circuit.bound import Bound
from pdcheck.parts.limits import PartLimit
from pdcheck.parts.rig import Branch, Rig
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE


def source_bound_a(case: Case) -> float:
    """The most that may flow from the source [A]: as granted, by cable, connector and trigger.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger={"request": "20V", "rating": "4A"}, branch=[{"name": "lamp", "load": "10W"}])
    >>> source_bound_a(Case(rig, Source(id="s", offers="5V 3A, 20V 5A"), Cable(id="c", kind="C-C", rating="5A")))
    4.0
    """
    return min(bound.limit for limit, bound in _bounds(case.limits) if not limit.branch)


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
