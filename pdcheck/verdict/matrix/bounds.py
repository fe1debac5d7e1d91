"""Bounds: the limits of a rig that more load can break, as plain numbers for the sums over many cells.

They are those of the rules of level ``fail`` that look at what flows; the tests hold the two against each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.verdict.case import Case

if TYPE_CHECKING:
    from pdcheck.circuit.bulk_loads import Bound
    from pdcheck.parts.rig import Branch, Rig


def source_bound_a(case: Case) -> float:
    """The most that may flow from the source [A]: as granted, by cable, connector and trigger.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger={"request": "20V", "rating": "4A"}, branch=[{"name": "lamp", "load": "10W"}])
    >>> source_bound_a(Case(rig, Source(id="s", offers="5V 3A, 20V 5A"), Cable(id="c", kind="C-C", rating="5A")))
    4.0
    """
    rated = case.rig.trigger.rating_a
    most = (case.contract.current_a, case.cable.current_a, CONTRACT_MAX.value)
    return min(most if rated is None else (*most, rated))


def branch_bounds(rig: Rig) -> list[Bound]:
    """What each branch of a rig needs and stands."""
    return [bound for branch in rig.branches for bound in _bounds(branch)]


def _bounds(branch: Branch) -> Iterator[Bound]:
    from pdcheck.circuit.bulk_loads import Bound

    entry, exit_, end = f"{branch.name}/in", f"{branch.name}/out", f"{branch.name}/load"
    converter, load = branch.converter, branch.load
    if converter is not None:
        yield Bound(entry, "voltage", converter.minimum_input_v())
        if converter.input_limit_a is not None:
            yield Bound(entry, "current", converter.input_limit_a)
        if converter.input_power_w is not None:
            yield Bound(entry, "power", converter.input_power_w)
        if converter.output_limit_a is not None:
            yield Bound(exit_, "current", converter.output_limit_a)
        if converter.power_limit_w is not None:
            yield Bound(exit_, "power", converter.power_limit_w)
    if branch.wire is not None:
        yield Bound(entry, "current", branch.wire.ampacity_a())
    if branch.lead is not None:
        yield Bound(end, "current", branch.lead.ampacity_a())
    if load.led is not None:
        yield Bound(end, "voltage", load.led.string_v + load.led.headroom_v)
    if load.voltage_v is not None:
        yield Bound(end, "voltage", load.voltage_v[0])
