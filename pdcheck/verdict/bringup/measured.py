"""Readings of a first power-up against what was expected: inside or outside, and what the pattern points to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar

from pdcheck.contract.settle import Contract, settle_on
from pdcheck.facts.voltage import EPR_MAX, fixed_band
from pdcheck.marks import UNTOLD, Named, passed, told
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.parts.request import FixedRequest
from pdcheck.parts.toml_places import toml_value
from pdcheck.quantities import format_quantity
from pdcheck.result import Result
from pdcheck.verdict.bringup.cause import Cause, Implied, slip_of
from pdcheck.verdict.bringup.diagnosis import Diagnosis
from pdcheck.verdict.bringup.found import Further, Other, found_in
from pdcheck.verdict.bringup.sheet import Filled, Measured, Meter, meter_of
from pdcheck.verdict.bringup.steps import TRIGGER, UNPOWERED, BringUp, bring_up
from pdcheck.verdict.bringup.suspects import FACTORS, Suspect
from pdcheck.verdict.bringup.unknowns import KINDS
from pdcheck.verdict.bringup.words import Expected, MeterUnit, Reading
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, WORKS
from pdcheck.verdict.judge import judge_case

_HALF = 0.5  # of its resistance: less is no load any more
_NO_BUS = 1.2 * EPR_MAX.value


@dataclass(frozen=True)
class Row:
    """A reading beside what was expected; ``inside`` is None where it was not taken."""

    reading: Annotated[Reading, UNTOLD]
    taken: Annotated[Measured | None, UNTOLD]
    expected: Expected
    inside: bool | None

    name = passed[Annotated[str, Named("reading")]]("reading.name", "Its place in the sheet.")
    unit = passed[MeterUnit]("reading.unit", "V, A, ohm, or empty for yes and no.")

    @told
    def value(self) -> float | None:
        """What was read; None where it was not taken, or is open."""
        return None if self.taken is None or self.taken.value == math.inf else self.taken.value

    @told
    def half_digit(self) -> float | None:
        """Half the step of its last digit."""
        return None if self.taken is None or self.taken.value == math.inf else self.taken.half


TomlPath = tuple[str | int, ...]


class Change(NamedTuple):
    """One key to set: in which file, in which table of it, what stands there now, what takes its place, and why.

    ``drop`` names keys of that table that say the same thing in another way and have to go.
    """

    file: str
    table: Annotated[TomlPath, UNTOLD]
    key: Annotated[str, UNTOLD]
    old: str
    new: Annotated[Any, UNTOLD]
    drop: Annotated[tuple[str, ...], UNTOLD]
    reason: str

    @told
    def name(self) -> Annotated[str, Named("key")]:
        """Table and key in one, as in ``branch.1.wire.contacts``; lists count from 1."""
        return ".".join(str(part + 1) if isinstance(part, int) else part for part in (*self.table, self.key))

    @told
    def written(self) -> Annotated[str, Named("new")]:
        """The new value as TOML has it."""
        return toml_value(self.new)


@dataclass(frozen=True, repr=False)
class Comparison(Result):
    """All readings compared, what they imply, and what they point to, the gravest first.

    ``plan`` holds what was expected at first; ``case`` is the contract that the readings show, and what everything
    behind the trigger was compared with: another one where ``fell_to`` [V] is not None. ``causes`` are the smallest set
    of faults that explains all readings; ``others`` would explain them about as well, the likeliest first, and
    ``further`` is the reading that tells the first of them from ``causes``. ``changes`` are the figures that could go
    into the files, ``kept_back`` what does not, and why; ``texts`` is what stands in each of these files.
    """

    SCHEMA: ClassVar[str] = "measured/3"
    TITLE: ClassVar[str] = "Readings of a first power-up compared"
    ROWS: ClassVar[tuple[str, ...]] = ("readings",)

    plan: Annotated[BringUp, UNTOLD]
    case: Annotated[Case, UNTOLD] = field(compare=False)
    fell_to: Annotated[float | None, Named("fell_to_v")]
    readings: tuple[Row, ...]
    implied: tuple[Implied, ...]
    causes: tuple[Cause, ...]
    others: tuple[Other, ...] = ()
    further: Further | None = None
    changes: tuple[Change, ...] = ()
    kept_back: tuple[str, ...] = ()
    model: Annotated[Diagnosis | None, UNTOLD] = field(default=None, compare=False)
    texts: Annotated[Mapping[str, str], UNTOLD] = field(default_factory=dict, compare=False)

    rig = passed[str]("plan.rig", "The rig's title.")
    source = passed[str]("plan.source", "The source's id.")
    cable = passed[str]("plan.cable", "The cable's id.")

    @told
    def fine(self) -> bool:
        """Whether nothing points to a fault, and every reading is inside its range or explained."""
        return all(each.level == "note" for each in self.causes)

    @property
    def works(self) -> bool:
        """Whether all is as expected."""
        return self.fine

    def answer(self) -> str:
        """How many readings there are, and what they point to."""
        causes = ", ".join(each.kind for each in self.causes if each.level != "note")
        return f"{self.taken} readings, {causes or ('as expected' if self.fine else 'not as expected')}"

    @property
    def taken(self) -> int:
        """How many readings were taken."""
        return sum(row.taken is not None for row in self.readings)


def compare(plan: BringUp, filled: Filled) -> Comparison:
    """Compare the readings of a sheet with its plan.

    Where the trigger's voltage is that of another offer than the one expected, that is said, and the rest is compared
    with the sums on that one.
    """
    meter = meter_of(filled)
    poles = _reversed(plan, filled)
    case, fell_to, causes = _contract_found(plan, filled, meter)
    compared = plan if fell_to is None else bring_up(judge_case(case))
    verdict = compared.judgement.verdict
    if fell_to is not None and verdict not in WORKS:
        worst = compared.judgement.findings[0]
        what = verdict if verdict == "fails" else f"is {verdict}"
        text = f"on {fell_to:g} V this rig {what}: {worst.subject}: {worst.text}"
        causes.append(Cause("verdict", worst.level, "rig", text, worst.advice))
    rows = tuple(_row(plan, compared, each, filled, meter) for each in plan.readings)
    found = found_in(plan, case, filled, reversed_poles=bool(poles))
    if _volts_off(found.causes):
        causes = [each for each in causes if each.kind != "bus-voltage"]
    outside = _outside(plan, case, filled, meter, found.causes)
    named = [_graver(each, outside) for each in found.causes]
    mine = {(each.kind, each.subject) for each in named}
    causes, rest = ([one for one in of if (one.kind, one.subject) not in mine] for of in (causes, outside))
    causes = [*_polarity(filled), *_shorts(plan, filled, found.causes), *poles, *causes, *named, *rest]
    before = plan.reading(TRIGGER, "before_v"), filled.get(TRIGGER, "before_v")
    # The 5 V before a contract, which no sum foretells, with its point in the wrong place.
    if before[0] is not None and before[1] is not None and not within(before[1], before[0].expected):
        causes += _slipped(before[0], before[1])
    causes += _unexplained(rows, causes, found.fits)
    ordered = tuple(sorted(causes, key=lambda each: LEVELS.index(each.level)))
    return Comparison(plan, case, fell_to, rows, found.implied, ordered, found.others, found.further, model=found.model)


def _graver(cause: Cause, outside: list[Cause]) -> Cause:
    """A fault that takes a voltage out of its range is as grave as that is."""
    found = [each.level for each in outside if (each.kind, each.subject) == (cause.kind, cause.subject)]
    return cause._replace(level=min([cause.level, *found], key=LEVELS.index))


def within(taken: Measured, expected: Expected, share: float = 0.0) -> bool:
    """Whether a reading can stand for a value inside the range, given its last digit and the meter's error (a share).

    >>> within(Measured(14.5, 0.05), Expected(14.54, 15.0, 15.5)), within(Measured(14.4, 0.05), Expected(14.54, 15, 16))
    (True, False)
    """
    if math.isinf(taken.value):
        return expected.max is None
    slack = 1e-9 * max(1.0, abs(taken.value)) + share * abs(taken.value)
    low = expected.min is None or taken.high >= expected.min - slack
    return low and (expected.max is None or taken.low <= expected.max + slack)


def _row(plan: BringUp, compared: BringUp, reading: Reading, filled: Filled, meter: Meter) -> Row:
    other = reading if compared is plan else compared.reading(reading.path, reading.key)
    # The trigger's own readings stay beside what the plan asked for: that is what went wrong.
    expected = reading.expected if other is None or reading.path == TRIGGER else other.expected
    taken = filled.get(reading.path, reading.key)
    if taken is None:
        return Row(reading, None, expected, None)
    inside = taken.value == 1.0 if reading.unit == "" else within(taken, expected, meter.share_of(reading.unit))
    return Row(reading, taken, expected, inside)


def _polarity(filled: Filled) -> list[Cause]:
    polarity = filled.get(UNPOWERED, "polarity")
    if polarity is None or polarity.value == 1.0:
        return []
    text = "a branch is joined the wrong way round"
    return [Cause("polarity", "stop", "bus", text, "Do not plug in. Swap its wires and look again.")]


def _shorts(plan: BringUp, filled: Filled, named: tuple[Cause, ...]) -> list[Cause]:
    """Inputs that look like a short or like another load, unless readings under power say so already."""
    found = []
    loads = {each.subject for each in named if each.kind in ("load", "slip")}
    for reading in plan.steps[0].readings:
        taken = filled.get(reading.path, reading.key)
        least, name = reading.expected.min, reading.path[-1]
        powered = any(path[:2] == ("branch", name) for path, _ in filled.readings)
        if taken is None or least is None or taken.high >= least:
            continue
        if reading.name in loads or (powered and name in loads):
            continue
        if reading.expected.typ is not None and taken.value >= _HALF * reading.expected.typ:
            stated = format_quantity(reading.expected.typ, "ohm", 3)
            text = f"the load is {shown(taken, 'ohm')} by the ohmmeter; the calculation used {stated}"
            advice = "Look whether it is the right load, and put it into the rig file; then go on."
            found.append(Cause("load", "warn", name, text, advice))
            continue
        text = f"its input measures {shown(taken, 'ohm')}, where at least {format_quantity(least, 'ohm')} is due"
        advice = "Do not plug in. Look for a short, a part the wrong way round, a wrong load."
        found.append(Cause("short", "stop", name, text, advice))
    return found


def _reversed(plan: BringUp, filled: Filled) -> list[Cause]:
    """Swapped poles: a negative voltage, unless it is the only one among many and is a slip of the pen."""
    read = ((each, filled.get(each.path, each.key)) for each in plan.readings if each.unit == "V")
    volts = [(reading, taken) for reading, taken in read if taken is not None]
    below = [(reading, taken) for reading, taken in volts if taken.high < 0]
    if not below or (len(below) == 1 and len(volts) > 3):
        return []
    reading, taken = below[0]
    text = f"{reading.name} reads {shown(taken, 'V')}: the poles are swapped, at the meter or in the wiring"
    return [Cause("polarity", "stop", "bus", text, "Unplug and find out which before going on.")]


def _contract_found(plan: BringUp, filled: Filled, meter: Meter) -> tuple[Case, float | None, list[Cause]]:
    """The contract that the trigger's own voltage shows, and what to say where it is not the one expected."""
    case = plan.case
    reading = plan.reading(TRIGGER, "bus_v")
    taken = filled.get(TRIGGER, "bus_v")
    if reading is None or taken is None or within(taken, reading.expected, meter.volts):
        return case, None, []
    loaded = (filled.get(step.path, "bus_v") for step in plan.steps if step.branches)
    later = [each for each in loaded if each is not None]
    # A bus that just sags from this very reading is no witness against it.
    itself = _wide(Expected(taken.low, taken.value, taken.high * (1 + meter.volts)))
    as_planned = sum(
        within(each, _wide(reading.expected), meter.volts) and not within(each, itself, meter.volts) for each in later
    )
    slip = _slipped(reading, taken, meter.volts)
    meant = slip or within(taken._replace(value=-taken.value), reading.expected, meter.volts)
    if meant and abs(taken.value) > _NO_BUS:
        return case, None, []  # no bus has that voltage
    if later and as_planned > len(later) / 2 and (meant or len(later) > 1):
        return case, None, []  # the bus has what was planned at every later step: this one was written down wrong
    asked = "nothing" if case.contract.outcome == "off" else f"{case.contract.voltage_v:g} V"
    level: Level = "fail" if taken.value < case.contract.voltage_v else "stop"
    near = _contract_near(case, taken, meter)
    # A source that is out of its own tolerance stays on the contract that was expected.
    if near is None and slip and not later:
        return case, None, slip
    if near is None or near.voltage_v == case.contract.voltage_v:
        text = f"the bus is at {shown(taken, 'V')} with nothing on it, and {asked} was expected"
        advice = "No offer of this source has that voltage: look at the source, the trigger and the meter."
        return case, None, [Cause("bus-voltage", level, "trigger", text, advice)]
    at = "5 V without PD" if near.offer is None else f"offer {near.offer.position} ({near.voltage_v:g} V)"
    text = f"the bus is at {shown(taken, 'V')} with nothing on it: that is {at}, and {asked} was expected"
    if taken.value > case.contract.voltage_v:
        advice = "Leave everything off the bus. The trigger is set to another voltage: set it again and measure."
        kind = "trigger-setting"
    else:
        advice = (
            f"The trigger fell back to {near.voltage_v:g} V, or is set to it. Look at its setting; then at the cable "
            "(one without a CC wire, or a broken one, gives 5 V); then at what this source really offers."
        )
        kind = "trigger-fallback"
    found = Case(case.rig, case.source, case.cable, contract=near._replace(outcome="fallback", reason="as measured"))
    return found, near.voltage_v, [Cause(kind, level, "trigger", text, advice)]


