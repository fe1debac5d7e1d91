"""Positions: cases whose circuits differ in figures alone, solved together on arrays, and judged one by one."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import cached_property

import numpy as np

from pdcheck.circuit.corners import NetworkSpec
from pdcheck.circuit.from_rig import branch_specs
from pdcheck.circuit.plug_in import Input, Trouble
from pdcheck.circuit.startup import Latch
from pdcheck.parts.loads.load import of_many
from pdcheck.verdict.case import Case
from pdcheck.verdict.matrix.cell_case import CellCase, Circuit, SolvedTogether, spec_of


class Position(CellCase):
    """A case with a place among circuits that were solved together.

    What these tell of it is as any case says; where they tell that something goes wrong, what it is, is asked of the
    case itself.
    """

    def __init__(self, case: Case, solved: SolvedTogether, at: int) -> None:
        super().__init__(case, case.cable, solved, at)
        self.limits_by_rule = case.limits_by_rule
        self._case = case

    def latches(self) -> tuple[Latch, ...]:
        """As any case."""
        return self._case.latches() if super().latches() else ()

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        """As any case; with more current than is sure there is no trouble that there is not with what is sure."""
        sure = super().trouble_before(limit_a, every=every) is None and limit_a >= (self.before_a or 0.0)
        return None if sure else self._case.trouble_before(limit_a, every=every)

    @cached_property
    def _on_contract(self) -> Trouble | None:
        return None if super().trouble_on_contract() is None else self._case.trouble_on_contract()

    def trouble_on_contract(self) -> Trouble | None:
        """As any case; two rules ask for it."""
        return self._on_contract

    def running_inputs(self) -> tuple[Input, ...]:
        """As any case."""
        return self._case.running_inputs() if super().running_inputs() else ()


def solved_together(cases: Sequence[Case]) -> list[Case]:
    """The same cases, of one rig with each branch there or not and any load on it, their circuits solved.

    A case of which some corner has no operating point is left as it is, and so is one without power.
    """
    found = list(cases)
    groups: dict[Hashable, list[int]] = {}
    circuits = [_circuit(case) for case in cases]
    for at, (case, circuit) in enumerate(zip(cases, circuits, strict=True)):
        if case.contract.outcome != "off":
            groups.setdefault(_alike(case, circuit), []).append(at)
    # Far past any load, and on a tangent, slopes are poles; what has no solution is NaN.
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        for places in groups.values():
            some = [circuits[at] for at in places]
            first = cases[places[0]]
            spec = spec_of(some, _spec([cases[at] for at in places]))
            solved = SolvedTogether(spec, first.off, some, first.starts)
            for place, at in enumerate(places):
                if not solved.collapsed[place]:
                    found[at] = Position(cases[at], solved, place)
    return found


def _circuit(case: Case) -> Circuit:
    contract = case.contract
    held = float("inf") if contract.holds_a is None else contract.holds_a
    return Circuit(case.source_v, case.cable.loop_ohm()[0], held, 0, case.off, case.before_a or 0.0, contract.current_a)


def _alike(case: Case, circuit: Circuit) -> Hashable:
    """Cases that agree in this can be solved together; a source that holds its current is followed load by load."""
    rig = case.rig
    loads = [branch.load for branch in rig.branches]
    apart = circuit.limit_a < float("inf") or any(load.changes for load in loads)
    return (
        tuple((branch.name, id(loads[at]) if apart else 0) for at, branch in enumerate(rig.branches)),
        circuit.group, circuit.ranged, id(case.starts), case.cable.current_a if rig.states_heat else None,
    )  # fmt: skip


def _spec(cases: Sequence[Case]) -> NetworkSpec:
    """The circuits of a group as one, with arrays for what their loads differ in."""
    spec, branches = cases[0].spec, []
    listed = [branch_specs(case.rig, case.contract.voltage_v) for case in cases]
    for at, branch in enumerate(spec.branches):
        known: dict[int, int] = {}
        places = [known.setdefault(id(each[at].load), len(known)) for each in listed]
        different = [each[at].load for each, place in zip(listed, places, strict=True)]
        loads = [different[places.index(place)] for place in range(len(known))]
        branches.append(branch._replace(load=of_many(loads, places)))
    return spec._replace(branches=tuple(branches))
