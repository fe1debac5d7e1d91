"""The section about the conversation of source and trigger, as a time line and as VBUS over time."""

from __future__ import annotations

from pdcheck.contract.talk.conversation import converse
from pdcheck.show.page.drawing import drawing
from pdcheck.show.page.section import Figure, Section, Sheet
from pdcheck.show.pictures.bus_picture import bus_picture
from pdcheck.show.pictures.shapes import Picture
from pdcheck.show.talk import folded, lines
from pdcheck.verdict.case import Case

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
    figure = Figure(drawing(bus_picture(talk.voltage)), "VBUS at the source's receptacle", aid)
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
