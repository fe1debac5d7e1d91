"""What readings tell: causes in words, what else is possible, what would decide, and the smallest faults that show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated

import numpy as np

from pdcheck.facts.trade import METER_COARSE, METER_FINE
from pdcheck.marks import UNTOLD, Mark, Named
from pdcheck.named import NamedTuple
from pdcheck.quantities import format_quantity
from pdcheck.verdict.bringup.cause import Cause, Implied, cause_of, figure, implied, slip_of
from pdcheck.verdict.bringup.diagnosis import NAMED, Diagnosis, Explained, diagnose
from pdcheck.verdict.bringup.fit import Fitter, Taken, covariance, sigma_of, weights_of
from pdcheck.verdict.bringup.predicted import Asked, Bench, Floats, asked
from pdcheck.verdict.bringup.sheet import Filled, Meter
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.suspects import Suspect
from pdcheck.verdict.bringup.unknowns import KINDS, Unknown, unknowns
from pdcheck.verdict.bringup.words import MeterUnit, Reading
from pdcheck.verdict.case import Case

TELLS = 4.5
"""How many standard deviations apart two explanations must put a reading for it to tell them apart."""


class Further(NamedTuple):
    """A reading that would decide, and what it would show: if the first explanation holds, and if the second does."""

    reading: Annotated[Reading, UNTOLD]
    name: Annotated[str, Named("reading")]
    unit: MeterUnit
    first: float
    second: float


def unread(plan: BringUp, filled: Filled, off: frozenset[str]) -> list[Asked]:
    """The readings of a plan that were not taken and that the sums foretell, in order."""
    lit = asked(step for step in plan.steps if off.isdisjoint(step.branches))
    open_ = (each for each in lit if filled.get(each.reading.path, each.reading.key) is None)
    return [each for each in open_ if each.reading.key != "input_ohm"]


def step_of(asked: Asked, value: float) -> float:
    """Half the last digit that a meter would probably show of a value: three digits of a volt or ampere."""
    return 0.005 if asked.reading.unit == "V" else 0.0005 if value < 1 else 0.005


def further(plan: BringUp, filled: Filled, found: Diagnosis, others: Sequence[Explained]) -> Further | None:
    """The reading, of those that were not taken, that tells the best explanation from the first other one.

    Of several that do, the one that tells it from most of the others too; None where none does.
    """
    open_ = unread(plan, filled, found.fitter.bench.case.off)
    if not open_ or not others:
        return None
    first, one = predicted(found, found.best, open_)
    gaps, shown = [], []
    for other in others:
        second, two = predicted(found, other, open_)
        shown.append(second)
        gap = np.abs(first - second) / np.sqrt(one**2 + two**2 + last_digits(open_, first, found) ** 2)
        gaps.append(np.nan_to_num(gap))
    gap = gaps[0]
    begun = {path for path, _ in filled.readings}
    # Where the meter is already, a reading that decides is worth more than a better one a step further on.
    near = np.array([each.step.path in begun or each.reading.path in begun for each in open_])
    decided = sum((each > TELLS).astype(float) for each in gaps)
    clear = gap > 1.3 * TELLS
    at = int(np.argmax(np.where(clear, 1e6 * (2 * decided + near), 0.0) + gap))
    if not gap[at] > TELLS:
        return None
    reading = open_[at].reading
    return Further(reading, reading.name, reading.unit, float(first[at]), float(shown[0][at]))


def predicted(found: Diagnosis, each: Explained, readings: list[Asked]) -> tuple[Floats, Floats]:
    """What an explanation puts each reading at, and its standard deviation."""
    slopes = found.fitter.slopes(each.point[None], readings)[1][0]
    spread = each.spread(each.precision)
    shown = found.fitter.bench.shows(each.point[None], readings)[0]
    return shown, np.sqrt(np.einsum("pm,pq,qm->m", slopes, spread, slopes).clip(0.0))


def last_digits(readings: list[Asked], values: Floats, found: Diagnosis) -> Floats:
    """The standard deviation that their last digits leave to readings of some values."""
    shown = [(asked, float(value)) for asked, value in zip(readings, values, strict=True)]
    return np.array(
        [sigma_of(asked, value, step_of(asked, value), found.meter, found.scatter) for asked, value in shown]
    )


_SURELY = 1.9
"""Standard deviations more than a fault needs to be named by: then it is named 97 times of a hundred."""
_TOLD = {"source", *(name for name, kind in KINDS.items() if kind.called)}


class Least(NamedTuple):
    """The smallest fault of one kind that a meter shows: beyond what is usual, in the unit of its figure."""

    unknown: Unknown
    size: float

    @property
    def shows(self) -> bool:
        """Whether it is small enough to be of use: no larger than faults are."""
        return self.size < self.unknown.size


def can_show(plan: BringUp, digits: int) -> tuple[Least, ...]:
    """The smallest fault of each kind that a whole sheet shows with a meter of so many digits; none of a dark one."""
    case = plan.case
    share = (METER_FINE if digits >= 4 else METER_COARSE).value
    meter = Meter(share, share, 0.0)
    listed = unknowns(case, meter)
    readings = tuple(each for each in asked(plan.steps) if each.reading.unit != "ohm")
    fitter = Fitter(Bench(case, listed), listed, Taken(readings, np.empty(0), np.empty(0)))
    shown = fitter.bench.shows(fitter.start[None], readings)[0]
    if case.contract.outcome == "off" or case.off or np.isnan(shown).any():
        return ()
    halves = [0.5 * 10.0 ** (math.floor(math.log10(max(abs(each), 1e-3))) + 1 - digits) for each in shown]
    sigmas = [
        sigma_of(each, float(value), half, meter) for each, value, half in zip(readings, shown, halves, strict=True)
    ]
    weights = weights_of(np.array(sigmas))
    slopes = fitter.stated[2]
    found = []
    for index, unknown in enumerate(listed):
        if unknown.kind in _TOLD:
            spread = covariance(slopes, weights, fitter.freed(fitter.tight, index))
            away = math.sqrt(NAMED + KINDS[unknown.kind].rarer) + _SURELY
            found.append(Least(unknown, away * math.sqrt(float(spread[index, index] + unknown.sigma**2))))
    return tuple(found)


MOST_OTHERS = 3


class Other(NamedTuple):
    """Another set of faults that would explain the readings about as well."""

    causes: Annotated[tuple[str, ...], Mark(list, {"type": "array", "items": {"type": "string"}})]
    text: str


class Found(NamedTuple):
    """What all readings say together."""

    causes: tuple[Cause, ...] = ()
    implied: tuple[Implied, ...] = ()
    others: tuple[Other, ...] = ()
    further: Further | None = None
    fits: frozenset[str] = frozenset()
    """The readings, by name, that this leaves nothing to explain of."""
    model: Diagnosis | None = None


def found_in(plan: BringUp, case: Case, filled: Filled, *, reversed_poles: bool = False) -> Found:
    """Diagnose the readings of a sheet on a contract; with poles reversed there is nothing to diagnose."""
    found = None if reversed_poles or case.contract.outcome == "off" else diagnose(plan, case, filled)
    if found is None:
        return Found()
    causes = _causes(plan, case, filled, found, found.best)
    others: list[Other] = []
    kept: list[Explained] = []
    for each in found.others:
        also = [one for one in _causes(plan, case, filled, found, each) if one.level != "note"]
        mine = {_named(one) for one in causes if one.level != "note"}
        names = tuple(f"{one.kind} {one.subject}" for one in also)
        if not mine or not also or {_named(one) for one in also} == mine:
            continue
        if len(others) < MOST_OTHERS and names not in [one.causes for one in others]:
            others.append(Other(names, "; ".join(f"{one.subject}: {one.text}" for one in also)))
            kept.append(each)
    decides = further(plan, filled, found, kept)
    return Found(tuple(causes), tuple(implied(case, found)), tuple(others), decides, found.fits(), found)


def _named(cause: Cause) -> tuple[str, str]:
    """What a cause is called; a reading that is wrong is that, however it came about."""
    return "slip" if cause.kind == "unexplained" else cause.kind, cause.subject


def _causes(plan: BringUp, case: Case, filled: Filled, found: Diagnosis, each: Explained) -> list[Cause]:
    shown = typed_of(plan, filled)
    made = []
    for fault in each.faults:
        if fault.kind == "source-voltage":
            continue  # the trigger's own reading says it: see the contract that it shows
        if fault.reads and _meter_may(found, each, fault):
            continue
        if fault.frees:
            made.append(cause_of(figure(case, found, each, fault.frees[0]), case))
        else:
            made.append(slip_of(fault, shown))
    return made


def _meter_may(found: Diagnosis, each: Explained, fault: Suspect) -> bool:
    """Whether readings that seem wrong are only off by what two ranges of the meter may differ: nobody's fault."""
    taken, shown = found.fitter.taken, each.shown

    def near(index: int) -> bool:
        share = found.meter.share_of(taken.readings[index].reading.unit)
        most = 2.5 * share * abs(shown[index]) + 4.0 * taken.sigmas[index]
        return bool(abs(taken.values[index] - shown[index]) <= most)

    return all(near(index) for index, _ in fault.reads)


def typed_of(plan: BringUp, filled: Filled) -> dict[str, str]:
    """The readings as they were typed, by name."""
    return {
        reading.name: format_quantity(taken.value, reading.unit, 6) if reading.unit else "yes"
        for reading in plan.readings
        if (taken := filled.get(reading.path, reading.key)) is not None and abs(taken.value) != float("inf")
    }
