"""The next best reading at the bench: what tells most of what is not known yet, and is safe to take now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from pdcheck.facts.trade import OUTPUT_SETTING
from pdcheck.marks import UNTOLD, Named, passed, told
from pdcheck.named import NamedTuple
from pdcheck.result import Result
from pdcheck.verdict.bringup.cause import Cause
from pdcheck.verdict.bringup.diagnosis import Diagnosis
from pdcheck.verdict.bringup.found import last_digits, predicted, unread
from pdcheck.verdict.bringup.measured import Comparison
from pdcheck.verdict.bringup.predicted import Asked, Floats, foretold
from pdcheck.verdict.bringup.sheet import Filled
from pdcheck.verdict.bringup.steps import TOGETHER, TRIGGER, UNPOWERED, Step
from pdcheck.verdict.bringup.unknowns import KINDS
from pdcheck.verdict.bringup.words import Expected, MeterUnit, Reading

ENOUGH = 0.08
"""What a reading must tell (in natural units of information) to be worth taking."""
ENOUGH_LATE = 0.5
"""The same once half the sheet is taken and nothing is off."""
_KNOWN = 50.0
"""How far (chi-squared) a fault stands out that needs no further reading to be seen."""
_USUAL = 4.0
"""How large a fault usually is, of what is worth a name."""
_REWIRED = 1.6
_AMMETER = 1.3


class Next(NamedTuple):
    """One reading to take: in which step, where the meter goes, what is expected there, and why this one."""

    reading: Annotated[Reading, UNTOLD]
    step: Annotated[Step, UNTOLD]
    name: Annotated[str, Named("reading")]
    where: str
    expected: Expected
    unit: MeterUnit
    reason: str


@dataclass(frozen=True, repr=False)
class Advice(Result):
    """What to read next, or that it is enough: with what was found so far."""

    SCHEMA: ClassVar[str] = "next-reading/2"
    TITLE: ClassVar[str] = "The next reading of a first power-up"
    ROWS: ClassVar[tuple[str, ...]] = ()
    SHOWN: ClassVar[str] = "measured"

    found: Annotated[Comparison, UNTOLD]
    next: Next | None
    enough: str

    rig = passed[str]("found.rig", "The rig's title.")
    taken = passed[int]("found.taken", "How many readings were taken so far.")

    @told
    def causes(self) -> Annotated[tuple[str, ...], Named("causes")]:
        """What they point to so far."""
        return tuple(f"{each.kind} {each.subject}" for each in self.found.causes if each.level != "note")

    @property
    def works(self) -> bool:
        """Whether nothing points to a fault so far."""
        return self.found.fine

    def answer(self) -> str:
        """The next reading, or why there is none."""
        return self.enough if self.next is None else f"read {self.next.name}"


def advised(found: Comparison, filled: Filled) -> Advice:
    """Choose the next reading of a sheet that is being filled in.

    What keeps the bench safe comes first and in order; then what tells most, until a fault is found and nothing else
    would explain it, or until no reading tells enough any more.
    """
    plan, case = found.plan, found.case
    stop = next((each for each in found.causes if each.level == "stop"), None)
    if stop is not None:
        return Advice(found, None, f"Stop: {stop.subject}: {stop.text}")
    for step in plan.steps:
        if step.path in (UNPOWERED, TRIGGER):
            for reading in step.readings:
                if reading.key != "before_v" and filled.get(reading.path, reading.key) is None:
                    return _ask(found, reading, step, "before anything is joined to the bus")
    if found.others and found.further is not None:
        reading = found.further.reading
        step = next(each for each in plan.steps if reading in each.readings)
        return _ask(found, reading, step, f"it tells {found.causes[0].kind} from {found.others[0].causes[0]}")
    grave = [each for each in found.causes if each.level != "note"]
    if any(each.kind != "unexplained" for each in grave) and not found.others:
        return Advice(found, None, "Found: nothing else explains these readings.")
    asked = [each for each in unread(plan, filled, case.off) if _safe(each, plan.steps, filled)]
    beside = _beside(grave, asked)
    if beside is not None:
        return _ask(found, beside.reading, beside.step, f"its value may have been written down as {grave[0].subject}")
    if not asked:
        return Advice(found, None, "Every reading that tells anything is taken.")
    model = found.model
    if model is None:
        return _ask(found, asked[0].reading, asked[0].step, "nothing is known yet")
    worth = _worth(model, asked, filled)
    best = int(np.argmax(worth))
    rest = [each for step in plan.steps if step.branches for each in step.readings if foretold(each)]
    late = 2 * sum(filled.get(each.path, each.key) is not None for each in rest) + 1 > len(rest)
    if worth[best] < (ENOUGH_LATE if late else ENOUGH):
        return Advice(found, None, "No further reading tells enough to be worth the trouble.")
    return _ask(found, asked[best].reading, asked[best].step, "it tells most of what is not known yet")


def _beside(grave: list[Cause], asked: list[Asked]) -> Asked | None:
    """A reading of the same step and unit as one that fits nothing: the two may stand in each other's place."""
    for cause in grave:
        if cause.kind == "unexplained":
            step, unit = cause.subject.rpartition(".")[0], cause.subject[-2:]
            for each in asked:
                if each.reading.name.rpartition(".")[0] == step and each.reading.key[-2:] == unit:
                    return each
    return None


