"""Who may be at fault: every figure of the bench that can be off, and every way of writing a reading down wrong."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import Literal

from pdcheck.named import NamedTuple
from pdcheck.verdict.bringup.fit import Taken
from pdcheck.verdict.bringup.predicted import Floats
from pdcheck.verdict.bringup.unknowns import KINDS, Unknown

Slip = Literal["factor", "sign", "swapped", "digits", "reading"]

# Input power alone does not tell a poor converter from a load that is larger: how far off each of them usually is (a
# part), so that a small excess is laid to the one and a large one to the other.
SIZES = {"efficiency": 0.13, "load": 0.35}
# As ``rarer`` of a kind of figure is.
RARER_SLIP: dict[Slip, float] = {"factor": 3.0, "sign": 3.0, "swapped": 5.0, "digits": 6.0, "reading": 10.0}
FACTORS = (1000.0, 1e-3, 10.0, 0.1, 100.0, 1e-2)


class Suspect(NamedTuple):
    """One fault that there may be: which unknowns it frees, or which readings (by index) it takes for others.

    ``rarer`` counts against it. A reading that is taken for none has the value None. ``sigma`` is the least standard
    deviation of what is read: a thousand times too much is often typed with zeros that the meter never showed.
    """

    kind: str
    subject: str
    rarer: float
    frees: tuple[int, ...] = ()
    reads: tuple[tuple[int, float | None], ...] = ()
    factor: float = 1.0
    sigma: float = 0.0


def of_bench(listed: Sequence[Unknown]) -> list[Suspect]:
    """Every figure of the bench that may be off; a load with what stands in for half of it, and on its own."""
    at = {(each.kind, each.subject): index for index, each in enumerate(listed)}
    found = []
    for index, each in enumerate(listed):
        if each.size <= each.sigma:
            continue
        found.append(Suspect(each.kind, each.subject, KINDS[each.kind].rarer, (index,)))
        other = at.get(("test-load", each.subject))
        if each.kind == "load" and other is not None:
            found.append(Suspect("load", each.subject, KINDS["load"].rarer + 4.0, (index, other)))
    return found


def of_pen(taken: Taken, shown: Floats, digits: Sequence[Sequence[float]]) -> list[Suspect]:
    """Every slip of the pen that would bring a reading nearer to what the sums ``shown`` say."""
    names = [each.reading.name for each in taken.readings]
    off = [abs(value - right) for value, right in zip(taken.values, shown, strict=True)]
    far = [miss > 4.0 * sigma for miss, sigma in zip(off, taken.sigmas, strict=True)]
    found: list[Suspect] = []
    for index, value in enumerate(taken.values):
        if value == 0.0:
            if far[index]:
                found.append(Suspect("reading", names[index], RARER_SLIP["reading"], (), ((index, None),)))
            continue
        for factor in FACTORS:
            near = 0.6 * abs(shown[index]) + 20 * taken.sigmas[index] * factor
            miss = abs(value * factor - shown[index])
            if miss < near and miss < 0.3 * off[index] and abs(shown[index]) > 3 * taken.sigmas[index] * factor:
                reads, coarse = ((index, float(value * factor)),), _coarsest(taken, index, float(shown[index]))
                found.append(Suspect("factor", names[index], RARER_SLIP["factor"], (), reads, factor, coarse))
        if abs(-value - shown[index]) < 0.6 * abs(shown[index]) + 20 * taken.sigmas[index] and value * shown[index] < 0:
            found.append(Suspect("sign", names[index], RARER_SLIP["sign"], (), ((index, float(-value)),), -1.0))
        if far[index]:
            for turned in digits[index]:
                if abs(turned - shown[index]) < 0.5 * off[index]:
                    found.append(Suspect("digits", names[index], RARER_SLIP["digits"], (), ((index, turned),)))
            found.append(Suspect("reading", names[index], RARER_SLIP["reading"], (), ((index, None),)))
    found += _swapped(taken)
    return found


def _coarsest(taken: Taken, index: int, near: float) -> float:
    """The coarsest that the meter shows a value of about that size, of the other readings in its unit."""
    unit = taken.readings[index].reading.unit
    alike = [
        float(sigma)
        for other, (each, value, sigma) in enumerate(zip(taken.readings, taken.values, taken.sigmas, strict=True))
        if other != index and each.reading.unit == unit and abs(near) / 3 < abs(value) < 3 * abs(near)
    ]
    return max(alike, default=0.0)


def _swapped(taken: Taken) -> Iterator[Suspect]:
    for one, other in itertools.combinations(range(len(taken.values)), 2):
        first, second = taken.readings[one], taken.readings[other]
        if first.reading.unit != second.reading.unit or first.reading.unit == "ohm":
            continue
        together = first.step.path == second.step.path
        alike = first.reading.key == second.reading.key and first.step.path[:2] == second.step.path[:2]
        gap = abs(taken.values[one] - taken.values[other])
        if not (together or alike) or gap < 3.0 * max(taken.sigmas[one], taken.sigmas[other]):
            continue
        reads = ((one, float(taken.values[other])), (other, float(taken.values[one])))
        subject = f"{first.reading.name} and {second.reading.name}"
        yield Suspect("swapped", subject, RARER_SLIP["swapped"], (), reads)
