"""Positions: cases whose circuits differ in figures alone, solved together on arrays, and judged one by one."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import cached_property
from typing import Any, cast

import numpy as np

from pdcheck.circuit.cells import CellTriples
from pdcheck.circuit.corners import BranchSpec, NetworkSpec
from pdcheck.circuit.from_rig import branch_specs
from pdcheck.circuit.plug_in import Trouble
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import PartLimit
from pdcheck.parts.loads.load import of_many
from pdcheck.physics.number import Number
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case, by_rule
from pdcheck.verdict.matrix.cell_case import Circuit, SolvedCase, SolvedTogether, spec_of
from pdcheck.verdict.rules.every import RIG_RULES


class Position(SolvedCase):
    """A case with a place among circuits that were solved together: what these tell of it is as any case says."""

    def __init__(self, case: Case, solved: SolvedTogether, at: int) -> None:
        super().__init__(case, case.cable, solved, at)
        self.feed, self._case = case.feed, case

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        """As any case; what holds on the least current that a rule counts on holds on any."""
        return self._case.trouble_before(limit_a, every=every) if self.solved.breaks_down[every][self.at] else None

    @cached_property
    def _on_contract(self) -> Trouble | None:
        some = self.solved.pulled[self.at] or self.solved.never[self.at]
        return self._case.trouble_on_contract() if some else None

    def trouble_on_contract(self) -> Trouble | None:
        """As any case; two rules ask for it."""
        return self._on_contract


def solved_together(cases: Sequence[Case]) -> list[Case]:
    """The same cases, of one rig with each branch there or not and any load on it, their circuits solved.

    A case of which some corner has no operating point is left as it is, and so is one without power.
    """
    found = list(cases)
    groups: dict[Hashable, list[int]] = {}
    known: dict[int, _Bound] = {}
    circuits = _circuits(cases)
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
            many = _Many([cases[at] for at in places], solved.told, spec)
            asked, silent = _in_question([cases[at] for at in places], many, known), _silent(many, solved)
            for place, at in enumerate(places):
                if not solved.collapsed[place]:
                    found[at] = position = Position(cases[at], solved, place)
                    position.limits_by_rule, position.silent = by_rule(asked[place]), silent[place]
    return found


class _Many(Case):
    """The circuits of a group as one case, whose figures are arrays: as much of it as is looked at before a rule."""

    def __init__(self, cases: Sequence[Case], told: CellTriples, spec: NetworkSpec) -> None:
        case = cases[0]
        super().__init__(case.rig, case.source, case.cable, case.contract)
        self._told, self.off, self.starts = told, case.off, case.starts
        self.source_v, self.series_ohm = spec.source_v, sum(ohm.typ for _, ohm in spec.series)
        self.feed = cast(Any, tuple(np.array([each.feed for each in cases]).T))

    def node_voltage(self, node: str) -> Triple | None:
        return Triple(*self._told.nodes[node].voltage_v) if node in self._told.nodes else None

    def node_current(self, node: str) -> Triple | None:
        return Triple(*self._told.nodes[node].current_a) if node in self._told.nodes else None

    def typical_loss(self, part: str) -> Number | None:
        return self._told.typical[0].get(part)

    def greatest_drop(self, start: str, end: str) -> tuple[Number, Number]:
        return self._told.drops[start, end]

    def greatest_power(self, node: str) -> Number:
        ends = self._told.nodes[node]
        return self._told.most_w.get(node, ends.voltage_v[2] * ends.current_a[2])


_MAY = {rule.id: rule.may for rule in RIG_RULES if rule.may is not None}
"""What tells on arrays where a rule on the circuit may have something to say."""


def _silent(many: Case, solved: SolvedTogether) -> list[frozenset[str]]:
    """Of each of some cases solved together the rules that surely find nothing."""
    told, count = solved.told, len(solved.collapsed)
    starting = np.array([solved.pulled, solved.never])
    may = {name: tell(many) for name, tell in _MAY.items()} | {
        "bus-collapse": told.collapsed,
        "pps-current-limit": ~np.isnan(told.held_v),
        "start-latch": np.array(solved.latched),
        "start-overload": np.vstack([starting, *map(np.array, solved.breaks_down.values())]).any(axis=0),
        "start-blocked": starting.any(axis=0),
        "input-swings": np.array(solved.swings),
    }
    names = list(may)
    silent = ~np.array([np.broadcast_to(each, count) for each in may.values()])
    known: dict[bytes, frozenset[str]] = {}
    return [
        known.setdefault(row.tobytes(), frozenset(name for name, says in zip(names, row, strict=True) if says))
        for row in silent.T
    ]


def _in_question(cases: Sequence[Case], many: Case, known: dict[int, _Bound]) -> list[list[PartLimit]]:
    """Of each of some cases solved together those limits on what flows that are not kept, or only just.

    Of what is not looked at on arrays, a branch that is off, a limit that does not hang on what flows, all are left.
    """
    off = cases[0].off
    found: list[list[PartLimit]] = [[] for _ in cases]
    alike: dict[Hashable, list[tuple[int, _Bound]]] = {}
    for place, case in enumerate(cases):
        for limit in case.known_limits:
            bound = known.get(id(limit)) or known.setdefault(id(limit), _bound(limit))
            if bound.kind is None or limit.branch in off:
                found[place].append(limit)
            else:
                alike.setdefault(bound.kind, []).append((place, bound))
    for listed in alike.values():
        first = listed[0][1].limit
        values = many.reached(first)
        if values is not None:
            places, bounds = np.array([(place, bound.value) for place, bound in listed]).T
            past = first.past(cast(Any, values)[places.astype(int)], cast(Any, bounds))
            for index in np.flatnonzero(past):
                found[listed[index][0]].append(listed[index][1].limit)
    return found


class _Bound(NamedTuple):
    """From where on a limit is not kept, or only just; those of one ``kind`` hold for one figure, None for none."""

    limit: PartLimit
    kind: Hashable
    value: float


def _bound(limit: PartLimit) -> _Bound:
    figures = [figure for figure in (limit.limit, limit.near if limit.rule.near else None) if figure is not None]
    looked = limit.state in ("loaded", "starting")
    kind = (limit.node, limit.quantity, limit.sense, limit.state) if looked else None
    return _Bound(limit, kind, min(figures) if limit.sense == "at_most" else max(figures))


def _least_a(case: Case) -> float:
    """The least current [A] that a rule counts on at 5 V before the contract, 0 where there is none."""
    return 0.0 if case.before_a is None else min(case.before_a, case.seen.typec_a)


def _circuits(cases: Sequence[Case]) -> list[Circuit]:
    # Most differ in their loads alone, which are no part of it.
    known: dict[Hashable, Circuit] = {}
    found = []
    for case in cases:
        key = (id(case.source), id(case.cable), id(case.contract), case.off)
        circuit = known.get(key)
        if circuit is None:
            contract = case.contract
            held = float("inf") if contract.holds_a is None else contract.holds_a
            given = (case.source_v, case.cable.resistance, held, 0, case.off)
            circuit = known[key] = Circuit(*given, _least_a(case), contract.current_a)
        found.append(circuit)
    return found


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
    made: dict[tuple[int, float], tuple[BranchSpec, ...]] = {}
    listed = []
    for case in cases:
        key = (id(case.rig), case.contract.voltage_v)
        listed.append(made.get(key) or made.setdefault(key, branch_specs(case.rig, case.contract.voltage_v)))
    for at, branch in enumerate(spec.branches):
        known: dict[int, int] = {}
        places = [known.setdefault(id(each[at].load), len(known)) for each in listed]
        different = [each[at].load for each, place in zip(listed, places, strict=True)]
        loads = [different[places.index(place)] for place in range(len(known))]
        branches.append(branch._replace(load=of_many(loads, places)))
    return spec._replace(branches=tuple(branches))
