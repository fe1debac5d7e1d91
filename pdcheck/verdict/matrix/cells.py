"""Cells: one rig judged on many pairs of source and cable, with the answers of ``judge`` and ``greatest_load``.

Every rule is asked, but only once for what it looks at: a source, a cable, a contract, a circuit. All circuits are
solved on arrays, and the greatest loads are found on arrays.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Sequence
from typing import cast

import numpy as np

from pdcheck.circuit.carried import Cells, greatest_factors
from pdcheck.circuit.cells import Bools, Floats
from pdcheck.circuit.corners import EXACT, NetworkSpec
from pdcheck.circuit.from_rig import network_spec
from pdcheck.circuit.plug_in import Start, starts_of
from pdcheck.circuit.point import Bound
from pdcheck.contract.available import Available, available
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import PartLimit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.parts.store import sleeps_below
from pdcheck.parts.trigger import Trigger
from pdcheck.quantities import Triple
from pdcheck.verdict.bounds import branch_bounds, of_many, shared_bounds
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, VERDICTS, Scope, Verdict
from pdcheck.verdict.gravest import LIMITS, NOTHING, Graded, Gravest, graded, gravest
from pdcheck.verdict.matrix.cell_case import CellCase, Circuit, SolvedTogether, latched, plugged_in, spec_of
from pdcheck.verdict.not_judged import open_places, place_of, rig_at_worst, rigs_at_worst
from pdcheck.verdict.rules.every import RIG_RULES

_NOTE = LEVELS.index("note")
_FAIL = LEVELS.index("fail")
_RULES_STOP = any(rule.level == "stop" and rule.scope == "circuit" and rule.id not in LIMITS for rule in RIG_RULES)
# More than rounding adds to any power.
_ROUNDED = 1.0 + 1e-6
# Up to so many cells it takes longer to solve them apart than to solve a corner twice.
_FEW = 100
# What is solved or judged and kept for the next pairs that come.
_MOST_KEPT = 2000


Pair = tuple[Source, Cable]


class Outcome(NamedTuple):
    """The judgement of one pair: verdict, the rule that decides it (None where nothing does), greatest load.

    ``max_w`` [W] is what the rig's loads can have at the worst corner before anything fails; 0 where that is nothing.
    ``not_judged`` counts the figures that nobody states and that the verdict depends on.
    """

    verdict: Verdict
    rule: str | None
    max_w: float
    not_judged: int = 0


class Shared:
    """What is the same for every rig: what is found on a source or a cable alone, and what a source offers over it."""

    def __init__(self) -> None:
        self._gravest: dict[int, tuple[Source | Cable, Gravest]] = {}
        self._seen: dict[Hashable, tuple[Source, Available]] = {}
        self._contracts: dict[Hashable, tuple[Source, Contract]] = {}
        self.kinds: list[Kind] = []
        self._kinds_by_wires: dict[Hashable, list[int]] = {}
        self._solved: dict[Circuit, tuple[SolvedTogether, int]] = {}

    def alone(self, rig: Rig, source: Source, cable: Cable) -> Gravest:
        """The gravest finding on the source or the cable alone."""
        best = NOTHING
        # By identity, which holds as long as the part is kept beside its answer: ids repeat where cables are fixed.
        parts: tuple[tuple[Scope, Source | Cable], ...] = (("source", source), ("cable", cable))
        for scope, part in parts:
            known = self._gravest.get(id(part))
            if known is None:
                known = self._gravest[id(part)] = (part, gravest(scope, Case(rig, source, cable)))
            best = min(best, known[1])
        return best

    def seen(self, source: Source, cable: Cable) -> Available:
        """What the source offers over the cable."""
        key = (id(source), _class_of(cable))
        known = self._seen.get(key)
        if known is None:
            known = self._seen[key] = (source, available(source, cable))
        return known[1]

    def contract(self, trigger: Trigger, source: Source, cable: Cable) -> Contract:
        """What the trigger ends up with on the source and cable."""
        key = (id(source), _class_of(cable), trigger.request, trigger.fallback)
        known = self._contracts.get(key)
        if known is None:
            contract = settle_on(trigger.request, trigger.fallback, self.seen(source, cable))
            known = self._contracts[key] = (source, contract)
        return known[1]

    def kind(self, spec: NetworkSpec, starts: tuple[Start, ...]) -> int:
        """The place of a kind of circuit, the same for rigs that do not differ in what is behind the trigger."""
        kind = Kind(spec._replace(source_v=EXACT, holds_a=None), starts)
        # Parts take their time to compare: only with what has the same wires.
        likely = self._kinds_by_wires.setdefault(tuple((each.name, each.wire, each.lead) for each in spec.branches), [])
        known = next((at for at in likely if self.kinds[at] == kind), None)
        if known is None:
            known = len(self.kinds)
            self.kinds.append(kind)
            likely.append(known)
        return known

    def solved(self, circuits: Collection[Circuit]) -> list[tuple[SolvedTogether, int]]:
        """Circuits of one group, each with its place among those that it was solved with; none is solved twice."""
        if len(self._solved) > _MOST_KEPT:
            self._solved.clear()
        fresh = [each for each in circuits if each not in self._solved]
        if fresh:
            spec, starts = self.kinds[fresh[0].kind]
            together = SolvedTogether(spec_of(fresh, spec), fresh[0].off, fresh, starts)
            self._solved |= {circuit: (together, at) for at, circuit in enumerate(fresh)}
        return [self._solved[each] for each in circuits]


class Kind(NamedTuple):
    """What circuits have in common that may be solved together: branches with their tolerances, and how these start."""

    spec: NetworkSpec
    starts: tuple[Start, ...]


def _class_of(cable: Cable) -> Hashable:
    """All of a cable that is not its loop resistance: cables that agree in it get the same contract."""
    return cable.current_a, cable.voltage_v, cable.pd, cable.is_epr


def _may_break(case: Case, limit: PartLimit) -> bool:
    """Whether a circuit that is not solved yet could break a limit: a load takes its most at the most voltage."""
    load = next((branch.load for branch in case.rig.branches if branch.name == limit.branch), None)
    on_load = (limit.node, limit.quantity, limit.sense) == (f"{limit.branch}/load", "power", "at_most")
    if load is None or not load.grows_with_voltage or not on_load:
        return True
    volts = case.unloaded_v(limit.node)
    amperes = load.at_peak().tolerance(1.0 + case.rig.tolerance.load).current_at(volts)
    return amperes is None or limit.broken(_ROUNDED * volts * amperes)


class _Limits(NamedTuple):
    """The limits on a contract, those of which the figure is known, and what these lead to on supply and circuit."""

    every: tuple[PartLimit, ...]
    known: tuple[PartLimit, ...]
    supply: list[Graded]
    circuit: list[Graded]


class _Supply(NamedTuple):
    """What comes over a cable whatever its loop resistance: a case of it, the gravest finding on it, what bounds all
    branches together, and the limits on what flows."""

    case: Case
    found: Gravest
    shared: tuple[Bound, ...]
    limits: list[Graded]


class _Cell(NamedTuple):
    """A cell as its circuit's rules see it: pairs of source and cable that agree in it are judged once."""

    supply: int
    cable: Triple


