"""Builds the page from a judged rig: fills the template; every text from a file is escaped by the template engine."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from pdcheck import __version__
from pdcheck.facts.cautions import CAUTIONS
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.quantities import format_quantity
from pdcheck.show import judged
from pdcheck.show.clean import clean
from pdcheck.show.decoded import offer_cells
from pdcheck.show.page.chain import chain_of
from pdcheck.show.page.plots import Plot, WorkingPoint, offers_plot
from pdcheck.show.page.svg import inline_svg
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Finding
from pdcheck.verdict.judge import Judgement

if TYPE_CHECKING:
    from pdcheck.show.page.sections import Section

MARKS = {"runs": "✓", "limited": "◐", "fails": "✕", "unsafe": "⚠"}


def build_page(judgement: Judgement, more: list[Section]) -> str:
    """The page as text. ``more`` are the sections between the source and the cautions, in order.

    Raises nothing of its own: what it shows has been judged already.
    """
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    template = environment.from_string(_packaged("page.html.j2"))
    case = judgement.case
    decided = next((each for each in judgement.findings if each.level != "note"), None)
    rows = [
        {"cells": offer_cells(offer), "chosen": offer.position == case.contract.position} for offer in case.seen.offers
    ]
    contents = [("verdict", "Verdict"), ("chain", "Chain"), ("findings", "Findings"), ("source", "Source")]
    contents += [(section.id, section.short) for section in more] + [("cautions", "Cautions")]
    return template.render(
        title=clean(case.rig.title or "USB-C build"),
        job=job_line(case.rig),
        verdict=judgement.verdict,
        headline=judged.HEADLINES[judgement.verdict],
        mark=MARKS[judgement.verdict],
        source=case.source,
        cable=case.cable,
        contract=judged.contract_line(case.contract),
        decided=decided,
        chain=chain_of(judgement),
        findings=[_finding_row(each) for each in judgement.findings],
        source_plot=Markup(drawing(offers_plot(case.seen.offers, working_point(case)), "source")),
        offers=rows,
        more=more,
        contents=contents,
        cautions=[caution.text for caution in CAUTIONS],
        style=Markup(_packaged("style.css")),
        version=__version__,
        data=Markup(_embedded(judged.document([judgement], case.rig.title))),
    )


def drawing(plot: Plot, prefix: str) -> str:
    """A plot as SVG for the page."""
    return inline_svg(plot.figure, prefix, plot.label, plot.names)


def working_point(case: Case) -> WorkingPoint | None:
    """Where the rig sits on its source, typically."""
    volts, amps = case.node_voltage("source"), case.node_current("source")
    return None if volts is None or amps is None else WorkingPoint(volts.typ, amps.typ)


def job_line(rig: Rig) -> str:
    """What the rig is for, in one line."""
    request = request_text(rig.trigger.request)
    branches = []
    for branch in rig.branches:
        through = (
            f" through {branch.converter.output_v:g} V" if branch.converter is not None else " straight on the bus"
        )
        branches.append(f"{branch.name}{through}")
    listed = "; ".join(branches)
    return f"A trigger set to {request} (else {rig.trigger.fallback}) feeds {len(rig.branches)} branches: {listed}."


def _finding_row(finding: Finding) -> dict[str, str]:
    def figure(value: float | None) -> str:
        if value is None:
            return ""
        if finding.unit in ("V", "A", "W", "ohm", "F"):
            return format_quantity(value, finding.unit)
        return f"{value:.4g}"

    return {
        "level": finding.level,
        "subject": finding.subject,
        "text": finding.text,
        "advice": finding.advice,
        "value": figure(finding.value),
        "limit": figure(finding.limit),
        "rule": finding.rule,
        "origin": str(finding.origin),
    }


def _embedded(document: dict[str, Any]) -> str:
    """JSON that can stand in a script element: no text in it can end the element."""
    text = json.dumps(document, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _packaged(name: str) -> str:
    return (files("pdcheck") / "show" / "page" / name).read_text(encoding="utf-8")
