"""Puts a page together: the pair it is about, the cells of the whole kit, and every section; and single plots."""

from __future__ import annotations

from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.show.page import sections
from pdcheck.show.page.build import build_page
from pdcheck.show.page.kit_section import kit_section
from pdcheck.show.page.outputs_section import branch_picture, outputs_section
from pdcheck.show.page.section import Section
from pdcheck.show.page.try_section import try_section
from pdcheck.show.page.what_to_do import what_to_do
from pdcheck.show.pictures import PlotName
from pdcheck.show.pictures.offers_picture import offers_picture, working_point
from pdcheck.show.pictures.shapes import Picture
from pdcheck.verdict.envelopes import envelopes
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.judge import Judgement, judge, pairs_of
from pdcheck.verdict.matrix.matrix import Build, Cell, Matrix, build, judge_matrix, sort_cells
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
