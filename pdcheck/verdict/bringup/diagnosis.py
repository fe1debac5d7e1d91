"""One diagnosis of all readings: the smallest set of faults that explains them, and what else would explain as much."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pdcheck.facts.trade import METER_RANGES_A
from pdcheck.named import NamedTuple
from pdcheck.verdict.bringup.fit import Fit, Fitter, Taken, covariance, sigma_of, weights_of
from pdcheck.verdict.bringup.predicted import Asked, Bench, Bools, Floats, foretold
from pdcheck.verdict.bringup.sheet import Filled, Measured, Meter, meter_of, slips_of
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.suspects import SIZES, Suspect, of_bench, of_pen
from pdcheck.verdict.bringup.unknowns import Unknown, unknowns
from pdcheck.verdict.case import Case

NAMED = 14.0
"""How much better (chi-squared) a fault must explain the readings to be named: by chance once in some thousand."""
POSSIBLE = 9.0
"""How much worse another explanation may be and still stay possible: three standard deviations."""
WIDE = 2.3
"""Standard deviations to either end of a bound: nineteen times of twenty the truth is inside."""
MOST_FAULTS = 3
_BEAM = 6
_LOOKED_AT = 30
_HINT = 3.0
_NEAR = 4.0
_GUESSED = 3.0
_EACH_FAULT = 10.0
_ANYTHING = 3.0
SCATTER = 1.0
"""How much of its error (a part) a meter may have in each reading by itself, where the readings do not fit without."""


class Explained(NamedTuple):
    """A set of faults fitted to the readings: what it costs, the unknowns with it, and the digits' own uncertainty."""

    faults: tuple[Suspect, ...]
    cost: float
    point: Floats
    shown: Floats
    slopes: Floats
    values: Floats
    weights: Floats
    precision: Floats

    @property
    def score(self) -> float:
        """What it costs, with what counts against its faults; the larger one is, the more."""
        return self.cost + sum(each.rarer + self._large(each) for each in self.faults)

    def spread(self, precision: Floats) -> Floats:
        """How far the unknowns may be off together, each held with so much precision."""
        return covariance(self.slopes, self.weights, precision)

    def _large(self, fault: Suspect) -> float:
        size = SIZES.get(fault.kind)
        return 0.0 if size is None else float((self.point[fault.frees[0]] - 1.0) / size) ** 2


class Diagnosis(NamedTuple):
    """What explains the readings: ``best``, what stays possible beside it, in order, and the model behind it."""

    fitter: Fitter
    meter: Meter
    best: Explained
    others: tuple[Explained, ...]
    scatter: float = 0.0

    @property
    def strained(self) -> bool:
        """Whether the readings are far from what explains them best."""
        return self.best.cost > 1.5 * len(self.fitter.taken.values) + NAMED

    @property
    def unlikely(self) -> float:
        """How unlikely the readings are, however exact the meter is taken to be (twice the negative log of it).

        A fault counts against it, and a reading that is left out counts as one that may be anything of its size.
        """
        best, taken = self.best, self.fitter.taken
        sizes = np.where(best.weights > 0, taken.sigmas, _ANYTHING * np.abs(taken.values) + taken.sigmas)
        lean = best.slopes / np.sqrt(self.fitter.tight)[:, None]
        spread = np.linalg.slogdet(np.eye(len(lean)) + (lean * best.weights) @ lean.T)[1]
        return best.score + _EACH_FAULT * len(best.faults) + 2.0 * float(np.log(sizes).sum()) + float(spread)

    def fits(self) -> frozenset[str]:
        """The readings, by name, that the best explanation comes near to."""
        taken, best = self.fitter.taken, self.best
        near = ((best.values - best.shown) ** 2 * best.weights < _NEAR**2) & (best.weights > 0)
        return frozenset(asked.reading.name for asked, fits in zip(taken.readings, near, strict=True) if fits)


def readings_of(plan: BringUp, case: Case, filled: Filled) -> list[tuple[Asked, Measured]]:
    """The readings that were taken and that the sums foretell on a contract, in the order of the plan."""
    found = []
    for step in plan.steps:
        dark = [name for name in step.branches if name in case.off]
        for reading in step.readings:
            taken = filled.get(reading.path, reading.key)
            if taken is None or not foretold(reading) or not math.isfinite(taken.value):
                continue
            if reading.unit == "ohm" and not _powered(filled, reading.path[-1]):
                continue  # alone it is no evidence: what it says is told before anything is plugged in
            if dark and (len(step.branches) == 1 or any(reading.node.startswith(f"{name}/") for name in dark)):
                continue
            found.append((Asked(reading, step), taken))
    return _ranges(found)


