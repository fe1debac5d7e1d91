"""Need: the least source and the least cable that a rig works on, found by judging it on every class of them.

Sources are those of the power rules, one for each whole watt of PDP with the least set of offers that it must have;
cables are those of 3 A, of 5 A and of EPR. What is stated is tight: the rig works on it, and on nothing one step lower.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache, lru_cache, partial
from itertools import islice
from math import floor, log10
from typing import Annotated, get_args

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
from pdcheck.marks import UNTOLD, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.choices import CableClass
from pdcheck.parts.request import AvsRequest, NoRequest, PpsRequest, Request
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple, under
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS, Verdict
from pdcheck.verdict.greatest import fails_at_worst
from pdcheck.verdict.judge import Judgement, judge
from pdcheck.verdict.matrix.cells import RigCells, Shared
from pdcheck.verdict.need.spans import Accept, Found, Place, lowest_on, lowest_unsafe_w, spans_on, tops_on
from pdcheck.verdict.need.to_buy import CableToBuy, SourceToBuy, cable_to_buy, source_to_buy
from pdcheck.verdict.not_judged import place_of

CLASSES: tuple[CableClass, ...] = get_args(CableClass)
PDPS_W = range(1, round(EPR_POWER_MAX.value) + 1)

# A cable may have any loop resistance up to its limit, so one at the limit is tried first; where no charger works with
# that, one with less, as a part of the limit: half of it, a quarter, next to nothing.
_SHARES_OF_LIMIT = (1.0, 0.5, 0.25, 0.01)
_LESS = (1.0, 0.5, 0.0)
# Beyond this no cable goes: what works even here needs no limit [ohm].
_NO_LIMIT_OHM = 1000.0
_DIGITS = 4
# Loop resistances that are judged together.
_AT_ONCE = 8


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
    offers: list[Offer] = [fixed(_milli(volts), _milli(amperes)) for volts, amperes in fixed_offers_for(pdp_w)]
    if kind == "pps":
        offers += [pps(_milli(p.min_v), _milli(p.max_v), _milli(p.current_a)) for _, p in pps_set_for(pdp_w)]
    if kind == "avs":
        low, high = spr_avs_for(pdp_w), epr_avs_for(pdp_w)
        if low is not None:
            offers.append(spr_avs(_milli(low.current_a), _milli(low.current_20v_a)))
        if high is not None:
            offers.append(epr_avs(_milli(high.min_v), _milli(high.max_v), pdp_w))
    typec_a = None
    if kind == "none":
        given = round_down_a(pdp_w / FIRST_OBJECT_VOLTAGE.value)
        typec_a = max((each.current_a for each in ADVERTISEMENTS if each.current_a <= given), default=given)
    return Source(id=f"pdp-{pdp_w}w", offers=arranged(offers), typec_current_a=typec_a)


def _milli(figure: float | None) -> int:
    """Volts or amperes in thousandths, as offers have them."""
    return round((figure or 0.0) * 1000)


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


@lru_cache(maxsize=1000)
def cable_of(cable_class: CableClass, loop_ohm: float) -> Cable:
    """A C-to-C cable of a class with a loop resistance [ohm], the same object each time.

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


_LIMITS: Mapping[CableClass, float] = {each: class_limit_ohm(each) for each in CLASSES}