def _wide(expected: Expected) -> Expected:
    """The range of the bus with nothing on it, made wider for what it loses under load."""
    return expected._replace(min=None if expected.min is None else 0.85 * expected.min)


def _contract_near(case: Case, taken: Measured, meter: Meter) -> Contract | None:
    """The contract whose voltage a reading fits: of the fixed offers, or plain 5 V."""
    ratio = case.rig.tolerance.of_source(case.source)
    fixed = [offer.max_mv / 1000 for offer in case.seen.offers if offer.kind == "fixed"]
    bands = [(volts, volts * (1 - ratio), volts * (1 + ratio)) for volts in fixed] + [(5.0, *fixed_band(5.0))]
    for volts, low, high in bands:
        if within(taken, Expected(low, volts, high), meter.volts):
            return settle_on(FixedRequest(volts), "5V", case.seen)
    return None


def _volts_off(named: tuple[Cause, ...]) -> bool:
    """Whether it is the voltmeter that is off."""
    figures = [each.implied for each in named if each.kind == "meter-factor"]
    return any(each is not None and each.subject.startswith("V") for each in figures)


def _outside(plan: BringUp, case: Case, filled: Filled, meter: Meter, named: tuple[Cause, ...]) -> list[Cause]:
    """Voltages out of their own range that no fault explains: outputs set wrong or sagging, a source that sags."""
    found: list[Cause] = []
    slips = " ".join(each.subject for each in named if each.kind in ("slip", "unexplained"))
    if _volts_off(named):
        return found
    for step in plan.steps:
        source_v = filled.get(step.path, "source_v")
        if source_v is None or f"{'.'.join(step.path)}.source_v" in slips:
            continue
        least = Expected(case.source_v.min, None, None)
        if not within(source_v, least, meter.volts) and not case.contract.limits_current:
            text = f"it falls to {shown(source_v, 'V')} under load, and {case.source_v.min:.4g} V is the least it may"
            advice = "Another charger, or less load: this one is at its end, or not what it says."
            found.append(Cause("source-sags", "fail", "source", text, advice))
            break
    for branch in case.spec.branches:
        if branch.converter is None or branch.name in case.off:
            continue
        outside = {}
        for reading in (each for each in plan.readings if each.path[:2] == ("branch", branch.name)):
            taken = filled.get(reading.path, "out_v")
            if reading.key == "out_v" and taken is not None and reading.name not in slips:
                outside[reading.path[2]] = None if within(taken, reading.expected, meter.volts) else taken
        wrong, volts = next((taken for taken in outside.values() if taken is not None), None), branch.converter.output_v
        if wrong is not None and outside.get("unloaded", wrong) is None:
            text = f"its output falls to {shown(wrong, 'V')} under load, from {volts:g} V"
            found.append(Cause("output-sags", "fail", branch.name, text, KINDS["sag"].advice))
        elif wrong is not None:
            text = KINDS["output"].text.format(value=shown(wrong, "V"), stated=f"{volts:g} V")
            level: Level = "stop" if wrong.value > volts else "warn"
            found.append(Cause("output-setting", level, branch.name, text, KINDS["output"].advice))
    return found


