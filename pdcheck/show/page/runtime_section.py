"""The section on how long a power bank lasts; only where the source says what it holds."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.show.hours import hours_line
from pdcheck.show.page.section import Section, Sheet
from pdcheck.show.runtime import AGE, change_rows, notes_of, share_rows, sum_line
from pdcheck.verdict.case import Case
from pdcheck.verdict.runtime import run_time


def runtime_sections(case: Case) -> Iterator[Section]:
    """The section; none for a source that does not say what it holds, and where nothing runs."""
    found = run_time(case.rig, case.source, case.cable)
    if found is None or found.hours is None:
        return
    shares = Sheet("What takes the energy", ("part", "on average", "share"), share_rows(found))
    brings = Sheet("What one change would bring", ("one change", "brings", "at least", "but"), change_rows(found))
    text = (
        f"It lasts {hours_line(found.hours)}.",
        f"{sum_line(found)}.",
        *(f"{each}." for each in notes_of(found)),
        AGE,
    )
    yield Section(
        "runtime",
        "How long does the power bank last?",
        "Run time",
        [f"{each[0].upper()}{each[1:]}" for each in text],
        tables=[shares, brings] if found.changes else [shares],
    )
