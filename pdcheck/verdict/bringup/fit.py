"""All readings of a sheet fitted at once: Gauss-Newton on the solved circuit, for many suspicions side by side."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pdcheck.facts.trade import OHMMETER_LEADS, OHMMETER_SHARE
from pdcheck.named import NamedTuple
from pdcheck.verdict.bringup.predicted import Asked, Bench, Bools, Floats
from pdcheck.verdict.bringup.sheet import Meter
from pdcheck.verdict.bringup.unknowns import UNIFORM, Unknown

_FLAT = 10.0
_STEPS = 12
_SETTLED = 1e-2
_SHORTER = 5
_ENDS = 3


class Taken(NamedTuple):
    """Readings as numbers: what each shows, and the standard deviation of what its last digit leaves open."""

    readings: tuple[Asked, ...]
    values: Floats
    sigmas: Floats


class _Held(NamedTuple):
    """Rows of readings as each is taken, with their weights, and how tightly each row holds its unknowns."""

    values: Floats
    weights: Floats
    precision: Floats

    def of(self, rows: NDArray[np.intp]) -> _Held:
        """The same of some rows."""
        return _Held(self.values[rows], self.weights[rows], self.precision[rows])


class Fit(NamedTuple):
    """Fitted benches, one a row: the unknowns, what they cost (chi-squared), and how the readings move with them.

    ``precision`` is one over the variance that each unknown was held with.
    """

    points: Floats
    cost: Floats
    shown: Floats
    slopes: Floats
    precision: Floats


def sigma_of(asked: Asked, value: float, half: float, meter: Meter, scatter: float = 0.0) -> float:
    """The standard deviation of a reading beside the meter's own factor: its last digit, an ohmmeter's leads.

    The last digit of a meter hops: a little more than a digit that is only rounded. With ``scatter`` (a part) of its
    error a reading is off on its own, and not with all others.
    """
    if asked.reading.unit == "ohm":
        return float(np.hypot(OHMMETER_SHARE.value * UNIFORM * abs(value), OHMMETER_LEADS.value) + half)
    alone = scatter * meter.share_of(asked.reading.unit) * UNIFORM * abs(value)
    return max(float(np.hypot(1.1 * half * UNIFORM, alone)), 2e-5 * abs(value), 1e-6)


class Fitter:
    """The readings of one sheet with the unknowns behind them; fits any set of suspicions."""

    def __init__(self, bench: Bench, listed: Sequence[Unknown], taken: Taken) -> None:
        self.bench, self.listed, self.taken = bench, tuple(listed), taken
        self.start = np.array([each.stated.typ for each in listed])
        self.tight = np.array([each.sigma for each in listed]) ** -2.0
        self.loose = np.array([_FLAT * each.size for each in listed]) ** -2.0
        self.ends = np.array([each.least for each in listed]), np.array([each.most for each in listed])
        self.nudge = np.array([max(1e-4 * each.size, 1e-5) for each in listed])

    def fit(self, released: Bools, values: Floats, sigmas: Floats) -> Fit:
        """Fit rows of suspicions: which unknowns are free in each, and the readings as each takes them.

        A reading that a row leaves out has an infinite ``sigmas``.
        """
        held = _Held(values, weights_of(sigmas), np.where(released, self.loose, self.tight))
        points = np.repeat(self.start[None], len(released), 0)
        shown, slopes = (np.repeat(each[None], len(released), 0) for each in self.stated[1:])
        cost = self._cost(points, shown, held)
        active = np.arange(len(released))
        for _ in range(_STEPS):
            now = held.of(active)
            move = self._move(points[active], shown[active], slopes[active], now)
            tried, least = self._search(points[active], cost[active], move, now)
            gained = cost[active] - least
            moved = gained > 0
            kept = active[moved]
            if not kept.size:
                break
            points[kept], cost[kept] = tried[moved], least[moved]
            shown[kept], slopes[kept] = self.slopes(points[kept], self.taken.readings)
            active = active[gained > _SETTLED]
            if not active.size:
                break
        return Fit(points, cost, shown, slopes, held.precision)

    def freed(self, precision: Floats, index: int) -> Floats:
        """The precision of each unknown with one of them held as loosely as a fault is."""
        found = precision.copy()
        found[index] = self.loose[index]
        return found

    @cached_property
    def stated(self) -> tuple[Floats, Floats, Floats]:
        """The bench as stated, what its readings show, and how they move from there."""
        shown, slopes = self.slopes(self.start[None], self.taken.readings)
        return self.start, shown[0], slopes[0]

    def foreseen(self, at: tuple[Floats, Floats, Floats], released: Bools, values: Floats, sigmas: Floats) -> Floats:
        """What each row would cost by what is shown at one point and its slopes, without solving anything."""
        point, shown, slopes = at
        rows = len(released)
        precision = np.where(released, self.loose, self.tight)
        weights = weights_of(sigmas)
        away = np.where(weights > 0, values - shown, 0.0)
        lean = np.repeat(slopes[None], rows, 0)
        right = np.einsum("cpm,cm->cp", lean, weights * away) + precision * (self.start - point)
        move = solved(lean, weights, precision, right)
        held = ((point - self.start) ** 2 * precision).sum(1)
        foreseen: Floats = (away**2 * weights).sum(1) + held - (right * move).sum(1)
        return foreseen

    def slopes(self, points: Floats, readings: Sequence[Asked]) -> tuple[Floats, Floats]:
        """What readings show on some benches, and their slopes over each unknown."""
        nudge = np.where(points + self.nudge > self.ends[1], -self.nudge, self.nudge)
        return self.bench.slopes(points, nudge, readings)

    def _cost(self, points: Floats, shown: Floats, held: _Held) -> Floats:
        off = np.where(held.weights > 0, (held.values - shown) ** 2 * held.weights, 0.0).sum(1)
        far = ((points - self.start) ** 2 * held.precision).sum(1)
        return np.where(np.isnan(off), np.inf, off + far)

    def _move(self, points: Floats, shown: Floats, slopes: Floats, held: _Held) -> Floats:
        """The step to where the readings would be explained best if all slopes stayed as they are."""
        away = np.where(held.weights > 0, held.values - shown, 0.0)
        right = np.einsum("cpm,cm->cp", slopes, held.weights * away) + held.precision * (self.start - points)
        move = solved(slopes, held.weights, held.precision, right)
        for _ in range(_ENDS):  # what would leave its range goes to the end of it, and the others as well as they can
            fixed = np.clip(points + move, *self.ends) - points
            beyond = np.abs(fixed - move) > 1e-9
            if not beyond.any():
                break
            stiff = np.where(beyond, 1e9 * self.tight, held.precision)
            move = np.where(beyond, fixed, solved(slopes, held.weights, stiff, np.where(beyond, stiff * fixed, right)))
        return move

    def _search(self, points: Floats, cost: Floats, move: Floats, held: _Held) -> tuple[Floats, Floats]:
        """Where the step leads and what that costs; a part of it where the whole leads to no better place."""
        best, least = points.copy(), cost.copy()
        share, left = np.ones(len(points)), np.arange(len(points))
        for _ in range(_SHORTER):
            at = np.clip(points[left] + share[left, None] * move[left], *self.ends)
            found = self._cost(at, self.bench.shows(at, self.taken.readings), held.of(left))
            good = found < least[left]
            best[left[good]], least[left[good]] = at[good], found[good]
            # Near the end a step that gains nothing is no reason to search.
            left = left[~good & ~(np.abs(found - least[left]) < _SETTLED)]
            share[left] /= 3.0
            if not left.size:
                break
        return best, least


def weights_of(sigmas: Floats) -> Floats:
    """One over the variance of each reading; nothing for one that is left out."""
    return np.where(np.isfinite(sigmas), sigmas, 1.0) ** -2.0 * np.isfinite(sigmas)


def solved(slopes: Floats, weights: Floats, precision: Floats, right: Floats) -> Floats:
    """The normal equations of weighted readings and held unknowns, solved for each row."""
    normal, scale = _normal(slopes, weights, precision)
    return np.linalg.solve(normal, (right * scale)[..., None])[..., 0] * scale


def covariance(slopes: Floats, weights: Floats, precision: Floats) -> Floats:
    """How far the unknowns of one bench may be off together."""
    normal, scale = _normal(slopes[None], weights[None], precision[None])
    spread: Floats = (np.linalg.inv(normal) * scale[:, :, None] * scale[:, None, :])[0]
    return spread


def _normal(slopes: Floats, weights: Floats, precision: Floats) -> tuple[Floats, Floats]:
    """The matrix of the normal equations of each row, its unknowns scaled to one size, and these scales."""
    scale = 1.0 / np.sqrt(precision)
    normal = np.einsum("cpm,cm,cqm->cpq", slopes, weights, slopes, optimize=True)
    return normal * scale[:, :, None] * scale[:, None, :] + np.eye(slopes.shape[1]), scale