class _Judged(NamedTuple):
    """What is found on supply and circuit, the greatest load [W], and where each unknown limit could lead at worst."""

    found: Gravest
    load_w: float = 0.0
    open: tuple[int, ...] = ()


class RigCells:
    """One rig, judged on as many pairs as come.

    ``shared`` may be handed from rig to rig. Without ``loads`` neither the greatest load is looked for nor what was not
    judged: both are 0.
    """

    def __init__(self, rig: Rig, shared: Shared | None = None, *, loads: bool = True) -> None:
        self.rig = rig
        self._at_worst: list[RigCells] = []
        self._moments: list[RigCells] = []
        self._together: RigCells | None = None
        if loads:
            self._at_worst, self._moments = (
                [RigCells(each, shared, loads=False) for each in listed] for listed in rigs_at_worst(rig)
            )
        if len(self._at_worst) > 1:
            self._together = RigCells(rig_at_worst(rig), shared, loads=False)
        self.shared = shared or Shared()
        self.loads = loads
        self._begun = starts_of(rig, rig.design_v or SAFE_5V.require_max())
        self._draws_at_5v = any(start.start_v <= SAFE_5V.require_max() for start in self._begun)
        self._charges = any(start.charge_a or start.factor != 1.0 for start in self._begun)
        self._by_voltage: dict[float, int] = {}
        self._supplies: list[_Supply] = []
        self._by_pair: dict[tuple[int, Hashable], int] = {}
        self._alike: dict[Hashable, int] = {}
        self._limits: dict[Hashable, _Limits] = {}
        self._unsafe: dict[int, bool] = {}
        self._judged: dict[_Cell, _Judged] = {}

    def outcomes(self, pairs: Iterable[tuple[Source, Cable]]) -> list[Outcome]:
        """Judge the rig on each pair.

        >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
        >>> charger = Source(id="s", offers="5V 3A, 9V 3A", tolerance=0)
        >>> cable = Cable(id="c", kind="C-C", loop="100mOhm")
        >>> [(each.verdict, each.rule, round(each.max_w, 2)) for each in RigCells(rig).outcomes([(charger, cable)])]
        [('runs', None, 26.1)]
        """
        listed = list(pairs)
        cells: list[_Cell] = []
        first: dict[_Cell, Cable] = {}
        for source, cable in listed:
            cell = _Cell(self._supply(source, cable), cable.resistance)
            cells.append(cell)
            first.setdefault(cell, cable)
        # Far past any load, and on a tangent, slopes are poles; what has no solution is NaN.
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            if len(self._judged) > _MOST_KEPT:
                self._judged.clear()
            self._judged |= self._judge({cell: cable for cell, cable in first.items() if cell not in self._judged})
        outcomes = [
            self._outcome(min(self.shared.alone(self.rig, *pair), self._judged[cell].found), self._judged[cell])
            for pair, cell in zip(listed, cells, strict=True)
        ]
        doubtful = list(range(len(listed)))
        self._count(self._moments, outcomes, listed, doubtful)
        if self._together is not None:
            # Where all of it together makes nothing worse, none of it does.
            doubtful = self._worse(self._together, outcomes, listed, doubtful)
        self._count(self._at_worst, outcomes, listed, doubtful)
        for at in doubtful if self._together is not None else ():
            # What none of them does alone, all of them do together: one of them is asked for.
            outcomes[at] = outcomes[at]._replace(not_judged=max(outcomes[at].not_judged, 1))
        return outcomes

    @staticmethod
    def _worse(worst: RigCells, outcomes: list[Outcome], listed: list[Pair], places: list[int]) -> list[int]:
        """Those of some pairs on which a rig does worse than it has done."""
        mine = {at: place_of(outcomes[at].verdict) for at in places}
        # What fails can only become unsafe, and of what flows hardly anything makes it so.
        asked = [at for at in places if mine[at] > _FAIL or (mine[at] == _FAIL and worst._may_be_unsafe(*listed[at]))]
        told = zip(asked, worst.outcomes([listed[at] for at in asked]), strict=True) if asked else ()
        return [at for at, other in told if mine[at] > place_of(other.verdict)]

    def _may_be_unsafe(self, source: Source, cable: Cable) -> bool:
        """Whether anything could make the rig unsafe on a pair, before its circuit is solved."""
        at = self._supply(source, cable)
        if at not in self._unsafe:
            case, found, _, limits = self._supplies[at]
            flows = case.contract.outcome != "off"
            grave = [each.limit for each in limits if min(each[:2])[0] < _FAIL] if flows else []
            self._unsafe[at] = found[0] < _FAIL or (flows and _RULES_STOP) or any(_may_break(case, it) for it in grave)
        return self._unsafe[at] or self.shared.alone(self.rig, source, cable)[0] < _FAIL

    def _count(self, rigs: list[RigCells], outcomes: list[Outcome], listed: list[Pair], places: list[int]) -> None:
        """Count on each of some pairs the rigs that do worse on it."""
        for worst in rigs:
            for at in self._worse(worst, outcomes, listed, places):
                outcomes[at] = outcomes[at]._replace(not_judged=outcomes[at].not_judged + 1)

    @staticmethod
    def _outcome(found: Gravest, judged: _Judged) -> Outcome:
        level, at = found
        verdict, rule = VERDICTS[LEVELS[level]], None if level == _NOTE else RIG_RULES[at].id
        if level == 0:
            return Outcome(verdict, rule, 0.0)
        return Outcome(verdict, rule, judged.load_w, sum(place < level for place in judged.open))

    def _supply(self, source: Source, cable: Cable) -> int:
        key = (id(source), _class_of(cable))
        known = self._by_pair.get(key)
        if known is None:
            case = Case(self.rig, source, cable, self.shared.contract(self.rig.trigger, source, cable))
            case.seen = self.shared.seen(source, cable)
            case.starts = self._begun
            if self._supplies:
                case.rig_limits = self._supplies[0].case.rig_limits
            contract, seen, behaviour = case.contract, case.seen, source.behaviour
            granted = (contract.outcome, contract.kind, contract.voltage_v, contract.current_a, contract.mismatch)
            supply = (
                granted,
                case.source_v,
                (seen.pd, seen.typec_a, seen.typec_known),
                _class_of(cable),
                # Rules look at it too; most sources just do what they offer, and nothing is quicker to compare.
                behaviour if behaviour.model_fields_set else None,
                sleeps_below(source),
            )
            known = self._alike.get(supply)
            if known is None:
                known = self._alike[supply] = len(self._supplies)
                self._supplies.append(self._new_supply(case, (granted, _class_of(cable))))
            self._by_pair[key] = known
        return known

    def _new_supply(self, case: Case, granted: Hashable) -> _Supply:
        """What is found on a supply; its limits are those of all on which the same is ``granted``."""
        limits = self._limits.get(granted)
        if limits is None:
            known = case.limits, case.known_limits
            limits = self._limits[granted] = _Limits(*known, graded("supply", known[1]), graded("circuit", known[1]))
        case.limits, case.known_limits = limits.every, limits.known
        shared = shared_bounds(case) if self.loads else ()
        return _Supply(case, gravest("supply", case, limits.supply), shared, limits.circuit)

    def _judge(self, cells: dict[_Cell, Cable]) -> dict[_Cell, _Judged]:
        """The gravest finding on supply and circuit, and the greatest load, of each cell."""
        groups: dict[tuple[object, ...], dict[Circuit, list[_Cell]]] = {}
        judged: dict[_Cell, _Judged] = {}
        for cell in cells:
            case, found, *_ = self._supplies[cell.supply]
            if found[0] < _FAIL or case.contract.outcome == "off":
                judged[cell] = _Judged(found)
                continue
            held = case.contract.holds_a
            limit = float("inf") if held is None else held
            kind = self._kind(case.contract.voltage_v)
            at_5v = case.before_a if self._draws_at_5v and case.before_a else 0.0
            after = case.contract.current_a if self._charges else float("inf")
            circuit = Circuit(case.source_v, cell.cable, limit, kind, case.off, at_5v, after)
            group = circuit.group if len(cells) <= _FEW else circuit.group + circuit.ranged
            groups.setdefault(group, {}).setdefault(circuit, []).append(cell)
        for circuits in groups.values():
            judged |= self._judge_group(circuits, cells)
        return judged

    def _judge_group(self, circuits: dict[Circuit, list[_Cell]], cells: dict[_Cell, Cable]) -> dict[_Cell, _Judged]:
        one = next(iter(circuits))
        spec, off = self.shared.kinds[one.kind].spec, one.off
        judged: dict[_Cell, _Judged] = {}
        able: dict[tuple[Circuit, tuple[Bound, ...]], list[_Cell]] = {}
        solved = self.shared.solved(circuits)
        for (circuit, sharing), place in zip(circuits.items(), solved, strict=True):
            for cell in sharing:
                case, found, shared, limits = self._supplies[cell.supply]
                judgeable = CellCase(case, cells[cell], *place)
                opened = tuple(open_places(judgeable)) if self.loads else ()
                judged[cell] = _Judged(min(found, gravest("circuit", judgeable, limits)), 0.0, opened)
                # A part that cannot even start fails at any load.
                if found[0] > _FAIL and not off:
                    able.setdefault((circuit, shared), []).append(cell)
        loads = self._greatest(spec, list(able))
        for sharing, load_w in zip(able.values(), loads, strict=True):
            for cell in sharing:
                judged[cell] = judged[cell]._replace(load_w=load_w)
        return judged

    def _greatest(self, spec: NetworkSpec, able: Sequence[tuple[Circuit, tuple[Bound, ...]]]) -> list[float]:
        if not self.loads or not able:
            return [0.0] * len(able)
        circuits = [circuit for circuit, _ in able]
        whole = spec_of(circuits, spec)
        shared = of_many([each for _, each in able])
        limit_a = whole.holds_a

        def starts(cells: Cells, factor: Floats) -> Bools:
            holds: Bools = ~plugged_in(whole, circuits, self._begun, cells, factor).fails
            return holds if limit_a is None else holds & ~latched(whole, cast(Floats, limit_a), cells, factor)

        carried = greatest_factors(whole, [*shared, *branch_bounds(self.rig)], also=starts)
        return [float(load_w) for load_w in carried.load_w]

    def _kind(self, contract_v: float) -> int:
        """Which kind of circuit the rig is on a contract."""
        known = self._by_voltage.get(contract_v)
        if known is None:
            spec = network_spec(self.rig, None, contract_v)
            known = self._by_voltage[contract_v] = self.shared.kind(spec, self._begun)
        return known
