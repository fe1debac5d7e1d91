"""Trying: a rig on the pairs of a kit, at each setting, with its branches on or off and its loads in steps.

Every position is judged as ``judge`` does. What positions share is worked out once: contracts, the findings on a
charger or a cable alone, those on what is supplied, whatever flows; and where all that flows is the same, those on it.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from functools import cache, cached_property
from itertools import product
from typing import Any

from pdcheck.bits.offers import Offer
from pdcheck.circuit.corners import spec_corners
from pdcheck.circuit.from_rig import design_voltage
from pdcheck.circuit.plug_in import Start, Trouble, starts_of
from pdcheck.circuit.transient.from_rig import before_a, feed_of
from pdcheck.contract.available import Available, available
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import Request
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.parts.store import sleeps_below
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Finding, Rule, Scope
from pdcheck.verdict.gravest import LIMITS
from pdcheck.verdict.position import Position, solved_together
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
    trigger = rig.trigger.model_copy(update={"request": request})
    return rig.model_copy(update={"trigger": trigger, "branches": branches})


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


_RULES: dict[Scope, tuple[tuple[int, Rule], ...]] = {
    scope: tuple((at, rule) for at, rule in enumerate(RIG_RULES) if rule.scope == scope)
    for scope in ("source", "cable", "supply", "circuit")
}
_FINDS = tuple(rule.find for rule in RIG_RULES)
_LIMITS, _OTHERS = (
    {scope: tuple(each for each in rules if (each[1].id in LIMITS) is of_limits) for scope, rules in _RULES.items()}
    for of_limits in (True, False)
)
_LIMIT_PLACES = {scope: {each[1].id: each for each in rules} for scope, rules in _LIMITS.items()}

Found = tuple[tuple[int, Finding], ...]
"""Findings, each with the place of its rule among all."""


class Supply(NamedTuple):
    """What a charger gives over a cable at a setting. ``granted`` is the place of what limits look at of the contract,
    ``design_v`` [V] what the rig is built for at that setting."""

    request: Request
    source: Source
    cable: Cable
    seen: Available
    contract: Contract
    granted: int
    source_v: Triple
    loop_ohm: Triple
    design_v: float | None
    feed: tuple[float, float]
    before_a: float | None


class _TriedCase(Case):
    """A case that shares what happens on the 5 V before the contract with all others of the same ``loads``."""

    loads: Loads
    before: dict[Hashable, Trouble | None]

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        """As in any case."""
        if self.before_a is None:
            return None
        # The source has no part in what 5 V does.
        built_v = design_voltage(self.rig, self.contract.voltage_v)
        wired = (self.loads, self.cable.loop_ohm()[0], self.cable.current_a, built_v, self.off, id(self.starts))
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
        self._branches: dict[tuple[int, int], Branch] = {}
        self._rigs: dict[Hashable, Rig] = {}
        self._starts: dict[Hashable, tuple[Start, ...]] = {}
        self._off: dict[Hashable, frozenset[str]] = {}
        self._alike: dict[tuple[Start, ...], tuple[Start, ...]] = {}
        self._built: dict[Hashable, Any] = {}
        self._carried: dict[int, Any] = {}
        self._limits: dict[Hashable, tuple[Any, Any]] = {}
        self._seen: dict[Hashable, Available] = {}
        self._granted: dict[Hashable, int] = {}
        self._before: dict[Hashable, Trouble | None] = {}
        self._feeds: dict[int, tuple[float, float]] = {}
        self._looks: dict[Hashable, Hashable] = {}
        self._faces: dict[Hashable, int] = {}

    def supply(self, pair: Pair, request: Request) -> Supply:
        """What the trigger ends up with on a pair."""
        source, cable = pair
        key = (id(source), cable.current_a, cable.voltage_v, cable.pd, cable.is_epr)
        if key not in self._seen:
            self._seen[key] = available(source, cable)
        seen = self._seen[key]
        contract = settle_on(request, self.rig.trigger.fallback, seen)
        # What the parts on the way carry is the same on every charger that grants the same.
        told = (contract._replace(offer=None, request_words=(), reason=""), cable.current_a)
        granted = self._granted.setdefault(told, len(self._granted))
        case = Case(self.rig, source, cable, contract)
        case.seen = seen
        design_v = self._varied(request, (WHOLE,) * len(self.rig.branches)).design_v
        if id(cable) not in self._feeds:
            self._feeds[id(cable)] = feed_of(self.rig.trigger, cable)
        loop_ohm, feed = cable.loop_ohm()[0], self._feeds[id(cable)]
        told_of = (seen, contract, granted, case.source_v, loop_ohm, design_v, feed, case.before_a)
        return Supply(request, source, cable, *told_of)

    def same(self, supply: Supply) -> Hashable:
        """What the rules on a supply look at beside the rig: pairs that agree in it share their findings."""
        request, source, cable, seen, contract, *_ = supply
        return (
            self.same_flow(supply), request, contract._replace(offer=None, request_words=()), source.offers == (),
            source.behaviour, seen.pd, seen.typec_a, seen.typec_known, _volts(seen.bounded), _volts(seen.hidden),
            cable.voltage_v, cable.pd, cable.is_epr,
        )  # fmt: skip

    def same_flow(self, supply: Supply) -> Hashable:
        """What the circuit and all rules on it look at beside the rig: pairs that agree in it share their findings."""
        _, source, cable, seen, contract, *_ = supply
        before = (before_a(source, seen), seen.typec_a) if contract.offer is not None else None
        return (
            contract.outcome == "off", contract.kind, contract.voltage_v, contract.current_a, supply.source_v, before,
            supply.design_v, sleeps_below(source), source.sleeps_below_a, cable.current_a, cable.loop_ohm(),
            supply.feed,
        )  # fmt: skip

    def _varied(self, request: Request, loads: Loads) -> Rig:
        variant = (request, loads)
        if variant not in self._rigs:
            self._rigs[variant] = varied(self.rig, request, loads, self._branches)
        return self._rigs[variant]

    def cases(self, positions: Iterable[tuple[Supply, Loads]]) -> list[Case]:
        """Positions as cases, their circuits solved together."""
        return solved_together([self.case(*each) for each in positions])

    def case(self, supply: Supply, loads: Loads) -> Case:
        """A position as a case, for those who look at what is supplied alone."""
        variant = (supply.request, loads)
        rig = self._varied(*variant)
        case = _TriedCase(rig, supply.source, supply.cable, supply.contract)
        case.seen, case.source_v, case.feed = supply.seen, supply.source_v, supply.feed
        begun = (loads, supply.design_v, supply.contract.voltage_v)
        if begun not in self._starts:
            starts = starts_of(rig, supply.contract.voltage_v)
            # One object for all that are alike, which is quicker to compare.
            self._starts[begun] = self._alike.setdefault(starts, starts)
        case.starts, case.before_a = self._starts[begun], supply.before_a
        reached = (*begun, supply.source_v.max, supply.contract.outcome)
        if reached not in self._off:
            self._off[reached] = case.off
        case.off = self._off[reached]
        built = (loads, supply.design_v)
        if built not in self._built:
            self._built[built] = case.rig_limits
        if supply.granted not in self._carried:
            self._carried[supply.granted] = case.supply_limits
        case.rig_limits, case.supply_limits = self._built[built], self._carried[supply.granted]
        told = (*built, supply.granted)
        if told not in self._limits:
            self._limits[told] = (case.limits, case.known_limits)
        case.limits, case.known_limits = self._limits[told]
        case.loads, case.before = loads, self._before
        return case

    def looks(self, supply: Supply, loads: Loads) -> Hashable:
        """What rules on a supply look at of some loads: mostly just which of them are there."""
        key = (loads, supply.design_v, supply.contract.voltage_v)
        if key not in self._looks:
            self._looks[key] = tuple(
                [None if share is None else self._look(supply, at, share) for at, share in enumerate(loads)]
            )
        return self._looks[key]

    def _look(self, supply: Supply, at: int, share: int) -> Hashable:
        key = (at, share, supply.design_v, supply.contract.voltage_v)
        if key in self._looks:
            return self._looks[key]
        rig = self._varied(supply.request, (None,) * at + (share,) + (None,) * (len(self.rig.branches) - at - 1))
        limits = (limit for branch in rig.branches for limit in branch.limits(rig.design_v))
        face = (at, starts_of(rig, supply.contract.voltage_v), tuple(each for each in limits if each.rule.supply))
        return self._looks.setdefault(key, self._faces.setdefault(face, len(self._faces)))

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
                sources[source.id] = tuple(_found("source", case))
            if id(cable) not in cables:
                cables[id(cable)] = tuple(_found("cable", case))
        return sources, cables


def _volts(offers: Sequence[Offer]) -> tuple[int, ...]:
    return tuple(offer.max_mv for offer in offers)


def _found(scope: Scope, case: Case) -> Iterator[tuple[int, Finding]]:
    return ((at, finding) for at, rule in _RULES[scope] for finding in rule.findings(case))


def given(case: Case) -> Found:
    """The findings on what is supplied, whatever flows."""
    return _asked("supply", case)


def flowing(case: Case) -> Found:
    """The findings on the circuit."""
    return _asked("circuit", case, case.silent if isinstance(case, Position) else frozenset())


@cache
def _others(scope: Scope, silent: frozenset[str]) -> list[tuple[int, Rule]]:
    return [each for each in _OTHERS[scope] if each[1].id not in silent]


def _asked(scope: Scope, case: Case, silent: frozenset[str] = frozenset()) -> Found:
    # A rule of limits has nothing to say where no part has one.
    places = _LIMIT_PLACES[scope]
    limits = [places[name] for name in case.limits_by_rule if name in places]
    asked = [*_others(scope, silent), *sorted(limits)]
    return tuple([(at, finding) for at, rule in asked for finding in rule.judge(case, _FINDS[at])])
