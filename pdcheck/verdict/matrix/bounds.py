"""Bounds: the limits of a rig that more load can break, as plain numbers for the sums of the circuit.

They are those of the rules of level ``fail`` that look at what flows; the tests hold the two against each other.
"""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.circuit.bound import Bound
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.parts.rig import Branch, Rig
from pdcheck.verdict.case import Case


def source_bound_a(case: Case) -> float:
    """The most that may flow from the source [A]: as granted, by cable, connector and trigger.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger={"request": "20V", "rating": "4A"}, branch=[{"name": "lamp", "load": "10W"}])
    >>> source_bound_a(Case(rig, Source(id="s", offers="5V 3A, 20V 5A"), Cable(id="c", kind="C-C", rating="5A")))
    4.0
    """
    return min(CONTRACT_MAX.value, *(bound.limit for _, bound in _way_bounds(case)))


def _way_bounds(case: Case) -> Iterator[tuple[str, Bound]]:
    """What the source and all that lies before the bus may carry, by the name of the part."""
    yield "source", Bound("source", "current", "at_most", case.contract.current_a)
    yield "cable", Bound("source", "current", "at_most", case.cable.current_a)
    if case.rig.trigger.rating_a is not None:
        yield "trigger", Bound("source", "current", "at_most", case.rig.trigger.rating_a)


def branch_bounds(rig: Rig) -> list[Bound]:
    """What each branch of a rig needs and stands."""
    return [bound for branch in rig.branches for _, bound in part_bounds(branch)]


def output_bounds(case: Case, branch: Branch, output_v: float | None) -> list[tuple[str, Bound]]:
    """What bounds the output of one branch set to a voltage [V], by the name of the part, from source to load."""
    return [*_way_bounds(case), *(each for each in part_bounds(branch, output_v) if each[0] != "load")]


def part_bounds(branch: Branch, output_v: float | None = None) -> Iterator[tuple[str, Bound]]:
    """What a branch, its output set to a voltage [V], needs and stands, by the name of the part."""
    entry, exit_, end = f"{branch.name}/in", f"{branch.name}/out", f"{branch.name}/load"
    converter, load = branch.converter, branch.load
    if branch.wire is not None:
        yield "wire", Bound(entry, "current", "at_most", branch.wire.ampacity_a())
    if converter is not None:
        if converter.input_limit_a is not None:
            yield "converter input", Bound(entry, "current", "at_most", converter.input_limit_a)
        if converter.input_power_w is not None:
            yield "converter input", Bound(entry, "power", "at_most", converter.input_power_w)
        yield "converter input", Bound(entry, "voltage", "at_least", converter.minimum_input_v(output_v))
        most_v = converter.maximum_input_v(output_v)
        if most_v is not None:
            yield "converter input", Bound(entry, "voltage", "at_most", most_v)
        if converter.output_limit_a is not None:
            yield "converter output", Bound(exit_, "current", "at_most", converter.output_limit_a)
        if converter.power_limit_w is not None:
            yield "converter output", Bound(exit_, "power", "at_most", converter.power_limit_w)
    if branch.lead is not None:
        yield "lead", Bound(end, "current", "at_most", branch.lead.ampacity_a())
    if load.needs_v:
        yield "load", Bound(end, "voltage", "at_least", load.needs_v)
    if load.voltage_v is not None:
        yield "load", Bound(end, "voltage", "at_least", load.voltage_v[0])
