"""The section about the first second: the bus over time, what happens in order, what becomes of each branch."""

from __future__ import annotations

from pdcheck.quantities import format_quantity
from pdcheck.show.page.drawing import drawing
from pdcheck.show.page.section import Figure, Section, Sheet
from pdcheck.show.pictures.transient_picture import transient_picture
from pdcheck.show.transient import advice, extreme_rows, fate_words, headline
from pdcheck.show.transient_story import story
from pdcheck.verdict.case import Case
from pdcheck.verdict.transient.first_second import transient


def transient_section(case: Case) -> Section:
    """What happens from plugging in until a second later, with the trigger as it is set."""
    found = transient(case)
    told = story(found.moments, found.circuit) if found.circuit is not None else []
    text = [f"From plugging in until {found.until_s:.3g} s later: {headline(found)}", *advice(found)]
    tables = [Sheet("What becomes of each branch", ["branch", "fate", "that is"], [*map(list, fate_words(found))])]
    if told:
        order = [[format_quantity(each.time_s, "s", 4), each.text] for each in told]
        tables.append(Sheet("What happens, in order", ["at", "what"], order))
        tables.append(
            Sheet("Least and greatest", ["at", "least", "greatest", "current", "rated for"], extreme_rows(found))
        )
    figures = []
    if found.samples.time_s:
        aid = ["Band: between the least and the greatest voltage. Bars: the branch is on; framed: on and off in turn."]
        figures.append(Figure(drawing(transient_picture(found)), "The bus, and which branch is on", aid))
    terms = [(each.subject, each.text) for each in found.assumed]
    return Section(
        "first",
        "The first second",
        "First second",
        text,
        figures,
        tables=tables,
        terms=terms,
        terms_title="Assumed, as nobody states it" if terms else "",
    )
