"""The section on heat: what each part turns into heat, how warm it gets, and the air in the box."""

from __future__ import annotations

from pdcheck.show.heat import HEADERS, heat_rows, heat_words
from pdcheck.show.page.section import Section, Sheet
from pdcheck.verdict.judge import Judgement


def heat_section(judgement: Judgement) -> Section:
    """A row for each part that gets warm, and what is assumed."""
    rows = heat_rows(judgement)
    text = heat_words(judgement) if rows else ["Nothing flows, and nothing gets warm."]
    return Section("heat", "Heat", "Heat", text, tables=[Sheet("Heat and temperatures", HEADERS, rows)] if rows else [])
