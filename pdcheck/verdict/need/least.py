"""Need: the least source and the least cable that a rig works on, found by judging it on every class of them.

Sources are those of the power rules, one for each whole watt of PDP with the least set of offers that it must have;
cables are those of 3 A, of 5 A and of EPR. What is stated is tight: the rig works on it, and on nothing one step lower.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache, partial
from math import floor, log10
from typing import Annotated, NamedTuple

from pdcheck.bits.offers import Offer, arranged, epr_avs, fixed, pps, spr_avs
from pdcheck.contract.settle import Contract
from pdcheck.facts.cable import MARKED_CURRENT, UNMARKED_CURRENT, loop_limit_ohm
from pdcheck.facts.capabilities import EPR_POWER_MAX, FIRST_OBJECT_VOLTAGE
from pdcheck.facts.current import ADVERTISEMENTS
from pdcheck.facts.power_rules import (
    epr_avs_for,
    fixed_offers_for,
    pps_set_for,
    round_down_a,
    spr_avs_for,
)
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import AvsRequest, NoRequest, PpsRequest, Request
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import under
from pdcheck.result import UNTOLD, told
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS, Verdict
from pdcheck.verdict.judge import Judgement, judge
from pdcheck.verdict.matrix.cells import RigCells, Shared
from pdcheck.verdict.need.to_buy import CableClass, CableToBuy, SourceToBuy, cable_to_buy, source_to_buy
from pdcheck.verdict.not_judged import place_of

CLASSES: tuple[CableClass, ...] = ("3A", "5A", "EPR")
PDPS_W = range(1, round(EPR_POWER_MAX.value) + 1)

# A cable may have any loop resistance up to its limit, so one at the limit is tried first; where no charger works with
# that, one with less, as a part of the limit: half of it, a quarter, next to nothing.
_SHARES_OF_LIMIT = (1.0, 0.5, 0.25, 0.01)
_LESS = (1.0, 0.5, 0.0)
# Beyond this no cable goes: what works even here needs no limit [ohm].
_NO_LIMIT_OHM = 1000.0
_DIGITS = 4

Accept = Callable[[Verdict, Contract], bool]
"""Whether a verdict on a contract is what is wanted."""


class Drawn(NamedTuple):
    """The contract's voltage [V] and the most that is drawn from the source [A]."""

    voltage_v: float
    current_a: float


class Need(NamedTuple):
    """The least source and cable together.

    ``pdp_w`` is the lowest PDP [W], ``up_to_w`` the highest in one run from it on which the rig works over this class
    of cable. ``loop_ohm`` is the greatest loop resistance [ohm], rounded down; None where none is too much. It holds on
    any cable of the class with that resistance or less, down to none. ``judgement`` is the rig's on exactly the source
    and cable, at the class's limit where no loop is too much.
    """

    pdp_w: int
    up_to_w: int
    cable_class: Annotated[CableClass, UNTOLD]
    loop_ohm: Annotated[float | None, UNTOLD]
    judgement: Annotated[Judgement, UNTOLD]

    @told
    def any_cable_w(self) -> int | None:
        """The lowest PDP [W] with any cable of the class that keeps the standard; None where only a better one does."""
        kept = self.loop_ohm is None or not under(self.loop_ohm, class_limit_ohm(self.cable_class))
        return self.pdp_w if kept else None

    @property
    def case(self) -> Case:
        """The rig on exactly these."""
        return self.judgement.case

    @told
    def contract(self) -> Contract:
        """What stands then."""
        return self.judgement.contract

    @told
    def pps(self) -> bool:
        """Whether PPS is needed."""
        return self.contract.kind == "pps"

    @told
    def epr(self) -> bool:
        """Whether EPR is needed."""
        return self.contract.epr

    @told
    def verdict(self) -> Verdict:
        """The rig's on exactly these."""
        return self.judgement.verdict

    @told
    def needed(self) -> Drawn:
        """What is used of them."""
        return Drawn(self.contract.voltage_v, self.case.worst_current("source"))

    @told
    def source(self) -> SourceToBuy:
        """The source, as it is to be looked for."""
        return source_to_buy(self.case.source)

    @told
    def cable(self) -> CableToBuy:
        """The cable, as it is to be looked for."""
        return cable_to_buy(self.cable_class, self.case.cable, self.loop_ohm)


