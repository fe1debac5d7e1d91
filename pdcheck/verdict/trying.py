"""Trying: a rig on the pairs of a kit, at each setting, with its branches on or off and its loads in steps.

Every position is judged as ``judge`` does. What positions share is worked out once: contracts, the findings on a
charger or a cable alone, those on what is supplied, whatever flows; and where all that flows is the same, those on it.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from functools import cached_property
from itertools import product
from typing import Any, get_args

from pdcheck.bits.offers import Offer
from pdcheck.circuit.corners import spec_corners
from pdcheck.circuit.from_rig import design_voltage
from pdcheck.circuit.plug_in import Start, Trouble, starts_of
from pdcheck.circuit.transient.from_rig import before_a
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import Request
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.parts.store import sleeps_below
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, Rule, Scope
from pdcheck.verdict.gravest import LIMITS
from pdcheck.verdict.matrix.cells import Shared
from pdcheck.verdict.position import solved_together
from pdcheck.verdict.rules.every import RIG_RULES
from pdcheck.verdict.settings import settings_with

Pair = tuple[Source, Cable]
Loads = tuple[int | None, ...]
"""Of each branch how much of its load there is [%], None where the branch is not there."""

FINE: tuple[int, ...] = (0, 25, 50, 75, 100, 125, 150)
COARSE: tuple[int, ...] = (0, 50, 100, 150)
WHOLE = 100
MOST_WORK = 30_000
"""Corners of tolerance that may be solved for a page, rules included: about half a second."""
MOST_LOADS = 12_000
"""Loads at all positions together: about a megabyte on a page."""
_OVERHEAD = 4
"""What the rules on a position take, in corners."""
_MOST_COMPARED = 1500
"""Pairs that are looked at whether they are the same; of more, only those around one."""
_FEW = 4
"""Branches that take hardly longer than one."""
NEXT_TO_NOTHING = 1e-7
"""What is left of a load at 0 %: nothing that a meter shows, and still a load that a file can state."""


def varied(rig: Rig, request: Request, loads: Loads, known: dict[tuple[int, int], Branch] | None = None) -> Rig:
    """A rig with its trigger at another setting, and of each branch so much of its load [%], or none of the branch.

    ``known`` keeps each branch with each load, by its place.

    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}, {"name": "lamp", "load": "10ohm"}])
    >>> [each.load.words() for each in varied(rig, rig.trigger.request, (150, 50)).branches]
    ['7.5 W', '20 Ω']
    >>> [each.name for each in varied(rig, rig.trigger.request, (None, 100)).branches]
    ['lamp']
    """
    known = {} if known is None else known
    for at, share in enumerate(loads):
        if share is not None and (at, share) not in known:
            known[at, share] = _with_load(rig.branches[at], share)
    branches = tuple(known[at, share] for at, share in enumerate(loads) if share is not None)
    return rig.with_trigger(request=request).model_copy(update={"branches": branches})


def _with_load(branch: Branch, share: int) -> Branch:
    if share == WHOLE:
        return branch
    return branch.model_copy(update={"load": branch.load.sized(share / WHOLE or NEXT_TO_NOTHING)})


class Grid(NamedTuple):
    """The positions that there are: pairs, settings, steps of each load [%], and which loads go together.

    ``every_pair``: each charger on each cable; else one of both is the pair's that it is about. ``each``: every branch
    can be moved whatever the others are at; else one is moved, and the others are as stated.
    """

    pairs: tuple[Pair, ...]
    every_pair: bool
    requests: tuple[Request, ...]
    steps: tuple[int, ...]
    each: bool
    loads: tuple[Loads, ...]


def loads_of(branches: int, steps: Sequence[int], *, each: bool) -> tuple[Loads, ...]:
    """All that the loads of a rig can be at: without all of its branches there is no rig.

    >>> loads_of(2, (100,), each=True)
    ((None, 100), (100, None), (100, 100))
    >>> len(loads_of(5, COARSE, each=False))
    21
    """
    if each:
        every = product((None, *steps), repeat=branches)
        return tuple(loads for loads in every if any(share is not None for share in loads))
    stated = (WHOLE,) * branches
    moved = [
        (*stated[:at], share, *stated[at + 1 :]) for at in range(branches) for share in (None, *steps) if share != WHOLE
    ]
    return (stated, *moved)


_RULES: dict[Scope, list[tuple[bool, int, Rule, Find]]] = {
    scope: sorted((rule.id in LIMITS, at, rule, rule.find) for at, rule in enumerate(RIG_RULES) if rule.scope == scope)
    for scope in get_args(Scope)
}
"""The rules that look at each, with their places among all: those of limits last."""

Found = tuple[tuple[int, Finding], ...]
"""Findings, each with the place of its rule among all."""


class _TriedCase(Case):
    """A case that shares what happens on the 5 V before the contract with all others of the same ``loads``."""

    loads: Loads
    before: dict[Hashable, Trouble | None]

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        if self.before_a is None:
            return None
        # The source has no part in what 5 V does.
        built_v = design_voltage(self.rig, self.contract.voltage_v)
        wired = (self.loads, self.cable.resistance, self.cable.current_a, built_v, self.off, id(self.starts))
        key = (wired, limit_a, every)
        if key not in self.before:
            self.before[key] = super().trouble_before(limit_a, every=every)
        return self.before[key]


class Trying:
    """A rig on a kit, to be tried.

    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "0.1ohm"}])
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}])
    >>> trying = Trying(rig, kit, ((kit.sources[0], kit.cables[0]),))
    >>> supply = trying.supply(trying.pairs[0], rig.trigger.request)
    >>> [case.worst_current("source") < 1.0 for case in trying.cases([(supply, (100,)), (supply, (150,))])]
    [True, True]
    """

    def __init__(self, rig: Rig, kit: Kit, pairs: Sequence[Pair]) -> None:
        self.rig = rig
        self.pairs = tuple(pairs)
        self.requests: tuple[Request, ...] = tuple(settings_with(rig, kit))
        self._shared = Shared()
        self._branches: dict[tuple[int, int], Branch] = {}
        self._rigs: dict[Hashable, Rig] = {}
        self._begun: dict[Hashable, tuple[tuple[Start, ...], Any]] = {}
        self._alike: dict[tuple[Start, ...], tuple[Start, ...]] = {}
        self._before: dict[Hashable, Trouble | None] = {}
        self._carried: dict[Hashable, Any] = {}
        self._limits: dict[Hashable, tuple[Any, Any]] = {}
        self._looks: dict[Hashable, Hashable] = {}
        self._faces: dict[Hashable, int] = {}

    def supply(self, pair: Pair, request: Request) -> Case:
        """What the trigger ends up with on a pair: a case with the loads as stated."""
        rig = self._varied(request, (WHOLE,) * len(self.rig.branches))
        case = Case(rig, *pair, self._shared.contract(rig.trigger, *pair))
        case.seen = self._shared.seen(*pair)
        # What the parts on the way carry is the same on every charger that grants the same.
        granted = (case.contract._replace(offer=None, request_words=(), reason=""), case.cable.current_a)
        case.supply_limits = self._carried.setdefault(granted, case.supply_limits)
        return case

    def same(self, supply: Case) -> Hashable:
        """What the rules on a supply look at beside the rig: pairs that agree in it share their findings."""
        source, cable, seen = supply.source, supply.cable, supply.seen
        return (
            self.same_flow(supply), supply.rig.trigger.request, supply.contract._replace(offer=None, request_words=()),
            source.offers == (), source.behaviour, seen.pd, seen.typec_a, seen.typec_known, _volts(seen.bounded),
            _volts(seen.hidden), cable.voltage_v, cable.pd, cable.is_epr,
        )  # fmt: skip

    def same_flow(self, supply: Case) -> Hashable:
        """What the circuit and all rules on it look at beside the rig: pairs that agree in it share their findings."""
        source, cable, seen, contract = supply.source, supply.cable, supply.seen, supply.contract
        before = (before_a(source, seen), seen.typec_a) if contract.offer is not None else None
        return (
            contract.outcome == "off", contract.kind, contract.voltage_v, contract.current_a, supply.source_v, before,
            supply.rig.design_v, sleeps_below(source), source.sleeps_below_a, cable.current_a, cable.loop_ohm(),
            supply.feed,
        )  # fmt: skip

    def _varied(self, request: Request, loads: Loads) -> Rig:
        variant = (request, loads)
        if variant not in self._rigs:
            self._rigs[variant] = varied(self.rig, request, loads, self._branches)
        return self._rigs[variant]

    def cases(self, positions: Iterable[tuple[Case, Loads]]) -> list[Case]:
        """Positions as cases, their circuits solved together."""
        return solved_together([self.case(*each) for each in positions])

    def case(self, supply: Case, loads: Loads) -> Case:
        """A position as a case, for those who look at what is supplied alone."""
        rig = self._varied(supply.rig.trigger.request, loads)
        case = _TriedCase(rig, supply.source, supply.cable, supply.contract)
        case.loads, case.before = loads, self._before
        case.seen, case.source_v, case.before_a, case.feed = supply.seen, supply.source_v, supply.before_a, supply.feed
        case.supply_limits = supply.supply_limits
        # How much of a load there is does not change whether it runs at all.
        case.off = supply.off.intersection(branch.name for branch in case.rig.branches) if supply.off else supply.off
        begun = (loads, *_built_for(supply))
        if begun not in self._begun:
            # One object for all that are alike, which is quicker to compare.
            self._begun[begun] = self._alike.setdefault(case.starts, case.starts), case.rig_limits
        case.starts, case.rig_limits = self._begun[begun]
        told = (*begun, id(case.supply_limits))
        if told not in self._limits:
            self._limits[told] = case.limits, case.known_limits
        case.limits, case.known_limits = self._limits[told]
        return case

    def looks(self, supply: Case, loads: Loads) -> Hashable:
        """What rules on a supply look at of some loads: mostly just which of them are there."""
        key = (loads, *_built_for(supply))
        if key not in self._looks:
            self._looks[key] = tuple(
                [None if share is None else self._look(supply, at, share) for at, share in enumerate(loads)]
            )
        return self._looks[key]

    def _look(self, supply: Case, at: int, share: int) -> Hashable:
        key = (at, share, *_built_for(supply))
        if key not in self._looks:
            alone = (None,) * at + (share,) + (None,) * (len(self.rig.branches) - at - 1)
            rig = self._varied(supply.rig.trigger.request, alone)
            limits = tuple(limit for limit in rig.branches[0].limits(rig.design_v) if limit.rule.supply)
            face = (at, starts_of(rig, supply.contract.voltage_v), limits)
            self._looks[key] = self._faces.setdefault(face, len(self._faces))
        return self._looks[key]

    def grid(self, own: Pair, most: int = MOST_WORK) -> Grid:
        """The finest grid around a pair that is not too much work."""
        source, cable = own
        crossing = tuple(pair for pair in self.pairs if pair[0] is source or pair[1] is cable)
        corners = len(spec_corners(Case(self.rig, *own).spec))
        branches = len(self.rig.branches)
        for pairs in (self.pairs, crossing) if len(self.pairs) <= _MOST_COMPARED else (crossing,):
            # What is supplied alike is worked out once; counting it is little work itself.
            alike = {self.same(self.supply(pair, request)) for pair in pairs for request in self.requests}
            for each, steps in ((True, FINE), (True, COARSE), (False, FINE), (False, COARSE)):
                count = len(alike) * ((len(steps) + 1) ** branches if each else branches * len(steps) + 1)
                work = count * (_OVERHEAD + corners) * max(1.0, branches / _FEW)
                if work <= most and count * branches <= MOST_LOADS:
                    loads = loads_of(branches, steps, each=each)
                    return Grid(pairs, pairs is self.pairs, self.requests, steps, each, loads)
        loads = loads_of(branches, COARSE, each=False)
        few = len(loads) * len(self.requests) * branches <= MOST_LOADS
        return Grid((own,), False, self.requests if few else (self.rig.trigger.request,), COARSE, False, loads)

    @cached_property
    def alone(self) -> tuple[dict[str, Found], dict[int, Found]]:
        """The findings on each charger by its id, and on each cable by its place in memory, whatever hangs on them."""
        sources: dict[str, Found] = {}
        cables: dict[int, Found] = {}
        for source, cable in self.pairs:
            case = Case(self.rig, source, cable)
            if source.id not in sources:
                sources[source.id] = found_on("source", case)
            if id(cable) not in cables:
                cables[id(cable)] = found_on("cable", case)
        return sources, cables


def _built_for(supply: Case) -> tuple[float | None, float]:
    """The voltages [V] that a rig is built for and that it gets: nothing else of a supply tells how a branch starts."""
    return supply.rig.design_v, supply.contract.voltage_v


def _volts(offers: Sequence[Offer]) -> tuple[int, ...]:
    return tuple(offer.max_mv for offer in offers)


def found_on(scope: Scope, case: Case) -> Found:
    """The findings on a charger or a cable alone, on what is supplied, whatever flows, or on the circuit."""
    limited, silent = case.limits_by_rule, case.silent
    # A rule of limits has nothing to say where no part has one.
    asked = [each for each in _RULES[scope] if (each[2].id in limited if each[0] else each[2].id not in silent)]
    return tuple([(at, finding) for _, at, rule, find in asked for finding in rule.judge(case, find)])
