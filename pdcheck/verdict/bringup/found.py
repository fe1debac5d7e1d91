"""What the diagnosis of a sheet found: causes in words, what stays possible beside them, and what would decide."""

from __future__ import annotations

from typing import Annotated

from pdcheck.named import NamedTuple
from pdcheck.quantities import format_quantity
from pdcheck.result import Mark
from pdcheck.verdict.bringup.apart import Further, further
from pdcheck.verdict.bringup.cause import Cause, cause_of, slip_of
from pdcheck.verdict.bringup.diagnosis import Diagnosis, Explained, diagnose
from pdcheck.verdict.bringup.implied import Implied, figure, implied
from pdcheck.verdict.bringup.sheet import Filled
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.suspects import Suspect
from pdcheck.verdict.case import Case

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
