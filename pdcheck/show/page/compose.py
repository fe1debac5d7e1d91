"""Puts a page together: the pair it is about, the cells of the whole kit, and every section; and single plots."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import Any

from markupsafe import Markup

from pdcheck import __version__
from pdcheck.facts.cautions import CAUTIONS
from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.quantities import format_quantity
from pdcheck.show.check import contract_line, depending
from pdcheck.show.clean import clean
from pdcheck.show.envelope import beyond
from pdcheck.show.matrix import watts
from pdcheck.show.offers import offer_cells
from pdcheck.show.page import sections
from pdcheck.show.page.chain import chain_of
from pdcheck.show.page.kit_section import kit_section, offers_words
from pdcheck.show.page.outputs_section import branch_picture, outputs_section
from pdcheck.show.page.palette import packaged
from pdcheck.show.page.section import MARKS, Section
from pdcheck.show.page.template import template
from pdcheck.show.page.try_section import TrySection, try_section
from pdcheck.show.page.what_to_do import what_to_do
from pdcheck.show.pictures import PlotName
from pdcheck.show.pictures.offers_picture import offers_picture, working_point
from pdcheck.show.pictures.parts_picture import parts_picture
from pdcheck.show.pictures.shapes import Picture
from pdcheck.show.pictures.voltage_picture import voltage_picture
from pdcheck.show.pictures.watts_picture import watts_picture
from pdcheck.verdict.drawn import Drawn, drawn
from pdcheck.verdict.envelopes import envelopes
from pdcheck.verdict.finding import Finding
from pdcheck.verdict.greatest import Greatest, greatest_load
from pdcheck.verdict.judge import Judgement, judge, pairs_of
from pdcheck.verdict.matrix.matrix import Build, Cell, Matrix, build, judge_matrix, sort_cells
from pdcheck.verdict.not_judged import SETTLED_BY
from pdcheck.verdict.rules.every import RIG_RULES
from pdcheck.verdict.settings import settings_with, try_on


class Subject(NamedTuple):
    """What a page is about: the rig on every pair of the kit, and the one pair that it shows in full."""

    kit: Kit
    build: Build
    cells: list[Cell]
    judgement: Judgement


def subject_of(name: str, rig: Rig, kit: Kit, source_id: str | None, cable_id: str | None) -> Subject:
    """Judge the kit and choose the pair: the one named, else the best, then the one with the most watts.

    Raises ``InputError`` for an id that is not in the kit, and for a kit without sources.
    """
    named = {(source.id, cable.id) for source, cable in pairs_of(kit, source_id, cable_id)}
    every = build(name, rig, kit)
    cells = judge_matrix([every])
    best = sort_cells([cell for cell in cells if (cell.source, cell.cable) in named], "verdict")[0]
    place = next(at for at, cell in enumerate(cells) if cell is best)
    return Subject(kit, every, cells, judge(rig, *every.pairs[place]))


def compose(subject: Subject) -> str:
    judgement = subject.judgement
    case = judgement.case
    pair = case.source, case.cable
    found = envelopes(case.rig, case.source, case.cable)
    counts = try_on(case.rig, subject.build.pairs, settings_with(case.rig, subject.kit))
    listed: list[Section] = [
        outputs_section(found, case),
        sections.heat_section(judgement),
        kit_section(case.rig, subject.kit, subject.build, subject.cells, counts),
        sections.talk_section(case),
        sections.transient_section(case),
        sections.change_section(case),
        *sections.runtime_sections(case),
        sections.need_section(case.rig),
        sections.fuse_section(case.rig, subject.build.pairs, pair),
        sections.bringup_section(judgement),
    ]
    matrix = {"pdcheck-matrix": Matrix(tuple(subject.cells)).to_dict()}
    trying = try_section(judgement, subject.kit, subject.build.pairs, pair)
    to_do = what_to_do(judgement, counts, subject.cells)
    return build_page(judgement, greatest_load(case), listed, matrix, trying, to_do)


def build_page(
    judgement: Judgement,
    greatest: Greatest,
    more: Sequence[Section],
    data: dict[str, Any],
    trying: TrySection | None = None,
    to_do: Sequence[str] = (),
) -> str:
    """The page as text; every text from a file is escaped by the template engine.

    ``more`` are the sections between the source and the cautions, ``data`` the JSON documents for the page to carry
    beside that of the judgement, by the id of their element, ``to_do`` is said below the verdict.
    """
    case, build = judgement.case, drawn(judgement, greatest)
    script = "".join(map(packaged, ("address.js", "readings.js", "grid.js", *(() if trying is None else ("try.js",)))))
    contents = [("verdict", "Verdict"), ("chain", "The build"), *([] if trying is None else [("try", "Try it")])]
    contents += [("findings", "Findings"), ("source", "Source")]
    contents += [(section.id, section.short) for section in more] + [("cautions", "Cautions")]
    documents = {"pdcheck-data": judgement.to_dict()} | data
    if trying is not None:
        documents["pdcheck-try"] = trying.document
    return template().render(
        title=case.rig.title or "USB-C build",
        job=job_line(case.rig),
        verdict=judgement.verdict,
        headline=depending(judgement, "what is listed here"),
        unsettled=[(each.text, SETTLED_BY[each.settle_by]) for each in judgement.not_judged],
        mark=MARKS[judgement.verdict],
        source=case.source,
        cable=case.cable,
        contract=contract_line(case.contract),
        decided=judgement.decided,
        most=most_line(greatest, None if case.point is None else sum(each.typ for each in case.point.loads.values())),
        chain=chain_of(build, greatest.load_w),
        pictures=_pictures(build),
        trying=trying,
        to_do=to_do,
        grave=_grouped(each for each in judgement.findings if each.level != "note"),
        notes=_grouped(each for each in judgement.findings if each.level == "note"),
        running=Markup(css_text(case.rig.title or "USB-C build")),
        source_plot=offers_picture(case.seen.offers, working_point(case), f"What {case.source.id} offers"),
        offered=offers_words(case.seen.offers),
        offers=[
            {"cells": offer_cells(offer), "chosen": offer.position == case.contract.position}
            for offer in case.seen.offers
            if not offer.is_gap
        ],
        more=more,
        contents=contents,
        loud=[caution.text for caution in case.rig.cautions],
        cautions=[caution.text for caution in (*case.rig.cautions, *CAUTIONS)],
        style=Markup(packaged("style.css")),
        script=Markup(script),
        script_hash=Markup(b64encode(sha256(script.encode()).digest()).decode()),
        version=__version__,
        documents=[(name, Markup(_embedded(document))) for name, document in documents.items()],
    )


def _pictures(found: Drawn) -> dict[str, Any]:
    """The build as pictures, each wide and for a telephone."""

    def each(narrow: bool) -> dict[str, Any]:
        form = "narrow" if narrow else "wide"
        voltages = [voltage_picture(found, one, narrow=narrow) for one in found.branches]
        return {
            form: parts_picture(found, narrow=narrow),
            f"watts_{form}": watts_picture(found, narrow=narrow),
            f"voltages_{form}": voltages,
        }

    return each(narrow=False) | each(narrow=True)


def most_line(greatest: Greatest, takes_w: float | None) -> str:
    """How much the loads take [W], how much they can have, and what is in the way of more.

    >>> most_line(Greatest(0.0, 0.0, None), None)
    'It can supply nothing to these loads.'
    """
    first = greatest.first
    if greatest.load_w <= 0:
        return "It can supply nothing to these loads."
    then = "" if first is None else f"; {beyond(first)}"
    if greatest.scale < 1:
        return f"In the worst case this setup can supply only {watts(greatest.load_w)} to the loads{then}."
    takes = "" if takes_w is None else f"Your loads take {watts(takes_w)}. "
    return f"{takes}Even in the worst case this setup can supply {watts(greatest.load_w)}{then}."


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


def _grouped(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings of one rule and level together, in the order of the first of each."""
    groups: dict[tuple[str, str, str, str], list[Finding]] = {}
    for each in findings:
        groups.setdefault((each.level, each.rule, each.advice, str(each.origin)), []).append(each)
    titles = {rule.id: rule.title for rule in RIG_RULES}
    return [
        {
            "level": level,
            "rule": rule,
            "title": titles.get(rule, rule),
            "advice": advice,
            "origin": origin,
            "found": [
                (each.subject, each.text, _figure(each.value, each.unit), _figure(each.limit, each.unit))
                for each in listed
            ],
        }
        for (level, rule, advice, origin), listed in groups.items()
    ]


