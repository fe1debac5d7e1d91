"""The sections that say of the pair what a command says of it, in the words of that command, each as tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pdcheck.contract.talk.conversation import converse
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import format_quantity
from pdcheck.show import fuse, need, runtime
from pdcheck.show.bringup import expected_text
from pdcheck.show.change import bus_words, fate_row
from pdcheck.show.check import contract_line
from pdcheck.show.figures import hours_line
from pdcheck.show.heat import HEADERS, heat_rows, heat_words
from pdcheck.show.page.section import Field, Figure, Section, Sheet, Step
from pdcheck.show.pictures.bus_picture import bus_picture
from pdcheck.show.pictures.shapes import Picture
from pdcheck.show.pictures.transient_picture import transient_picture
from pdcheck.show.talk import folded, lines
from pdcheck.show.transient import advice, extreme_rows, fate_words, headline
from pdcheck.show.transient_story import story
from pdcheck.verdict.bringup.steps import Step as BenchStep
from pdcheck.verdict.bringup.steps import bring_up
from pdcheck.verdict.bringup.words import Reading
from pdcheck.verdict.case import Case
from pdcheck.verdict.change.bus_path import WAYS
from pdcheck.verdict.change.changes import Changed, changed
from pdcheck.verdict.fuses import fuses
from pdcheck.verdict.judge import MOST_IN_DETAIL, Judgement
from pdcheck.verdict.need.around import Needs, all_needs
from pdcheck.verdict.not_judged import SETTLED_BY
from pdcheck.verdict.runtime import run_time
from pdcheck.verdict.transient.first_second import transient


def heat_section(judgement: Judgement) -> Section:
    """A row for each part that gets warm, and what is assumed."""
    rows = heat_rows(judgement)
    text = heat_words(judgement) if rows else ["Nothing flows, and nothing gets warm."]
    return Section("heat", "Heat", "Heat", text, tables=[Sheet("Heat and temperatures", HEADERS, rows)] if rows else [])


TALK_S = 2.0
"""How much of the conversation the page shows [s]: the contract stands well before."""


def talk_section(case: Case) -> Section:
    """The conversation that would happen, as a time line, and what VBUS does."""
    talk = converse(case.rig.trigger, case.source, case.cable, until_s=TALK_S)
    rows: list[list[str]] = []
    for shown in folded(lines(talk)):
        if shown.times:
            rows.append([f"{shown.line.time_s:.4f}", "", f"the {shown.block} before, {shown.times} times more"])
        else:
            rows.append([f"{shown.line.time_s:.4f}", shown.line.kind, shown.line.text])
    aid = ["Line: nominal; band: what the standard lets it be at that moment."]
    figure = Figure(bus_picture(talk.voltage), "VBUS at the source's receptacle", aid)
    return Section(
        "talk",
        "The conversation",
        "Conversation",
        [f"What charger and trigger say in the first {TALK_S:g} s after plugging in: {talk.reason or talk.result}."],
        [figure],
        tables=[Sheet("Time line", ["time, s", "kind", "what"], rows)],
    )


def talk_picture(case: Case, title: str) -> Picture:
    """VBUS over the first seconds of the conversation."""
    return bus_picture(converse(case.rig.trigger, case.source, case.cable, until_s=TALK_S).voltage, title)


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
        figures.append(Figure(transient_picture(found), "The bus, and which branch is on", aid))
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


def change_section(case: Case) -> Section:
    """Each change with what stands then, and for each way in which it comes what becomes of every branch."""
    found = changed(case.rig, case.source, case.cable)
    rows = [[each.to, "works" if each.works else "do not count on it", contract_line(each.contract)] for each in
            found.changes]  # fmt: skip
    sheets = [Sheet("What the charger may change to", ["change", "then", "contract then"], rows)]
    sheets += [
        Sheet(
            f"{change.to}, {WAYS[each.path.way]}: {bus_words(each.path)}",
            ["branch", "what", "why"],
            [*map(fate_row, each.fates)],
        )
        for change in found.changes
        for each in change.paths
    ]
    return Section("change", "When the charger offers less", "Less offered", [_survived(found)], tables=sheets)


def _survived(found: Changed) -> str:
    """What it survives, and what not, in one line."""
    survived = [each.to for each in found.changes if each.works]
    lost = [each.to for each in found.changes if not each.works]
    told = [f"It still works after: {', '.join(survived)}."] if survived else []
    return " ".join(told + ([f"Do not count on it after: {', '.join(lost)}."] if lost else []))


def runtime_sections(case: Case) -> Iterator[Section]:
    """The section; none for a source that does not say what it holds, and where nothing runs."""
    found = run_time(case.rig, case.source, case.cable)
    if found is None or found.hours is None:
        return
    shares = Sheet("What takes the energy", ("part", "on average", "share"), runtime.share_rows(found))
    brings = Sheet(
        "What one change would bring", ("one change", "brings", "at least", "but"), runtime.change_rows(found)
    )
    text = (
        f"It lasts {hours_line(found.hours)}.",
        f"{runtime.sum_line(found)}.",
        *(f"{each}." for each in runtime.notes_of(found)),
        runtime.AGE,
    )
    yield Section(
        "runtime",
        "How long does the power bank last?",
        "Run time",
        [f"{each[0].upper()}{each[1:]}" for each in text],
        tables=[shares, brings] if found.changes else [shares],
    )


def need_section(rig: Rig) -> Section:
    """What a rig needs, and what would change it."""
    needs = all_needs(rig)
    tables = [
        Sheet(
            "The least to buy", need.LEAST_HEADERS, [] if needs.least is None else need.least_rows(needs, needs.least)
        ),
        Sheet(need.wires_title(needs), need.WIRE_HEADERS, need.wire_rows(needs)),
        Sheet(need.SETTINGS_TITLE, need.SETTING_HEADERS, need.setting_rows(needs.settings)),
        Sheet(need.FALLBACKS_TITLE, need.FALLBACK_HEADERS, _named(need.fallback_rows(needs))),
    ]
    return Section(
        "need", "What to buy", "What to buy", _to_buy(needs), tables=[each for each in tables if each.rows],
        terms=_facts(needs), terms_title="More about charger and cable",
    )  # fmt: skip


def _to_buy(needs: Needs) -> list[str]:
    """The least in one line, what it depends on, and what would let one buy less."""
    if needs.least is None:
        text = ["No standard charger works with this rig, whatever the cable.", *needs.reasons]
    else:
        text = [need.least_facts(needs.least)[0]]
        text += [f"If {each.text} ({SETTLED_BY[each.settle_by]})." for each in needs.not_judged]
    if needs.fallbacks:
        text.append(need.fallback_advice(needs))
    return text + [f"One change that would let you buy less: {need.spared_text(each)}." for each in needs.spared]


def _facts(needs: Needs) -> list[tuple[str, str]]:
    """What is used of the charger and what the cable may be, each under its first word."""
    facts = [] if needs.least is None else need.least_facts(needs.least)[1:]
    pairs = (each.partition(": ") for each in facts)
    return [(name, rest) if rest else ("Chargers", name) for name, _, rest in pairs]


def _named(rows: list[list[str]]) -> list[list[str]]:
    """Rows that each say what they are about, also where a terminal leaves it out below the first."""
    named: list[list[str]] = []
    for row in rows:
        named.append([row[0] or named[-1][0], *row[1:]])
    return named


def fuse_section(rig: Rig, pairs: Sequence[tuple[Source, Cable]], pair: tuple[Source, Cable]) -> Section:
    """What fits at each place, on the whole kit; where that takes too long, on the pair that the page is about."""
    found = fuses(rig, pairs if len(pairs) <= MOST_IN_DETAIL else [pair])
    fitting = Sheet("Standard values that fit", fuse.HEADERS, fuse.place_rows(found))
    whys = [
        Sheet(f"{each.place}: {fuse.proposal(each)}", ["why"], [[reason] for reason in each.reasons])
        for each in found.places
    ]
    text = [f"{fuse.headline(found)}.", "Put a fuse at the start of the wire that it protects."]
    return Section("fuses", "Fuses", "Fuses", text, tables=[fitting, *whys], terms=[("how much", f"{fuse.SHARES}.")])


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
