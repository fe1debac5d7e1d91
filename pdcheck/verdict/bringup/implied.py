"""What all readings together imply: resistance of cable, wires and leads, efficiency, idle power, loads, with bounds.

Each figure is what the fit says when nothing is taken for granted of the figure itself. Its bounds hold the last digits
of the readings, the meter's own error, and what is usual of everything else. ``assumed`` names what had to be taken as
stated: without it the readings would say much less.
"""

from __future__ import annotations

import math
from typing import Annotated

import numpy as np

from pdcheck.marks import AS_UNIT
from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.diagnosis import WIDE, Diagnosis, Explained
from pdcheck.verdict.bringup.fit import solved
from pdcheck.verdict.bringup.unknowns import KINDS, Unknown
from pdcheck.verdict.case import Case

_BEYOND = 1.5
"""How many times its bound a figure must be off to be taken for another one: three standard deviations."""
_RESTS = 1.6
"""How much wider bounds get without an assumption that they rest on."""


class Implied(NamedTuple):
    """A figure that the readings imply: of what, its value with bounds, beside what was stated.

    ``kind``: ``supply`` (cable, plugs and trigger), ``source`` (the charger's own resistance), ``wire``, ``lead``,
    ``efficiency``, ``idle``, ``load``, ``bus-draw``, ``output``, ``sag``, ``burden`` (the ammeter's resistance),
    ``meter`` (its factor), ``test-load`` (as a part of half the load). ``subject`` is a branch, ``bus``, ``source`` or
    the meter's unit. ``assumed`` says what it rests on beside the readings; empty where on nothing.
    """

    kind: str
    subject: str
    value: Triple
    unit: Annotated[str, AS_UNIT]
    stated: Triple
    assumed: str = ""

    @property
    def above(self) -> bool:
        """Whether it is above what was stated, well beyond its bounds."""
        return self.value.typ - self.stated.max > _BEYOND * (self.value.typ - self.value.min) + 1e-9

    @property
    def below(self) -> bool:
        """Whether it is below what was stated, well beyond its bounds."""
        return self.stated.min - self.value.typ > _BEYOND * (self.value.max - self.value.typ) + 1e-9


def implied(case: Case, found: Diagnosis) -> list[Implied]:
    """All that the readings imply, once the faults that were found are taken off."""
    listed = [
        figure(case, found, found.best, index)
        for index, unknown in enumerate(found.fitter.listed)
        if KINDS[unknown.kind].called and (unknown.kind != "load" or unknown.unit)
    ]
    return [each for each in listed if _tells(each)]


def figure(case: Case, found: Diagnosis, best: Explained, index: int) -> Implied:
    """One figure of the bench as the readings have it, whatever was stated of it."""
    fitter, unknown = found.fitter, found.fitter.listed[index]
    precision = fitter.freed(best.precision, index)
    away = best.weights * np.where(best.weights > 0, best.values - best.shown, 0.0)
    right = best.slopes @ away + precision * (fitter.start - best.point)
    move = solved(best.slopes[None], best.weights[None], precision[None], right[None])[0]
    value = float(np.clip(best.point[index] + move[index], unknown.least, unknown.most))
    half = WIDE * _sigma(best, precision, index)
    low, high = max(value - half, unknown.least), min(value + half, unknown.most)
    triple, stated = (
        Triple(*sorted(shape(case, unknown, each) for each in of)) for of in ((low, value, high), unknown.stated)
    )
    assumed = _assumed(found, best, precision, index)
    return Implied(unknown.kind, unknown.subject, triple, unknown.unit, stated, assumed)


def _sigma(best: Explained, precision: np.ndarray, index: int) -> float:
    return math.sqrt(max(float(best.spread(precision)[index, index]), 0.0))


def _assumed(found: Diagnosis, best: Explained, precision: np.ndarray, index: int) -> str:
    """What the bounds of a figure rest on: the one thing without which they become widest."""
    widest, said = _RESTS * _sigma(best, precision, index), ""
    for other, unknown in enumerate(found.fitter.listed):
        granted = KINDS[unknown.kind].granted
        known = unknown.kind == "burden" and found.meter.burden_ohm is not None
        if granted and not known and unknown.kind != found.fitter.listed[index].kind:
            wider = _sigma(best, found.fitter.freed(precision, other), index)
            if wider > widest:
                widest, said = wider, granted
    return said


def shape(case: Case, unknown: Unknown, value: float) -> float:
    """An unknown in the unit that people state it in: a factor on an efficiency or a load as that itself."""
    if unknown.kind not in ("efficiency", "load"):
        return value
    branch = next(each for each in case.spec.branches if each.name == unknown.subject)
    if unknown.kind == "load":
        return float(branch.load.demand(value).stated) if unknown.unit else value
    assert branch.converter is not None
    amps = branch.load.current_at(branch.converter.output_v) or 0.0
    return min(1.0, value * float(branch.converter.efficiency_at(case.contract.voltage_v, amps)))


def _tells(each: Implied) -> bool:
    """Whether the readings say enough of a figure to be worth telling."""
    half = (each.value.max - each.value.min) / 2
    if each.kind in ("efficiency", "load"):
        return half < 0.15 * abs(each.value.typ)
    if each.unit == "ohm" and each.stated.max == 0 and each.value.typ < 0.02:
        return False  # no wire, and none found
    return half < {"ohm": max(0.05, 0.3 * each.value.typ), "W": max(0.2, 0.3 * each.value.typ), "A": 0.02}[each.unit]
