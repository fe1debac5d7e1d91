"""What readings can tell: two explanations apart, by one further reading, and the smallest faults, by a whole sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated

import numpy as np

from pdcheck.facts.trade import METER_COARSE, METER_FINE
from pdcheck.named import NamedTuple
from pdcheck.result import UNTOLD, Named
from pdcheck.verdict.bringup.diagnosis import NAMED, Diagnosis, Explained
from pdcheck.verdict.bringup.fit import Fitter, Taken, covariance, sigma_of, weights_of
from pdcheck.verdict.bringup.kinds import KINDS
from pdcheck.verdict.bringup.predicted import Asked, Bench, Floats, asked
from pdcheck.verdict.bringup.sheet import Filled, Meter
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.unknowns import Unknown, unknowns
from pdcheck.verdict.bringup.words import MeterUnit, Reading

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
