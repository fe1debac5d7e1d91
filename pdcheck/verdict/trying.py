"""Trying: a rig on the pairs of a kit, at each setting, with its branches on or off and its loads in steps.

Every position is judged as ``judge`` does. What two positions share, contract and findings on a charger or a cable
alone, is worked out once; positions of which everything that flows is the same share all of it.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from functools import cached_property
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
from pdcheck.parts.limits import Catalogue
from pdcheck.parts.request import Request
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.parts.store import sleeps_below
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Finding, Rule, Scope
from pdcheck.verdict.rules.every import RIG_RULES
from pdcheck.verdict.settings import settings_with

Pair = tuple[Source, Cable]
Loads = tuple[int | None, ...]
"""Of each branch how much of its load there is [%], None where the branch is not there."""

FINE: tuple[int, ...] = (0, 25, 50, 75, 100, 125, 150)
COARSE: tuple[int, ...] = (0, 50, 100, 150)
WHOLE = 100
MOST_WORK = 30_000
"""Corners of tolerance that may be solved for a page, rules included: about two seconds."""
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


def varied(rig: Rig, request: Request, loads: Loads) -> Rig:
    """A rig with its trigger at another setting, and of each branch so much of its load [%], or none of the branch.

    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}, {"name": "lamp", "load": "10ohm"}])
    >>> [each.load.words() for each in varied(rig, rig.trigger.request, (150, 50)).branches]
    ['7.5 W', '20 Ω']
    >>> [each.name for each in varied(rig, rig.trigger.request, (None, 100)).branches]
    ['lamp']
    """
    branches = tuple(
        _with_load(branch, share) for branch, share in zip(rig.branches, loads, strict=True) if share is not None
    )
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
_FLOWING = tuple(sorted((*_RULES["supply"], *_RULES["circuit"]), key=lambda each: each[0]))
_FINDS = {at: rule.find for at, rule in _FLOWING}
_OF_LIMITS = {rule.id for limit in Catalogue.rules for rule in (limit, limit.near) if rule is not None}

Found = tuple[tuple[int, Finding], ...]
"""Findings, each with the place of its rule among all."""


class Supply(NamedTuple):
    """What a charger gives over a cable at a setting: pairs of which all of it is the same share what follows.

    ``granted`` is the place of what limits look at of the contract.
    """

    source: Source
    cable: Cable
    seen: Available
    contract: Contract
    granted: int
    source_v: Triple
    loop_ohm: Triple


class _TriedCase(Case):
    """A case that shares what happens on the 5 V before the contract with all others that are ``wired`` alike."""

    wired: Hashable = None
    before: dict[Hashable, Trouble | None]

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        """As in any case."""
        if self.wired is None or self.before_a is None:
            return super().trouble_before(limit_a, every=every)
        key = (self.wired, limit_a, every)
        if key not in self.before:
            self.before[key] = super().trouble_before(limit_a, every=every)
        return self.before[key]

    @cached_property
    def _on_contract(self) -> Trouble | None:
        return super().trouble_on_contract()

    def trouble_on_contract(self) -> Trouble | None:
        """As in any case; two rules ask for it."""
        return self._on_contract


class Trying:
    """A rig on a kit, to be tried.

    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "0.1ohm"}])
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": "5W"}])
    >>> trying = Trying(rig, kit, ((kit.sources[0], kit.cables[0]),))
    >>> supply = trying.supply(trying.pairs[0], rig.trigger.request)
    >>> [trying.case(supply, rig.trigger.request, (share,)).worst_current("source") < 1.0 for share in (100, 150)]
    [True, True]
    """

    def __init__(self, rig: Rig, kit: Kit, pairs: Sequence[Pair]) -> None:
        self.rig = rig
        self.pairs = tuple(pairs)
        self.requests: tuple[Request, ...] = tuple(settings_with(rig, kit))
        self._rigs: dict[Hashable, Rig] = {}
        self._starts: dict[Hashable, tuple[Start, ...]] = {}
        self._alike: dict[tuple[Start, ...], tuple[Start, ...]] = {}
        self._limits: dict[Hashable, tuple[Any, Any, Any]] = {}
        self._seen: dict[Hashable, Available] = {}
        self._circuits: dict[Hashable, Case] = {}
        self._granted: dict[Hashable, int] = {}
        self._before: dict[Hashable, Trouble | None] = {}

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
        source_v = Case(self.rig, source, cable, contract).source_v
        return Supply(source, cable, seen, contract, granted, source_v, cable.loop_ohm()[0])

    def same(self, supply: Supply) -> Hashable:
        """What the circuit and all rules on it look at of a pair: pairs that agree in it share their findings."""
        source, cable, seen, contract, *_ = supply
        before = before_a(source, seen) if contract.offer is not None else None
        return (
            contract._replace(offer=None, request_words=()), contract.ends, before, source.offers == (),
            self.rig.tolerance.of_source(source), source.behaviour, sleeps_below(source), source.sleeps_below_a,
            seen.pd, seen.typec_a, seen.typec_known, _volts(seen.bounded), _volts(seen.hidden),
            cable.current_a, cable.voltage_v, cable.pd, cable.is_epr, cable.loop_ohm(),
            feed_of(self.rig.trigger, cable),
        )  # fmt: skip

    def case(self, supply: Supply, request: Request, loads: Loads) -> _TriedCase:
        """A position as a case."""
        variant = (request, loads)
        if variant not in self._rigs:
            self._rigs[variant] = varied(self.rig, request, loads)
        rig = self._rigs[variant]
        case = _TriedCase(rig, supply.source, supply.cable, supply.contract)
        case.seen, case.source_v = supply.seen, supply.source_v
        begun = (variant, supply.contract.voltage_v)
        if begun not in self._starts:
            starts = starts_of(rig, supply.contract.voltage_v)
            # One object for all that are alike, which is quicker to compare.
            self._starts[begun] = self._alike.setdefault(starts, starts)
        case.starts = self._starts[begun]
        told = (variant, supply.granted)
        if told not in self._limits:
            self._limits[told] = (case.limits, case.known_limits, case.limits_by_rule)
        case.limits, case.known_limits, case.limits_by_rule = self._limits[told]
        self._share_circuit(case, supply, loads)
        return case

    def _share_circuit(self, case: _TriedCase, supply: Supply, loads: Loads) -> None:
        """The circuit solved once for all positions on which it is the same: whatever else is granted or asked for."""
        contract = supply.contract
        if contract.outcome == "off":
            return
        wired = (loads, supply.loop_ohm, supply.cable.current_a, design_voltage(case.rig, contract.voltage_v), case.off)
        known = self._circuits.setdefault((wired, supply.source_v, contract.holds_a), case)
        if known is not case:
            case.spec, case.worst, case.point = known.spec, known.worst, known.point
        # The source has no part in what 5 V does.
        case.wired, case.before = (wired, id(case.starts)), self._before

    def grid(self, own: Pair, most: int = MOST_WORK) -> Grid:
        """The finest grid around a pair that is not too much work."""
        source, cable = own
        crossing = tuple(pair for pair in self.pairs if pair[0] is source or pair[1] is cable)
        corners = len(spec_corners(Case(self.rig, *own).spec))
        branches = len(self.rig.branches)
        for pairs in (self.pairs, crossing) if len(self.pairs) <= _MOST_COMPARED else (crossing,):
            # What differs in nothing that flows is worked out once; counting it is little work itself.
            alike = {(request, self.same(self.supply(pair, request))) for pair in pairs for request in self.requests}
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


def flowing(case: Case) -> Found:
    """The findings on contract and circuit."""
    kept = case.limits_by_rule
    # A rule of limits has nothing to say where no part has one.
    asked = [each for each in _FLOWING if each[1].id in kept or each[1].id not in _OF_LIMITS]
    return tuple([(at, finding) for at, rule in asked for finding in rule.judge(case, _FINDS[at])])
