"""The section with the steps of a safe first power-up, to be read at the bench or printed and filled in."""

from __future__ import annotations

from pdcheck.show.bringup import expected_text
from pdcheck.show.page.section import Field, Section, Sheet, Step
from pdcheck.verdict.bringup.steps import Step as BenchStep
from pdcheck.verdict.bringup.steps import bring_up
from pdcheck.verdict.bringup.words import Reading
from pdcheck.verdict.judge import Judgement


def bringup_section(judgement: Judgement) -> Section:
    """All steps with where the meter goes and what it should show, and once for each what to do when it does not."""
    plan = bring_up(judgement)
    text = ["Step by step, with a meter. A reading outside its range: do what is said below the steps before going on."]
    if plan.halted:
        text.append(f"The steps end early: {plan.halted}.")
    outside = {each.where: each.outside for step in plan.steps for each in step.readings}
    return Section(
        "bringup",
        "First power-up",
        "First power-up",
        text,
        steps=[Step(step.title, step.actions, _sheet(step), _stop(step)) for step in plan.steps],
        terms=list(outside.items()),
        terms_title="When a reading is outside",
    )


def _stop(step: BenchStep) -> list[str]:
    """The figures from which on to stop, each with its meters, and what else is a reason."""
    where = {each.name: each.where for each in step.readings}
    return [*(f"{' x '.join(where[one] for one in each.readings)}: {each.text}" for each in step.stop_at), *step.stop]


def _sheet(step: BenchStep) -> Sheet:
    rows: list[list[str | Field]] = [
        [f"{each.where}{' (may be left out)' if each.optional else ''}", expected_text(each), _field(each)]
        for each in step.readings
    ]
    return Sheet(f"Readings: {step.title}", ["meter", "should show", "shows"], rows)


def _field(reading: Reading) -> Field:
    least, _, most = reading.expected
    return Field(reading.name, reading.where, least, most, reading.outside, yes=reading.unit == "")