def _powered(filled: Filled, name: str) -> bool:
    """Whether anything was read of a branch with power on it."""
    return any(name in path and path[0] in ("branch", "together") for path, _ in filled.readings)


def _ranges(found: list[tuple[Asked, Measured]]) -> list[tuple[Asked, Measured]]:
    """The same with the readings in the meter's higher range marked: several with the coarsest last digit of a unit."""
    steps: dict[str, list[float]] = {}
    for asked, taken in found:
        steps.setdefault(asked.reading.unit, []).append(round(taken.half, 12))
    high = {unit: max(halves) for unit, halves in steps.items() if 1 < halves.count(max(halves)) < len(halves)}
    return [
        (asked._replace(high=high.get(asked.reading.unit) == round(taken.half, 12)), taken) for asked, taken in found
    ]


def diagnose(plan: BringUp, case: Case, filled: Filled) -> Diagnosis | None:
    """Find the smallest set of faults that explains all readings; None where there are none to explain."""
    found = readings_of(plan, case, filled)
    if not found:
        return None
    meter = meter_of(filled)
    listed = unknowns(case, meter)
    best = _tried(case, meter, listed, found, 0.0)
    if best is None or not (best.best.faults or best.strained):
        return best
    # A fault, or a meter that errs otherwise than alike in all readings: what explains them with less is believed.
    other = _tried(case, meter, listed, found, SCATTER)
    if other is not None and other.unlikely < best.unlikely:
        best = other
    faults = best.best.faults
    if len(faults) > 1 or best.strained or any(each.kind == "reading" for each in faults):
        ranged = _by_value(best, found)
        other = None if ranged is None else _tried(case, meter, listed, ranged, best.scatter)
        if other is not None and other.unlikely < best.unlikely - _GUESSED:
            best = other
    return best


def _tried(
    case: Case, meter: Meter, listed: tuple[Unknown, ...], found: list[tuple[Asked, Measured]], scatter: float
) -> Diagnosis | None:
    """The search with readings as they are marked; None where the rig as stated has no operating point."""
    sigmas = [sigma_of(asked, each.value, each.half, meter, scatter) for asked, each in found]
    taken = Taken(tuple(asked for asked, _ in found), np.array([each.value for _, each in found]), np.array(sigmas))
    in_line = frozenset(asked.reading.name for asked, _ in found)
    fitter = Fitter(Bench(case, listed, in_line), listed, taken)
    shown = fitter.bench.shows(fitter.start[None], taken.readings)[0]
    if np.isnan(shown).any():
        return None
    suspects = [*of_bench(listed), *of_pen(taken, shown, [_turned(each) for _, each in found])]
    return _search(fitter, meter, suspects)._replace(scatter=scatter)


def _by_value(best: Diagnosis, found: list[tuple[Asked, Measured]]) -> list[tuple[Asked, Measured]] | None:
    """The same with the currents from the end of a usual range on marked as read in the next one, if that helps.

    For digits that do not show the range: a meter may keep its number of places over two of them.
    """
    at = best.fitter.bench.at.get(("meter", "A high"))
    amperes = np.array([asked.reading.unit == "A" for asked, _ in found])
    if at is None or any(asked.high for asked, _ in found if asked.reading.unit == "A"):
        return None
    sizes = np.abs(best.fitter.taken.values)
    plain = explained(best.fitter, [()])[0]
    released = np.array([[False] * len(plain.point)])
    released[0, at] = True
    tried: dict[int, tuple[float, float]] = {}
    for end in METER_RANGES_A:
        above = amperes & (sizes >= end)
        if 1 <= above.sum() <= amperes.sum() - 2:
            slopes = plain.slopes.copy()
            slopes[at] = np.where(above, plain.shown, 0.0)
            place = plain.point, plain.shown, slopes
            cost = best.fitter.foreseen(place, released, plain.values[None], best.fitter.taken.sigmas[None])
            tried.setdefault(int(above.sum()), (float(cost[0]), end))
    if not tried or min(tried.values())[0] > plain.cost - NAMED:
        return None
    end = min(tried.values())[1]
    return [
        (asked._replace(high=abs(taken.value) >= end) if asked.reading.unit == "A" else asked, taken)
        for asked, taken in found
    ]


def _turned(taken: Measured) -> list[float]:
    places = max(0, round(-math.log10(2 * taken.half))) if taken.half > 0 else 0
    return [float(each) for each in slips_of(f"{taken.value:.{places}f}")]