def css_text(text: str) -> str:
    r"""A text as CSS takes it between quotes: nothing in it can end them, nor the style sheet.

    >>> print(css_text('a"b<c'))
    a\22 b\3c c
    """
    return "".join(each if each.isalnum() or each == " " else f"\\{ord(each):x} " for each in clean(text, 80))


def _figure(value: float | None, unit: str) -> str:
    if value is None:
        return ""
    return format_quantity(value, unit) if unit in ("V", "A", "W", "ohm", "F") else f"{value:.4g}"


def _embedded(document: dict[str, Any]) -> str:
    """JSON that can stand in a script element: no text in it can end the element."""
    text = json.dumps(document, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def picture(judgement: Judgement, which: PlotName, branch: str | None = None) -> Picture:
    """A single plot: ``offers``, ``envelope`` (of ``branch``, else the first) or ``bus``.

    Raises ``InputError`` for a branch that is not in the rig.
    """
    case = judgement.case
    title = f"{case.rig.title or 'Rig'} on {case.source.id} with {case.cable.id}"
    if which == "offers":
        found = offers_picture(case.seen.offers, working_point(case), f"{title}: what is offered")
    elif which == "bus":
        found = sections.talk_picture(case, f"{title}: VBUS over time")
    else:
        name = case.rig.branches[0].name if branch is None else branch
        found = branch_picture(envelopes(case.rig, case.source, case.cable, branch=name), case, name, title)
    return found.headed()
