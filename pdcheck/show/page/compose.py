"""Puts a page together: the pair it is about, the judgements of the whole kit, and every section."""

from __future__ import annotations

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.show.page.build import build_page, working_point
from pdcheck.show.page.plots import offers_plot
from pdcheck.show.page.sections import (
    Section,
    envelope_section,
    judged_order,
    kit_section,
    talk_section,
)
from pdcheck.show.page.svg import file_png, file_svg
from pdcheck.verdict.judge import Judgement, judge, pairs_of


def compose(rig: Rig, kit: Kit, source_id: str | None, cable_id: str | None) -> tuple[Judgement, str]:
    """The judgement that the page is about, and the page.

    The pair is the one named, else the best of the kit: that with the gentlest verdict, of these the fewest findings.
    """
    judgements = [judge(rig, source, cable) for source, cable in pairs_of(kit)]
    named = [judge(rig, source, cable) for source, cable in pairs_of(kit, source_id, cable_id)]
    chosen = min(named, key=lambda each: (judged_order(each.verdict), len(each.findings)))
    case = chosen.case
    sections: list[Section] = [
        envelope_section(rig, case.source, case.cable),
        kit_section(judgements, kit),
        talk_section(rig, case.source, case.cable),
    ]
    return chosen, build_page(chosen, sections)


def picture(judgement: Judgement, kind: str) -> str | bytes:
    """The picture of the source's offers with the working point, as ``svg`` text or ``png`` bytes."""
    case = judgement.case
    plot = offers_plot(case.seen.offers, working_point(case))
    return file_svg(plot.figure) if kind == "svg" else file_png(plot.figure)