def _search(fitter: Fitter, meter: Meter, suspects: Sequence[Suspect]) -> Diagnosis:
    level = explained(fitter, [()])
    best, others = level[0], level[:0]
    for _ in range(MOST_FAULTS):
        if best.cost < NAMED:
            break
        sets = {
            frozenset((*each.faults, more)): (*each.faults, more)
            for each in level[:_BEAM]
            for more in _promising(fitter, each, [more for more in suspects if _goes_with(each.faults, more)])
        }
        if not sets:
            break
        level = explained(fitter, list(sets.values()))
        if not level or level[0].score > best.score - NAMED:
            break
        best, others = level[0], level[1:]
    near = [each for each in others if each.score <= best.score + POSSIBLE]
    return Diagnosis(fitter, meter, _in_order(fitter, best), _distinct(best, near))


def _promising(fitter: Fitter, base: Explained, suspects: Sequence[Suspect]) -> list[Suspect]:
    """Those that would explain most by the slopes where the readings were explained so far: a look before the fits."""
    if not suspects:
        return []
    released, values, sigmas = _rows(fitter, [(*base.faults, more) for more in suspects])
    costs = fitter.foreseen((base.point, base.shown, base.slopes), released, values, sigmas)
    if not base.faults:  # a reading that is far out may have pulled the fit away from anything
        costs = np.minimum(costs, fitter.foreseen(fitter.stated, released, values, sigmas))
    scores = costs + np.array([each.rarer for each in suspects])
    order = np.argsort(scores)[: _LOOKED_AT if not base.faults else _LOOKED_AT // 3]
    return [suspects[index] for index in order if scores[index] < base.cost - _HINT]


def _goes_with(faults: tuple[Suspect, ...], more: Suspect) -> bool:
    """Whether a fault is another one than those that are there: no unknown and no reading twice."""
    freed = {index for each in faults for index in each.frees}
    read = {index for each in faults for index, _ in each.reads}
    same = any((each.kind, each.subject) == (more.kind, more.subject) for each in faults)
    return not same and not freed & set(more.frees) and not read & {index for index, _ in more.reads}


def _distinct(best: Explained, others: Sequence[Explained]) -> tuple[Explained, ...]:
    """The others, each set of names once."""
    by_name: dict[frozenset[tuple[str, str]], Explained] = {}
    for each in others:
        by_name.setdefault(_names(each), each)
    by_name.pop(_names(best), None)
    return tuple(by_name.values())


def _names(each: Explained) -> frozenset[tuple[str, str]]:
    kinds = ((fault.kind, "" if fault.kind == "burden" else fault.subject) for fault in each.faults)
    return frozenset(kinds)


def _in_order(fitter: Fitter, best: Explained) -> Explained:
    """The same with the fault first without which the readings are explained worst; readings that fit nothing last."""
    if len(best.faults) < 2:
        return best
    without = {
        each: explained(fitter, [tuple(one for one in best.faults if one != each)])[0].cost for each in best.faults
    }
    return best._replace(faults=tuple(sorted(best.faults, key=lambda each: (each.kind == "reading", -without[each]))))


def explained(fitter: Fitter, sets: Sequence[tuple[Suspect, ...]]) -> list[Explained]:
    """Fit each set of faults; the one that explains best comes first."""
    released, values, sigmas = _rows(fitter, sets)
    fit: Fit = fitter.fit(released, values, sigmas)
    columns = fit.cost.tolist(), fit.points, fit.shown, fit.slopes, values, weights_of(sigmas), fit.precision
    found = (Explained(*row) for row in zip(sets, *columns, strict=True))
    return sorted((each for each in found if math.isfinite(each.cost)), key=lambda each: each.score)


def _rows(fitter: Fitter, sets: Sequence[tuple[Suspect, ...]]) -> tuple[Bools, Floats, Floats]:
    """What each set of faults frees, and the readings as it takes them, with their standard deviations."""
    rows, count = len(sets), len(fitter.listed)
    released = np.zeros((rows, count), dtype=bool)
    values = np.repeat(fitter.taken.values[None], rows, 0)
    sigmas = np.repeat(fitter.taken.sigmas[None], rows, 0)
    for row, faults in enumerate(sets):
        for each in faults:
            released[row, list(each.frees)] = True
            for index, value in each.reads:
                if value is None:
                    sigmas[row, index] = np.inf
                else:
                    values[row, index] = value
                    sigmas[row, index] = max(sigmas[row, index] * max(abs(each.factor), 1e-6), each.sigma)
    return released, values, sigmas
