"""What ``bringup --measured`` shows: readings beside what was expected, what they point to, what to read ``--next``."""

from __future__ import annotations

from pdcheck.quantities import Triple, format_quantity
from pdcheck.result import shows
from pdcheck.show.bringup import expected_text, stop_lines
from pdcheck.show.check import MARKS
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import pair_named
from pdcheck.verdict.bringup.cause import Cause, Implied, interval
from pdcheck.verdict.bringup.measured import Change, Comparison, Row, shown
from pdcheck.verdict.bringup.next_reading import Advice
from pdcheck.verdict.bringup.unknowns import KINDS


@shows(Comparison)
def text(found: Comparison) -> str:
    """What a person reads of a filled-in sheet: the fault first, then every reading, then what the readings imply."""
    parts = [paragraph(f"{found.rig or 'The rig'} on {pair_named(found.source, found.cable)}: {_outcome(found)}")]
    grave = [each for each in found.causes if each.level != "note"]
    parts += ["", *(cause_text(each) for each in grave)] if grave else []
    if grave and found.others:
        parts += ["", "These would explain the readings about as well:", ""]
        parts += [paragraph(each.text, indent=2, hang=2) for each in found.others]
        parts.append(paragraph(_decides(found), indent=2, hang=3))
    rows = [_row_cells(row) for row in found.readings if row.taken is not None]
    if rows:
        parts += ["", table(["reading", "read", "expected", ""], rows)]
    if found.fell_to is not None:
        parts.append(
            paragraph(
                f"behind the trigger the readings are compared with what {found.fell_to:g} V should give", indent=2
            )
        )
    if found.implied:
        lines = [
            [
                KINDS[each.kind].called.format(each.subject),
                interval(each),
                f"{_stated_text(each)}{f'; if {each.assumed}' if each.assumed else ''}",
            ]
            for each in found.implied
        ]
        parts += ["", table(["the readings imply", "", "stated"], lines)]
        bounds = "± holds the last digits of the readings and the meter's own error"
        bounds += "; 'if' marks what rests on more than the readings" if any(e.assumed for e in found.implied) else ""
        parts.append(paragraph(bounds, indent=2, hang=2))
    notes = [each for each in found.causes if each.level == "note"]
    parts += ["", *(cause_text(each) for each in notes)] if notes else []
    if found.changes:
        parts += ["", "These figures could go into the files (--write-back):", ""]
        parts += [change_text(each) for each in found.changes]
    if found.kept_back:
        parts += ["", "Not for the files:", ""]
        parts += [paragraph(each, indent=2, hang=2) for each in found.kept_back]
    return "\n".join(parts)


def _decides(found: Comparison) -> str:
    """The one reading that tells the first of the others from what was found."""
    one = found.further
    if one is None:
        listed = [*(f"{each.kind} {each.subject}" for each in found.causes), *found.others[0].causes]
        if any(each.startswith("meter-burden") for each in listed):
            return (
                "-> Read the voltages of one step again with a wire in the ammeter's place: if they rise, it is the "
                "ammeter that drops them."
            )
        return "-> No other reading of this sheet tells them apart."
    first, second = (format_quantity(each, one.unit, 4) for each in (one.first, one.second))
    if first == second:
        first, second = (format_quantity(each, one.unit, 6) for each in (one.first, one.second))
    return f"-> Read {one.name}: about {first} means the first fault, about {second} the other."


def _outcome(found: Comparison) -> str:
    if not found.taken:
        return "no reading is filled in yet."
    outside = sum(row.inside is False for row in found.readings)
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
    return paragraph(
        f"{change.file}: {change.name} = {change.written} (now {change.old or 'not there'})", indent=2, hang=4
    )


def _row_cells(row: Row) -> list[str]:
    assert row.taken is not None
    state = {True: "inside", False: "OUTSIDE", None: ""}[row.inside]
    expected = expected_text(row.reading._replace(expected=row.expected))
    return [row.reading.name, shown(row.taken, row.reading.unit), expected, state]


def _stated_text(each: Implied) -> str:
    stated: Triple = each.stated
    if stated.min == stated.max:
        return format_quantity(stated.typ, each.unit, 3)
    return f"{format_quantity(stated.min, each.unit, 3)} to {format_quantity(stated.max, each.unit, 3)}"


@shows(Advice)
def next_text(advice: Advice) -> str:
    """What a person reads at the bench, one reading at a time."""
    grave = [each for each in advice.found.causes if each.level != "note"]
    parts = [cause_text(each) for each in grave]
    parts += [""] if parts else []
    one = advice.next
    if one is None:
        return "\n".join([*parts, paragraph(advice.enough, hang=2)])
    expected = expected_text(one.reading._replace(expected=one.expected))
    parts.append(paragraph(f"Read {one.name}: {one.where}. It should show {expected}.", hang=2))
    if one.reading.path == one.step.path or one.step.path[0] == "together":
        parts += [paragraph(each, indent=2) for each in one.step.actions]
    parts += [paragraph(line, indent=2, hang=2) for line in (f"Why this one: {one.reason}.", *stop_lines(one.step))]
    return "\n".join(parts)