def _slipped(reading: Reading, taken: Measured, share: float = 0.0) -> list[Cause]:
    """A reading that was written down with its point in the wrong place; none where that does not explain it."""
    for factor in FACTORS:
        meant = Measured(taken.value * factor, taken.half * factor)
        if within(meant, reading.expected, share):
            fault = Suspect("factor", reading.name, 0.0, (), ((0, meant.value),), factor)
            return [slip_of(fault, {reading.name: shown(taken, reading.unit)})]
    return []


def _unexplained(rows: tuple[Row, ...], causes: list[Cause], fits: frozenset[str]) -> list[Cause]:
    """Readings outside that nothing named explains."""
    if any(each.level != "note" for each in causes):
        return []
    # A current follows from many figures, each a little off; a voltage out of its range is out of its range.
    outside = [row.reading for row in rows if row.inside is False]
    names = [each.name for each in outside if each.name not in fits or not (causes or each.unit == "A")]
    if not names:
        return []
    text = f"outside, with nothing that these readings point to: {', '.join(names)}"
    return [Cause("unexplained", "warn", "bus", text, "Take the readings again, all of that step; look at the meter.")]


def shown(taken: Measured, unit: str) -> str:
    """A reading with its own number of digits.

    >>> shown(Measured(14.5, 0.005), "V"), shown(Measured(0.38, 0.0005), "A")
    ('14.50 V', '0.380 A')
    """
    if unit == "":
        return "yes" if taken.value == 1.0 else "no"
    if taken.value == float("inf"):
        return "open"
    places = 0
    while places < 9 and 2 * taken.half < 0.99 * 10.0**-places:
        places += 1
    return f"{taken.value:.{places}f} {unit if unit != 'ohm' else 'Ω'}"
