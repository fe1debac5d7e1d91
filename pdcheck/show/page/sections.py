"""The sections of the page beyond the one judgement: the kit, the envelope, what to buy, the talk, the bring-up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from pdcheck.contract.conversation import converse
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show import judged
from pdcheck.show.page.build import MARKS, drawing, working_point
from pdcheck.show.page.plots import EnvelopeLine, bus_plot, envelope_plot, offers_plot
from pdcheck.show.talk_lines import folded, lines
from pdcheck.verdict.envelopes import BranchEnvelope, Envelopes, envelopes
from pdcheck.verdict.judge import Judgement

TALK_S = 2.0
"""How much of the conversation the page shows: the contract stands well before."""


class Figure(NamedTuple):
    """A drawing with its caption."""

    svg: Any
    caption: str


class Sheet(NamedTuple):
    """A table: caption, headers, rows whose first cell heads the row."""

    caption: str
    headers: Sequence[str]
    rows: Sequence[Sequence[str]]


class Step(NamedTuple):
    """A step of a procedure: its title and the lines under it."""

    title: str
    lines: Sequence[str]


class Section(NamedTuple):
    """A section: ``short`` stands in the list of contents."""

    id: str
    title: str
    short: str
    text: Sequence[str] = ()
    figures: Sequence[Figure] = ()
    gallery: Sequence[Figure] = ()
    tables: Sequence[Sheet] = ()
    steps: Sequence[Step] = ()


def kit_section(judgements: Sequence[Judgement], kit: Kit) -> Section:
    """The rig on every pair of the kit, and what each source of it offers."""
    cables = list(dict.fromkeys(each.case.cable.id for each in judgements))
    by_pair = {(each.case.source.id, each.case.cable.id): each for each in judgements}
    rows = []
    for source in dict.fromkeys(each.case.source.id for each in judgements):
        rows.append([source, *(_cell(by_pair.get((source, cable))) for cable in cables)])
    works = sum(each.works for each in judgements)
    return Section(
        "kit",
        "On everything in the kit",
        "Kit",
        [f"It works on {works} of {len(judgements)} pairs of source and cable."],
        gallery=_gallery(judgements, kit),
        tables=[Sheet("Verdict of each source over each cable", ["source", *cables], rows)],
    )


def _cell(judgement: Judgement | None) -> str:
    if judgement is None:
        return "–"
    volts = judgement.case.contract.voltage_v
    bus = "off" if judgement.case.contract.outcome == "off" else f"{volts:g} V"
    decided = judgement.findings[0].rule if judgement.findings and judgement.findings[0].level != "note" else ""
    return f"{MARKS[judgement.verdict]} {judgement.verdict}, {bus}{f', {decided}' if decided else ''}"


def _gallery(judgements: Sequence[Judgement], kit: Kit) -> list[Figure]:
    figures: list[Figure] = []
    for index, source in enumerate(kit.sources):
        own = [each for each in judgements if each.case.source.id == source.id]
        best = min(own, key=lambda each: judged_order(each.verdict), default=None)
        point = None if best is None else working_point(best.case)
        offers = best.case.seen.offers if best is not None else source.offers
        svg = drawing(offers_plot(offers or source.offers, point, small=True), f"kit{index}")
        over = "" if best is None else f" over {best.case.cable.id}: {best.verdict}"
        figures.append(_figure(svg, f"{source.title or source.id}{over}"))
    return figures


def judged_order(verdict: str) -> int:
    """Verdicts from the best to the worst.

    >>> sorted(["unsafe", "runs", "fails"], key=judged_order)
    ['runs', 'fails', 'unsafe']
    """
    return list(judged.HEADLINES).index(verdict)


def envelope_section(rig: Rig, source: Source, cable: Cable) -> Section:
    """What each output can deliver on each contract that can occur."""
    found = envelopes(rig, source, cable)
    tables: list[Sheet] = []
    figures: list[Figure] = []
    for index, branch in enumerate(rig.branches):
        tables.append(_envelope_sheet(found, branch.name))
        plotted = _envelope_lines(found, branch.name)
        if plotted:
            figures.append(
                _figure(drawing(envelope_plot(plotted), f"envelope{index}"), f"What {branch.name} can deliver")
            )
    text = [
        "The greatest output of each branch while the others keep running, at the worst corner and typically, on each "
        "contract that can occur, with the part that sets the limit."
    ]
    return Section("envelope", "What the outputs can deliver", "Outputs", text, figures, tables=tables)


def _figure(svg: str, caption: str) -> Figure:
    from markupsafe import Markup

    return Figure(Markup(svg), caption)


def _of(found: Envelopes, name: str) -> list[tuple[str, BranchEnvelope]]:
    rows: list[tuple[str, BranchEnvelope]] = []
    for each in found.contracts:
        title = f"{each.contract.voltage_v:g} V {each.contract.current_a:g} A, {each.when}"
        rows += [(title, branch) for branch in each.branches if branch.branch == name]
    return rows


def _envelope_sheet(found: Envelopes, name: str) -> Sheet:
    rows = [
        [
            title,
            f"{point.output_v:.2f} V",
            f"{point.current_a.min:.3f} A ({point.current_a.typ:.3f})",
            f"{point.power_w.min:.2f} W ({point.power_w.typ:.2f})",
            point.limited_by,
        ]
        for title, branch in _of(found, name)
        for point in branch.points
    ]
    headers = ["contract", "output", "current, worst (typ)", "power, worst (typ)", "limited by"]
    return Sheet(f"Branch {name}", headers, rows)


def _envelope_lines(found: Envelopes, name: str) -> list[EnvelopeLine]:
    """Lines worth drawing: those of an output that can be set to several voltages."""
    return [
        EnvelopeLine(
            title,
            [point.output_v for point in branch.points],
            [point.current_a.min for point in branch.points],
            [point.current_a.typ for point in branch.points],
            [point.limited_by for point in branch.points],
        )
        for title, branch in _of(found, name)
        if len(branch.points) > 1
    ]


def talk_section(rig: Rig, source: Source, cable: Cable) -> Section:
    """The conversation that would happen, as a time line, and what VBUS does."""
    talk = converse(rig.trigger, source, cable, until_s=TALK_S)
    rows: list[list[str]] = []
    for shown in folded(lines(talk)):
        if shown.times:
            rows.append([f"{shown.line.time_s:.4f}", "", f"the {shown.block} before, {shown.times} times more"])
        else:
            rows.append([f"{shown.line.time_s:.4f}", shown.line.kind, shown.line.text])
    plot = _figure(drawing(bus_plot(talk.voltage), "bus"), "VBUS at the source's receptacle and the limits around it")
    return Section(
        "talk",
        "The conversation",
        "Conversation",
        [f"What source and trigger say in the first {TALK_S:g} s after plugging in: {talk.reason or talk.result}."],
        [plot],
        tables=[Sheet("Time line", ["time, s", "kind", "what"], rows)],
    )
