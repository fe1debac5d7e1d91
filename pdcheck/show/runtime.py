"""What ``runtime`` shows: the hours, what takes the energy, what one change would bring, whether it falls asleep."""

from __future__ import annotations

from pdcheck.parts.energy import STATE_IT
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.check import contract_line
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hours_line, hours_text, pair_named, shown
from pdcheck.verdict.runtime import RunTime, RunTimes

MOST_IN_FULL = 6
"""More pairs than these are shown with a line each."""
AGE = "This is for a new power bank at room temperature: an old or a cold one holds less."
OF_SOURCE = {"source": "inside the power bank"}


@shows(RunTimes)
def text(found: RunTimes) -> str:
    """What the command prints: every pair in full, or a line each where there are many."""
    if len(found.results) <= MOST_IN_FULL:
        parts = [_one(each) for each in found.results]
    else:
        rows = [
            [
                each.source,
                each.cable,
                "-" if each.hours is None else hours_text(each.hours.min),
                each.verdict,
                "may switch itself off" if each.sleeps else "",
            ]
            for each in found.results
        ]
        parts = [
            table(["source", "cable", "at least", "verdict", ""], rows),
            paragraph("For what takes the energy of one add --source ID --cable ID."),
        ]
    if found.without:
        ids = ", ".join(found.without)
        words = "does not say how much energy it holds" if len(found.without) == 1 else "do not say what they hold"
        parts.append(paragraph(f"{ids} {words}: for a power bank state {STATE_IT}.", hang=2))
    return "\n\n".join([*parts, paragraph(AGE)])


@shows(RunTime)
def _one(found: RunTime) -> str:
    parts = [paragraph(f"{pair_named(found.source, found.cable)}: {_headline(found)}", hang=2)]
    if not found.works and found.against is not None:
        what = f"{found.against.subject}: {found.against.text}"
        parts.append(paragraph(f"{what} ('pdcheck check' has all of it)", indent=2, hang=2))
    parts.append(paragraph(f"contract: {contract_line(found.contract)}", indent=2, hang=2))
    if found.hours is None:
        return "\n".join(parts)
    parts.append(paragraph(sum_line(found), indent=2, hang=2))
    parts += ["", table(["what takes the energy", "on average", "share"], share_rows(found))]
    if found.changes:
        rows = change_rows(found)
        heads = ["one change", "brings", "at least", "but"]
        if not any(row[-1] for row in rows):
            heads, rows = heads[:-1], [row[:-1] for row in rows]
        parts += ["", table(heads, rows)]
    return "\n".join([*parts, "", *(paragraph(line, indent=2, hang=2) for line in notes_of(found))])


def share_rows(found: RunTime) -> list[list[str]]:
    """What each part takes, the most first: its name, its watts, its share."""
    return [
        [
            OF_SOURCE.get(each.part, each.part),
            format_quantity(each.power_w, "W", 3) if each.power_w >= 1e-3 else "under 1 mW",
            f"{each.share:.0%}" if each.share >= 0.01 else "under 1%",
        ]
        for each in found.shares
    ]


def change_rows(found: RunTime) -> list[list[str]]:
    """What each change brings: in words, the hours more, the least hours then, what else comes of it."""
    return [
        [each.change, f"+{hours_text(each.more_h)}", hours_text(each.hours.min), ", ".join(each.but)]
        for each in found.changes
    ]


def notes_of(found: RunTime) -> list[str]:
    """What is off, whether the power bank falls asleep, and what was assumed; a line each."""
    lines = [f"{name} is off on this contract and takes nothing" for name in found.off]
    return [line for line in (*lines, _sleep(found), *(f"assumed: {each}" for each in found.assumed)) if line]


def _headline(found: RunTime) -> str:
    if found.hours is None:
        return "nothing runs." if found.works else f"{found.verdict.upper()}. Nothing runs."
    lasts = hours_line(found.hours)
    return f"{lasts}." if found.works else f"{found.verdict.upper()}. What does run lasts {lasts}."


def sum_line(found: RunTime) -> str:
    """The energy that comes out, and the power that takes it."""
    assert found.average_w is not None, "what has hours takes something"
    out = f"{shown(found.output_wh, 'Wh')} come out of it"
    cells = "" if found.cells_wh is None else f", of {shown(found.cells_wh, 'Wh')} in its cells"
    mean = " on average" if found.loads_in_time else ""
    return f"{out}{cells}; the rig takes {shown(found.average_w, 'W')}{mean}"


def _sleep(found: RunTime) -> str:
    sleep = found.sleep
    if sleep is None:
        return ""
    least, below = sleep.lightest_a.min, sleep.below_a.max
    shown = format_quantity(least, "A", 3, beside=below), format_quantity(below, "A", 3, beside=least)
    often = "" if sleep.always else " at times"
    if not sleep.may:
        needs = f"it needs {shown[1]} for that" if sleep.stated else f"few need more than {shown[1]} for that"
        return f"it stays on: it gives {shown[0]} or more, and {needs}"
    if sleep.stated:
        return f"it switches itself off: it gives only {shown[0]}{often}, and needs {shown[1]} to stay on"
    return (
        f"it may switch itself off: it gives only {shown[0]}{often}; what keeps this one on is not known, and many "
        f"need up to {shown[1]}. State sleeps_below once you have measured it"
    )
