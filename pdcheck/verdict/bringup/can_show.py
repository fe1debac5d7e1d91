"""Which faults the digits of a meter can show on a sheet, from which size on, and which they cannot."""

from __future__ import annotations

import math

import numpy as np

from pdcheck.facts.trade import METER_COARSE, METER_FINE
from pdcheck.named import NamedTuple
from pdcheck.verdict.bringup.diagnosis import NAMED
from pdcheck.verdict.bringup.fit import Fitter, Taken, covariance, sigma_of, weights_of
from pdcheck.verdict.bringup.kinds import KINDS
from pdcheck.verdict.bringup.meter import Meter
from pdcheck.verdict.bringup.predicted import Bench, asked
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.unknowns import Unknown, unknowns

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