class Market:
    """Every class of source and cable, and how rigs do on them."""

    def __init__(self) -> None:
        self.shared = Shared()
        self._lowest: dict[tuple[int, Accept, float], Place | None] = {}
        self._cells: dict[int, RigCells] = {}

    def lowest(self, rig: Rig, accept: Accept, share: float = 1.0) -> Place | None:
        """The least class of cable at a share of its limit, and the lowest PDP [W], on which a rig is accepted.

        Where a better cable may be asked more of, it is accepted on any up to that share.
        """
        # Rigs by identity: each is kept, by its cells.
        key = (id(rig), accept, share)
        if key not in self._lowest:
            loops = {each: share * limit for each, limit in _LIMITS.items()}
            self._lowest[key] = lowest_on(CLASSES, PDPS_W, OnMarket(self, rig, loops), accept)
        return self._lowest[key]

    def surely_none(self, rig: Rig, accept: Accept, pdps_w: Sequence[int]) -> bool:
        """Whether a rig fails, at the corner that asks the most, wherever it could be accepted on some PDPs [W]."""
        rig_at = self.at_limits(rig)
        return all(fails_at_worst(rig_at.case(top)) for top in tops_on(CLASSES, pdps_w, rig_at, accept))

    def unsafe_from_w(self, rig: Rig) -> int | None:
        """The lowest PDP [W] on which a rig must not be connected; None where there is none."""
        return lowest_unsafe_w(CLASSES, PDPS_W, self.at_limits(rig))

    def at_limits(self, rig: Rig) -> OnMarket:
        """A rig over cables at their limits."""
        return OnMarket(self, rig, _LIMITS)

    def cells(self, rig: Rig) -> RigCells:
        """What judges a rig, the same object each time."""
        if id(rig) not in self._cells:
            self._cells[id(rig)] = RigCells(rig, self.shared, loads=False)
        return self._cells[id(rig)]

    def need(self, rig: Rig, accept: Accept) -> Need | None:
        """The least source and cable on which a rig's verdict and contract are accepted; None where none is.

        The lowest PDP on any class of cable comes first, then the least class that does on it, then the greatest loop
        resistance that these two do on. Cables better than their limit count only where nothing works at the limit.
        """
        for share in _SHARES_OF_LIMIT:
            lowest = self.lowest(rig, accept, share)
            if lowest is not None:
                best, pdp_w = lowest
                return self._tightened(rig, accept, best, pdp_w, share * class_limit_ohm(best))
            if self.lowest(rig, works, share) is not None:
                break
        return None

    def _tightened(self, rig: Rig, accept: Accept, best: CableClass, pdp_w: int, loop_ohm: float) -> Need:
        source = source_of(pdp_w, kind_of_source(rig.trigger.request))
        cells, parts = self.cells(rig), _parts_to_try(rig)

        def accepted(cable_class: CableClass, loops: Sequence[float]) -> list[bool]:
            like = cable_of(cable_class, loop_ohm)
            better = (Triple.exact(part * ohms) for ohms in loops for part in parts)
            pairs = [(source, like.model_copy(update={"loop": loop})) for loop in better]
            found = [
                accept(outcome.verdict, self.shared.contract(rig.trigger, *pair))
                for pair, outcome in zip(pairs, cells.outcomes(pairs), strict=True)
            ]
            return [all(found[at : at + len(parts)]) for at in range(0, len(found), len(parts))]

        greatest = greatest_loop(partial(accepted, best), loop_ohm)
        # A lesser cable may do as well where it has less resistance than its own limit.
        starts = [ohms for ohms in (greatest, loop_ohm) if ohms is not None]
        for lesser in CLASSES[: CLASSES.index(best)]:
            able = [ohms for ohms, fits in zip(starts, accepted(lesser, starts), strict=True) if fits]
            if able:
                best, greatest = lesser, greatest_loop(partial(accepted, lesser), able[0])
                break
        stated = cable_of(best, loop_ohm if greatest is None else greatest)
        up_to_w = self._up_to_w(rig, accept, best, stated.loop_ohm()[0].max, pdp_w)
        return Need(pdp_w, up_to_w, best, greatest, judge(rig, source, stated))

    def _up_to_w(self, rig: Rig, accept: Accept, cable_class: CableClass, loop_ohm: float, pdp_w: int) -> int:
        """The last PDP [W] of the run from ``pdp_w`` on which the rig is accepted over a cable of a loop resistance."""
        more_w = range(pdp_w + 1, round(EPR_POWER_MAX.value) + 1)
        spans = spans_on(cable_class, more_w, OnMarket(self, rig, {cable_class: loop_ohm}))
        beyond = (span.from_w for span in spans if not accept(span.verdict, span.contract))
        return next(beyond, more_w.stop) - 1


class OnMarket:
    """A rig on the market's sources over cables of some loop resistances [ohm], by their class, and over better ones.

    What is found is the gravest over all of these.
    """

    def __init__(self, market: Market, rig: Rig, loops: Mapping[CableClass, float]) -> None:
        self._rig, self._market, self._shared = rig, market, market.shared
        self._kind = kind_of_source(rig.trigger.request)
        self._cables = {
            each: [cable_of(each, part * loop) for part in _parts_to_try(rig)] for each, loop in loops.items()
        }

    def contract(self, place: Place) -> Contract:
        """The contract at a place."""
        cable_class, pdp_w = place
        return self._shared.contract(self._rig.trigger, source_of(pdp_w, self._kind), self._cables[cable_class][0])

    def case(self, place: Place) -> Case:
        """The case at a place, over the cable of most resistance."""
        cable_class, pdp_w = place
        return Case(self._rig, source_of(pdp_w, self._kind), self._cables[cable_class][0], self.contract(place))

    def at(self, places: Sequence[Place]) -> list[Found]:
        """Verdict and contract at some places."""
        pairs = [(source_of(pdp_w, self._kind), cable) for each, pdp_w in places for cable in self._cables[each]]
        verdicts = (outcome.verdict for outcome in self._market.cells(self._rig).outcomes(pairs))
        return [
            (min(islice(verdicts, len(self._cables[place[0]])), key=place_of), self.contract(place)) for place in places
        ]


def greatest_loop(works: Callable[[Sequence[float]], Sequence[bool]], works_at_ohm: float) -> float | None:
    """The greatest loop resistance [ohm] that works, down to four digits; None where all do.

    ``works`` is asked about many of them at a time: what lies between the last that works and the next is divided
    again, until both have the same four digits.

    >>> greatest_loop(lambda loops: [ohms <= 0.31459 for ohms in loops], 0.25)
    0.3145
    """
    [without_limit] = works([_NO_LIMIT_OHM])
    if without_limit:
        return None
    low, high = works_at_ohm, _NO_LIMIT_OHM
    while _down(high) > _down(low) and high - low > 1e-9 * low:
        ratio = high / low
        steps = [
            low * ratio ** (at / _AT_ONCE) if ratio > 2.0 else low + (high - low) * at / _AT_ONCE
            for at in range(1, _AT_ONCE)
        ]
        held = works(steps)
        last = next((at for at, holds in enumerate(held) if not holds), len(steps))
        low, high = ([low, *steps][last], [*steps, high][last])
    # On the limit passes: where that is a round figure, it is the upper one.
    rounded = [_down(high), _down(low)]
    return next((ohms for ohms, holds in zip(rounded, works(rounded), strict=True) if holds), low)


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
