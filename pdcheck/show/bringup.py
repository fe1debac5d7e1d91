"""What ``bringup`` shows: the steps of a first power-up."""

from __future__ import annotations

from pdcheck.result import shows
from pdcheck.show.check import IN_CHECK, cautions, contract_line, finding_text, verdict_words
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import pair_named
from pdcheck.verdict.bringup.steps import BringUp, Step
from pdcheck.verdict.bringup.words import Reading
from pdcheck.verdict.finding import GRAVE


def expected_text(reading: Reading) -> str:
    """What a reading should be, in a few words.

    >>> from pdcheck.verdict.bringup.words import Expected
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


def stop_lines(step: Step) -> tuple[str, ...]:
    """When to stop: from which readings on and for the sake of which part, and at what else."""
    names = {each.name: _short(each) for each in step.readings}
    figures = [f"{' x '.join(names[name] for name in each.readings)} {each.text}" for each in step.stop_at]
    said = (f"Stop from here on: {'; '.join(figures)}.",) if figures else ()
    return (*said, f"Stop at: {'; '.join(step.stop)}.")


@shows(BringUp)
def text(plan: BringUp) -> str:
    """What a person reads beside the bench."""
    case = plan.case
    calculated = verdict_words(plan.judgement, IN_CHECK)
    parts = [
        paragraph(f"Bring-up of {case.rig.title or 'the rig'} on {pair_named(case.source.id, case.cable.id)}", hang=2),
        paragraph(f"expected contract: {contract_line(case.contract)}", indent=2, hang=2),
        paragraph(f"calculated verdict: {calculated}", indent=2, hang=2),
    ]
    loud = cautions(plan.judgement)
    parts += ["", loud] if loud else []
    grave = [each for each in plan.judgement.findings if each.level in GRAVE]
    parts += ["", *(finding_text(each) for each in grave)] if grave else []
    for number, step in enumerate(plan.steps, 1):
        parts += ["", paragraph(f"{number}. {step.title}", hang=3)]
        parts += [paragraph(action, indent=3) for action in step.actions]
        rows = [
            [_short(each), expected_text(each), f"{each.where}{' (optional)' if each.optional else ''}"]
            for each in step.readings
        ]
        parts.append(table(["reading", "expect", "where the meter goes"], rows, indent=3))
        parts += [paragraph(line, indent=3, hang=3) for line in stop_lines(step)]
    if plan.halted:
        parts += ["", paragraph(f"No further: {plan.halted}.", hang=2)]
    parts += ["", "When a reading is outside", ""]
    seen: dict[str, str] = {each.key: each.outside for step in plan.steps for each in step.readings}
    parts.append(table(["reading", "what to do"], [[key, what] for key, what in seen.items()]))
    said_first = {each.text for each in case.rig.cautions}
    others = [each for each in plan.cautions if each not in said_first]
    parts += ["", "Cautions", "", *(paragraph(f"- {each}", indent=2, hang=2) for each in others)]
    return "\n".join(parts)


def _short(reading: Reading) -> str:
    inner = reading.path[1] if reading.path[0] in ("unpowered", "together") and len(reading.path) > 1 else ""
    return f"{inner} {reading.key}".strip()
