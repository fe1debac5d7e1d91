"""What ``bringup --measured --next`` shows: one reading to take, or that it is enough, and what was found so far."""

from __future__ import annotations

from pdcheck.result import shows
from pdcheck.show.bringup import expected_text, stop_lines
from pdcheck.show.columns import paragraph
from pdcheck.show.measured import cause_text
from pdcheck.verdict.bringup.next_reading import Advice


@shows(Advice)
def text(advice: Advice) -> str:
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
