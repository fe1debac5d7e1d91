"""What ``bringup`` shows: the steps of a first power-up as text and JSON, and readings beside them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.facts.cautions import BRANCH, CABLE, CAUTIONS, LAW, TRIGGER, Caution
from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.columns import paragraph, table
from pdcheck.show.judged import HEADLINES, contract_json, contract_line, finding_json, finding_text, triple_json
from pdcheck.verdict.bringup.cause import Cause, interval
from pdcheck.verdict.bringup.implied import Implied
from pdcheck.verdict.bringup.measured import Comparison, Row, shown
from pdcheck.verdict.bringup.steps import BringUp, Expected, Reading, Step
from pdcheck.verdict.bringup.write_back import Change

SCHEMA = "pdcheck/bringup/1"
MEASURED_SCHEMA = "pdcheck/measured/1"
MARKS = {"stop": "STOP", "fail": "FAIL", "warn": "warn", "note": "note"}


def cautions() -> tuple[Caution, ...]:
    """The cautions that belong on a bench while something is powered up for the first time."""
    return tuple(caution for caution in CAUTIONS if caution.heading in (LAW, CABLE, TRIGGER, BRANCH))


def document(plan: BringUp) -> dict[str, Any]:
    """The JSON document of ``bringup``."""
    case = plan.case
    return {
        "schema": SCHEMA,
        "rig": case.rig.title,
        "source": case.source.id,
        "cable": case.cable.id,
        "verdict": plan.judgement.verdict,
        "contract": contract_json(case.contract),
        "findings": [finding_json(each) for each in plan.judgement.findings if each.level != "note"],
        "steps": [step_json(step) for step in plan.steps],
        "halted": plan.halted,
        "cautions": [caution.text for caution in cautions()],
    }


def step_json(step: Step) -> dict[str, Any]:
    """One step with its readings."""
    return {
        "step": ".".join(step.path),
        "title": step.title,
        "branches": list(step.branches),
        "load_share": step.share,
        "actions": list(step.actions),
        "readings": [reading_json(each) for each in step.readings],
        "stop": list(step.stop),
    }


def reading_json(reading: Reading) -> dict[str, Any]:
    """One reading: where, and what to expect."""
    return {
        "reading": reading.name,
        "where": reading.where,
        "node": reading.node,
        "unit": reading.unit,
        "expected": expected_json(reading.expected),
        "outside": reading.outside,
        "optional": reading.optional,
    }


def expected_json(expected: Expected) -> dict[str, float | None]:
    """A range; null where it has no such end."""
    return {"min": expected.min, "typ": expected.typ, "max": expected.max}


def expected_text(reading: Reading) -> str:
    """What a reading should be, in a few words.

    >>> bus = Reading(("trigger",), "bus_v", "", "V", "bus", Expected(14.25, 15.0, 15.75), "")
    >>> expected_text(bus), expected_text(bus._replace(unit="ohm", expected=Expected(50.0, None, None)))
    ('14.25..15.75 V', 'above 50 Ω')
    """
    expected, unit = reading.expected, reading.unit
    if unit == "":
        return "yes"
    symbol = "Ω" if unit == "ohm" else unit
    if expected.min is not None and expected.max is None:
        return f"above {expected.min:.4g} {symbol}"
    places = 3 if unit == "A" else 2 if unit == "V" else 1
    low, high = expected.min or 0.0, expected.max or 0.0
    if f"{low:.{places}f}" == f"{high:.{places}f}":
        return f"{high:.{places}f} {symbol}"
    return f"{low:.{places}f}..{high:.{places}f} {symbol}"


def text(plan: BringUp) -> str:
    """What a person reads beside the bench."""
    case = plan.case
    verdict = plan.judgement.verdict
    parts = [
        paragraph(f"Bring-up of {case.rig.title or 'the rig'} on {case.source.id} over {case.cable.id}", hang=2),
        paragraph(f"contract to come: {contract_line(case.contract)}", indent=2, hang=2),
        paragraph(f"verdict by the sums: {verdict.upper()}. {HEADLINES[verdict]}", indent=2, hang=2),
    ]
    grave = [each for each in plan.judgement.findings if each.level in ("stop", "fail")]
    parts += ["", *(finding_text(each) for each in grave)] if grave else []
    for number, step in enumerate(plan.steps, 1):
        parts += ["", paragraph(f"{number}. {step.title}", hang=3)]
        parts += [paragraph(action, indent=3) for action in step.actions]
        rows = [[_short(each), expected_text(each), _where(each)] for each in step.readings]
        parts.append(table(["reading", "expect", "where the meter goes"], rows, indent=3))
        parts.append(paragraph(f"Stop at: {'; '.join(step.stop)}.", indent=3, hang=3))
    if plan.halted:
        parts += ["", paragraph(f"No further: {plan.halted}.", hang=2)]
    parts += ["", "When a reading is outside", ""]
    seen: dict[str, str] = {each.key: each.outside for step in plan.steps for each in step.readings}
    parts.append(table(["reading", "what to do"], [[key, what] for key, what in seen.items()]))
    parts += ["", "Cautions", "", *(paragraph(f"- {each.text}", indent=2, hang=2) for each in cautions())]
    return "\n".join(parts)


def _short(reading: Reading) -> str:
    inner = reading.path[1] if reading.path[0] in ("unpowered", "together") and len(reading.path) > 1 else ""
    return f"{inner} {reading.key}".strip()


def _where(reading: Reading) -> str:
    return f"{reading.where} (optional)" if reading.optional else reading.where


def measured_document(found: Comparison, changes: Sequence[Change]) -> dict[str, Any]:
    """The JSON document of ``bringup --measured``."""
    case = found.plan.case
    return {
        "schema": MEASURED_SCHEMA,
        "rig": case.rig.title,
        "source": case.source.id,
        "cable": case.cable.id,
        "fine": found.fine,
        "fell_to_v": found.fell_to,
        "readings": [_row_json(row) for row in found.rows],
        "implied": [_implied_json(each) for each in found.implied],
        "causes": [_cause_json(each) for each in found.causes],
        "changes": [_change_json(each) for each in changes],
    }


def _row_json(row: Row) -> dict[str, Any]:
    taken = row.taken
    endless = taken is not None and taken.value == float("inf")
    return {
        "reading": row.reading.name,
        "unit": row.reading.unit,
        "value": None if taken is None or endless else taken.value,
        "half_digit": None if taken is None or endless else taken.half,
        "expected": expected_json(row.expected),
        "inside": row.inside,
    }


def _implied_json(each: Implied) -> dict[str, Any]:
    return {
        "kind": each.kind,
        "subject": each.subject,
        "value": triple_json(each.value),
        "unit": each.unit,
        "stated": triple_json(each.stated),
        "steps": list(each.steps),
        "assumed": each.assumed,
        "agree": each.agree,
    }


def _cause_json(cause: Cause) -> dict[str, Any]:
    return {
        "cause": cause.kind,
        "level": cause.level,
        "subject": cause.subject,
        "text": cause.text,
        "advice": cause.advice,
    }


def _change_json(change: Change) -> dict[str, Any]:
    return {"file": change.file, "key": change.name, "old": change.old, "new": change.written, "why": change.why}


def measured_text(found: Comparison, changes: Sequence[Change]) -> str:
    """What a person reads of a filled-in sheet: the fault first, then every reading, then what the readings imply."""
    case = found.plan.case
    parts = [paragraph(f"{case.rig.title or 'The rig'} on {case.source.id} over {case.cable.id}: {_outcome(found)}")]
    grave = [each for each in found.causes if each.level != "note"]
    parts += ["", *(cause_text(each) for each in grave)] if grave else []
    rows = [_row_cells(row) for row in found.rows if row.taken is not None]
    if rows:
        parts += ["", table(["reading", "read", "expected", ""], rows)]
    if found.fell_to is not None:
        parts.append(paragraph(f"behind the trigger compared with the sums on {found.fell_to:g} V", indent=2))
    if found.implied:
        lines = [[_figure_name(each), interval(each), _stated_text(each)] for each in found.implied]
        parts += ["", table(["the readings imply", "", "stated"], lines)]
        parts.append(
            paragraph(
                "± is what the last digits of the readings leave open; the meter's own error is not in it", indent=2
            )
        )
    notes = [each for each in found.causes if each.level == "note"]
    parts += ["", *(cause_text(each) for each in notes)] if notes else []
    if changes:
        parts += ["", "These figures could go into the files (--write-back):", ""]
        parts += [change_text(each) for each in changes]
    return "\n".join(parts)


def _outcome(found: Comparison) -> str:
    if not found.taken:
        return "no reading is filled in yet."
    outside = sum(row.inside is False for row in found.rows)
    counted = f"{found.taken} readings, {outside} outside"
    if found.fine:
        return f"as expected ({counted})."
    worst = found.causes[0] if found.causes else None
    if worst is not None and worst.level == "stop":
        return f"STOP ({counted})."
    return f"not as expected ({counted})."


def cause_text(cause: Cause) -> str:
    """One cause: its level, what it is, what to do."""
    lines = [paragraph(f"{MARKS[cause.level]}  {cause.subject}: {cause.text}", indent=2, hang=6)]
    if cause.level != "note":
        lines.append(paragraph(f"-> {cause.advice}", indent=8, hang=3))
    return "\n".join(lines)


def change_text(change: Change) -> str:
    """One change of a file."""
    return paragraph(
        f"{change.file}: {change.name} = {change.written} (now {change.old or 'not there'})", indent=2, hang=4
    )


def _row_cells(row: Row) -> list[str]:
    assert row.taken is not None
    state = {True: "inside", False: "OUTSIDE", None: ""}[row.inside]
    expected = expected_text(row.reading._replace(expected=row.expected))
    return [row.reading.name, shown(row.taken, row.reading.unit), expected, state]


def _figure_name(each: Implied) -> str:
    names = {
        "supply": "cable, plugs and trigger",
        "wire": "wire of {}",
        "lead": "lead of {}",
        "efficiency": "efficiency of {}",
        "idle": "idle power of {}",
        "load": "load of {}",
        "bus-draw": "unexplained current",
    }
    return names[each.kind].format(each.subject)


def _stated_text(each: Implied) -> str:
    stated: Triple = each.stated
    if stated.min == stated.max:
        return format_quantity(stated.typ, each.unit, 3)
    return f"{format_quantity(stated.min, each.unit, 3)} to {format_quantity(stated.max, each.unit, 3)}"
