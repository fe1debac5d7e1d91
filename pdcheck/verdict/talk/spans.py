"""What each branch of a rig sees while a conversation goes on: the circuit solved for every level of VBUS."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

from pdcheck.circuit.corners import OperatingTriple
from pdcheck.circuit.point import Bound
from pdcheck.contract.settle import Contract
from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import VALID_MARGIN
from pdcheck.marks import UNTOLD, passed
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import UNITS
from pdcheck.parts.rig import Branch, Rig
from pdcheck.quantities import Triple, format_quantity
from pdcheck.verdict.bounds import part_bounds
from pdcheck.verdict.case import Case
from pdcheck.verdict.cut_off import dip_at, falls_below, never_starts


class BranchView(NamedTuple):
    """One branch on one level: at its input and at its load [V], [A]; None where the circuit has no solution.

    ``text`` says what is odd, empty where nothing is.
    """

    branch: str
    input_v: Triple | None
    load_v: Triple | None
    load_a: Triple | None
    text: str


@dataclass(frozen=True)
class Span:
    """A stretch of time on one level, with the contract that stands and what the branches see."""

    segment: Annotated[Segment, UNTOLD]
    contract: Annotated[Contract, UNTOLD]
    bus_v: Triple | None
    branches: tuple[BranchView, ...]

    start_s = passed[float]("segment.start_s", "When it begins.")
    end_s = passed[float]("segment.end_s", "When it ends.")
    voltage_v = passed[float]("segment.to_v", "The level.")
    current_a = passed[float]("contract.current_a", "What may be drawn.")


def spans(rig: Rig, talk: Conversation) -> list[Span]:
    """Every stretch in which VBUS is held above zero.

    A trigger without a switch passes 5 V on before the contract; one that gives nothing for want of its voltage is
    taken to have its output off as long as that contract stands.
    """
    solved: dict[tuple[str, float, float, str], tuple[Triple | None, tuple[BranchView, ...]]] = {}
    found: list[Span] = []
    for segment in talk.voltage:
        if not segment.steady or segment.to_v <= segment.max_v / 2:
            continue
        contract = contract_at(talk, segment)
        key = (contract.kind, contract.voltage_v, contract.current_a, contract.outcome)
        if key not in solved:
            solved[key] = _solved(rig, talk, contract)
        found.append(Span(segment, contract, *solved[key]))
    return found


def contract_at(talk: Conversation, segment: Segment) -> Contract:
    """The contract that VBUS is held for; 5 V by Type-C where none stands."""
    standing = [stand.contract for stand in talk.stands if stand.time_s < segment.end_s]
    contract = standing[-1] if standing else None
    if contract is not None and (contract.outcome == "off" or contract.voltage_v == segment.to_v):
        return contract
    return Contract("type-c", "type-c", segment.to_v, segment.current_a or 0.0, None, (), False, "there is no contract")


def _solved(rig: Rig, talk: Conversation, contract: Contract) -> tuple[Triple | None, tuple[BranchView, ...]]:
    if contract.outcome == "off":
        off = tuple(BranchView(branch.name, None, None, None, "the trigger's output is off") for branch in rig.branches)
        return None, off
    case = Case(rig, talk.source, talk.cable, contract)
    point, collapse = case.point, case.collapse
    if point is None or not point.nodes:
        what = "" if collapse is None else f" at {collapse.element}"
        return None, tuple(
            BranchView(branch.name, None, None, None, f"the voltage collapses{what}") for branch in rig.branches
        )
    views: list[BranchView] = []
    for branch in rig.branches:
        name = branch.name
        notes = _past(point, part_bounds(branch))
        if name in case.off:
            reached = point.nodes[f"{name}/in"].voltage_v
            views.append(BranchView(name, reached, None, None, "does not run on this voltage"))
            continue
        if not point.collapsed and not any(note.startswith("input low") for note in notes):
            notes += _holding(case, branch)
        if collapse is not None:
            notes.append(f"in the worst case the voltage collapses at {collapse.element}")
        load = point.nodes[f"{name}/load"]
        views.append(
            BranchView(name, point.nodes[f"{name}/in"].voltage_v, load.voltage_v, load.current_a, "; ".join(notes))
        )
    return point.nodes["bus"].voltage_v, tuple(views)


def _holding(case: Case, branch: Branch) -> list[str]:
    """Where a converter cuts off or cannot start on this level: under its own load, in a dip, beside the others."""
    if case.contract.offer is None:
        return []  # before the contract that is normal
    told = never_starts(case, branch) or falls_below(case, branch)
    if told is not None:
        return [told[1]]
    lasts_s = timer("tSrcTransient").require_max()
    dip = dip_at(case, branch, case.source_v.min - VALID_MARGIN.value)
    return [dip.words(lasts_s)] if dip is not None and dip.cuts_off(lasts_s) else []


def _past(point: OperatingTriple, bounds: Iterable[tuple[str, Bound]]) -> list[str]:
    """What is past its bound at some corner, each once and at its worst."""
    found: list[str] = []
    for part, bound in bounds:
        values = [bound.value(*each.nodes[bound.node]) for each in point.points.values()]
        worst = max(values) if bound.sense == "at_most" else min(values)
        if not bound.holds(worst):
            what = ("high" if bound.sense == "at_most" else "low") if bound.quantity == "voltage" else bound.quantity
            value = format_quantity(worst, UNITS[bound.quantity], 3, beside=bound.limit)
            limit = format_quantity(bound.limit, UNITS[bound.quantity], 3, beside=worst)
            found.append(f"{part.removeprefix('converter ')} {what}: {value} (limit {limit})")
    return found