@cache
def source_of(pdp_w: int, kind: str) -> Source:
    """The least source of a PDP [W] by the power rules, with the adjustable offers that a kind of request looks for.

    For a trigger that asks for nothing it says what it gives at 5 V without PD: the highest Type-C current it can.

    >>> [(offer.kind, offer.max_mv, offer.current_ma) for offer in source_of(20, "fixed").offers]
    [('fixed', 5000, 3000), ('fixed', 9000, 2220)]
    """
    offers: list[Offer] = [fixed(round(volts * 1000), _ma(amperes)) for volts, amperes in fixed_offers_for(pdp_w)]
    if kind == "pps":
        offers += [pps(round(p.min_v * 1000), round(p.max_v * 1000), _ma(p.current_a)) for p in pps_set_for(pdp_w)]
    if kind == "avs":
        low, high = spr_avs_for(pdp_w), epr_avs_for(pdp_w)
        if low is not None:
            offers.append(spr_avs(_ma(low.current_15v_a), _ma(low.current_20v_a)))
        if high is not None:
            offers.append(epr_avs(round(high.min_v * 1000), round(high.max_v * 1000), round(high.pdp_w)))
    typec_a = None
    if kind == "none":
        given = round_down_a(pdp_w / FIRST_OBJECT_VOLTAGE.value)
        typec_a = max((each.current_a for each in ADVERTISEMENTS if each.current_a <= given), default=given)
    return Source(id=f"pdp-{pdp_w}w", offers=arranged(offers), typec_current_a=typec_a)


def _ma(amperes: float) -> int:
    return round(amperes * 1000)


def kind_of_source(request: Request) -> str:
    """Which offers beside the fixed ones a request looks for."""
    match request:
        case PpsRequest():
            return "pps"
        case AvsRequest():
            return "avs"
        case NoRequest():
            return "none"
    return "fixed"


def cable_of(cable_class: CableClass, loop_ohm: float) -> Cable:
    """A C-to-C cable of a class with a loop resistance [ohm].

    >>> cable_of("5A", 0.1).current_a, cable_of("EPR", 0.1).is_epr
    (5.0, True)
    """
    told = {"kind": "EPR"} if cable_class == "EPR" else {"kind": "C-C", "rating": cable_class}
    return Cable.model_validate({"id": f"cable-{cable_class.lower()}", **told, "loop": loop_ohm})


def class_limit_ohm(cable_class: CableClass) -> float:
    """The most loop resistance that a cable of a class may have [ohm].

    >>> class_limit_ohm("3A")
    0.25
    """
    return loop_limit_ohm((UNMARKED_CURRENT if cable_class == "3A" else MARKED_CURRENT).value)


class Tried(NamedTuple):
    """A rig on every PDP, over each class of cable at some part of its limit: verdict and contract by (class, PDP)."""

    share: float
    found: dict[tuple[CableClass, int], tuple[Verdict, Contract]]

    def accepted(self, accept: Accept) -> dict[CableClass, list[int]]:
        """The PDPs [W] that are accepted, rising, by class of cable."""
        by_class: dict[CableClass, list[int]] = {each: [] for each in CLASSES}
        for (cable_class, pdp_w), (verdict, contract) in self.found.items():
            if accept(verdict, contract):
                by_class[cable_class].append(pdp_w)
        return by_class