def _ask(found: Comparison, reading: Reading, step: Step, why: str) -> Advice:
    expected = next(row.expected for row in found.readings if row.reading is reading)
    return Advice(found, Next(reading, step, reading.name, reading.where, expected, reading.unit, why), "")


def _safe(asked: Asked, steps: tuple[Step, ...], filled: Filled) -> bool:
    """Whether the steps that keep it safe were taken: an output is seen before its load is joined, each branch alone
    before all together."""
    path = asked.step.path
    if path == TOGETHER:
        alone = [step for step in steps if step.path[0] == "branch" and step.path[2] == "full"]
        return all(any(filled.get(each.path, each.key) for each in step.readings) for step in alone)
    if path[0] == "branch" and path[2] != "unloaded":
        first = next((step for step in steps if step.path == ("branch", path[1], "unloaded")), None)
        return first is None or filled.get(first.path, "out_v") is not None
    return True


def _known(size: float, variance: Floats | float) -> Floats:
    """How well a figure is known beside the size of a fault; more than well enough is worth nothing."""
    return np.asarray(1.0 + np.minimum(size**2 / np.maximum(variance, 1e-12), _KNOWN))


def _worth(model: Diagnosis, asked: list[Asked], filled: Filled) -> Floats:
    """How much each reading would tell of all that may be at fault, less where it means wiring anew."""
    best, fitter = model.best, model.fitter
    shown, _ = predicted(model, best, asked)
    slopes = fitter.slopes(best.point[None], asked)[1][0]
    noise = last_digits(asked, shown, model)
    told_ = np.zeros(len(asked))
    for index, unknown in enumerate(fitter.listed):
        if unknown.kind in ("meter", "test-load", "source-voltage", "sag"):
            continue
        size = _USUAL * (KINDS[unknown.kind].named or OUTPUT_SETTING.value * unknown.stated.typ)
        spread = best.spread(fitter.freed(best.precision, index))
        now = spread[index, index]
        across = spread[index] @ slopes
        after = now - across**2 / (np.einsum("pm,pq,qm->m", slopes, spread, slopes) + noise**2)
        told_ += 0.5 * np.log(_known(size, after) / _known(size, now))
    last = {path for path, _ in [*filled.readings][-3:]}
    rewired = [_REWIRED if last.isdisjoint((each.step.path, each.reading.path)) else 1.0 for each in asked]
    metered = [_AMMETER if each.reading.unit == "A" else 1.0 for each in asked]
    return np.asarray(np.nan_to_num(told_) / np.multiply(rewired, metered))