class Market:
    """Every class of source and cable, and how rigs do on them."""

    def __init__(self) -> None:
        self.shared = Shared()
        self._cables: dict[tuple[CableClass, float], Cable] = {}

    def tried(self, rig: Rig, share: float = 1.0) -> Tried:
        """A rig on all of them; where a better cable may be asked more of, at its worst on any up to that share."""
        kind = kind_of_source(rig.trigger.request)
        places = [(each, pdp_w) for each in CLASSES for pdp_w in PDPS_W]
        cells = RigCells(rig, self.shared, loads=False)
        found: dict[tuple[CableClass, int], tuple[Verdict, Contract]] = {}
        for part in _parts_to_try(rig):
            pairs = [(source_of(w, kind), self.cable(each, part * share * class_limit_ohm(each))) for each, w in places]
            for place, pair, outcome in zip(places, pairs, cells.outcomes(pairs), strict=True):
                contract = self.shared.contract(rig.trigger, *pair)
                if place not in found or place_of(outcome.verdict) < place_of(found[place][0]):
                    found[place] = outcome.verdict, contract
        return Tried(share, found)

    def cable(self, cable_class: CableClass, loop_ohm: float) -> Cable:
        """A cable, the same object each time."""
        known = self._cables.get((cable_class, loop_ohm))
        if known is None:
            known = self._cables[cable_class, loop_ohm] = cable_of(cable_class, loop_ohm)
        return known

    def need(self, rig: Rig, accept: Accept, tried: Sequence[Tried] | None = None) -> Need | None:
        """The least source and cable on which a rig's verdict and contract are accepted; None where none is.

        The lowest PDP on any class of cable comes first, then the least class that does on it, then the greatest loop
        resistance that these two do on.
        """
        for all_of_them in self.all_tried(rig) if tried is None else tried:
            by_class = all_of_them.accepted(accept)
            able = [each for each in CLASSES if by_class[each]]
            if able:
                best = min(able, key=lambda each: by_class[each][0])
                return self._tightened(rig, accept, best, by_class[best][0], all_of_them.share * class_limit_ohm(best))
        return None

    def all_tried(self, rig: Rig) -> list[Tried]:
        """A rig on all of them over cables at their limit, and over better ones where no charger works with these."""
        tried: list[Tried] = []
        for share in _SHARES_OF_LIMIT:
            tried.append(self.tried(rig, share))
            if any(verdict in WORKS for verdict, _ in tried[-1].found.values()):
                break
        return tried

    def _tightened(self, rig: Rig, accept: Accept, best: CableClass, pdp_w: int, loop_ohm: float) -> Need:
        def accepted(cable_class: CableClass, ohms: float) -> bool:
            source = source_of(pdp_w, kind_of_source(rig.trigger.request))
            found = (judge(rig, source, cable_of(cable_class, part * ohms)) for part in _parts_to_try(rig))
            return all(accept(each.verdict, each.contract) for each in found)

        greatest = greatest_loop(partial(accepted, best), loop_ohm)
        # A lesser cable may do as well where it has less resistance than its own limit.
        for lesser in CLASSES[: CLASSES.index(best)]:
            starts = [ohms for ohms in (greatest, loop_ohm) if ohms is not None and accepted(lesser, ohms)]
            if starts:
                best, greatest = lesser, greatest_loop(partial(accepted, lesser), starts[0])
                break
        stated = self.cable(best, loop_ohm if greatest is None else greatest)
        up_to_w = self._up_to_w(rig, accept, stated, pdp_w)
        found = judge(rig, source_of(pdp_w, kind_of_source(rig.trigger.request)), stated)
        return Need(pdp_w, up_to_w, best, greatest, found)

    def _up_to_w(self, rig: Rig, accept: Accept, cable: Cable, pdp_w: int) -> int:
        """The last PDP [W] of the run from ``pdp_w`` on which the rig is accepted over the cable that is stated."""
        kind = kind_of_source(rig.trigger.request)
        most_w = round(EPR_POWER_MAX.value)
        cells, loop_ohm = RigCells(rig, self.shared, loads=False), cable.loop_ohm()[0].max
        reached = most_w
        for part in _parts_to_try(rig):
            better = cable if part == 1.0 else cable.replace(loop=part * loop_ohm)
            pairs = [(source_of(watts, kind), better) for watts in range(pdp_w + 1, reached + 1)]
            for up_to_w, (pair, outcome) in enumerate(zip(pairs, cells.outcomes(pairs), strict=True), pdp_w):
                if not accept(outcome.verdict, self.shared.contract(rig.trigger, *pair)):
                    reached = up_to_w
                    break
        return reached


def greatest_loop(works: Callable[[float], bool], works_at_ohm: float) -> float | None:
    """The greatest loop resistance [ohm] that works, down to four digits; None where all do.

    >>> greatest_loop(lambda ohms: ohms <= 0.31459, 0.25)
    0.3145
    """
    if works(_NO_LIMIT_OHM):
        return None
    low, high = works_at_ohm, _NO_LIMIT_OHM
    while _down(high) > _down(low) and high - low > 1e-9 * low:
        middle = 0.5 * (low + high) if high < 2.0 * low else (low * high) ** 0.5
        if works(middle):
            low = middle
        else:
            high = middle
    stated = _down(low)
    return stated if works(stated) else low


def _down(value: float) -> float:
    step = 10.0 ** (floor(log10(value)) + 1 - _DIGITS)
    return round(floor(value / step * (1 + 1e-12)) * step, 12)


def _parts_to_try(rig: Rig) -> tuple[float, ...]:
    """The parts of a greatest loop resistance to try: less of it draws more into what grows with its voltage."""
    return _LESS if any(branch.load.grows_with_voltage for branch in rig.branches) else _LESS[:1]


def works(verdict: Verdict, contract: Contract) -> bool:
    """The rig does its job, as set or on a fall-back."""
    return verdict in WORKS


def works_as_set(verdict: Verdict, contract: Contract) -> bool:
    """The rig does its job on what its trigger asks for."""
    return verdict in WORKS and contract.outcome in ("as-asked", "type-c")


def runs(verdict: Verdict, contract: Contract) -> bool:
    """The rig does its job, and nothing speaks against it."""
    return verdict == "runs"
