"""The section about the kit: the rig on every source and cable, and what each source offers."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from pdcheck.bits.offers import Offer
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.matrix import watts
from pdcheck.show.page.drawing import drawing
from pdcheck.show.page.marks import MARKS
from pdcheck.show.page.section import Figure, Section, Sheet
from pdcheck.show.pictures.offers_picture import offers_picture, working_point
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS
from pdcheck.verdict.matrix.matrix import Build, Cell, sort_cells
from pdcheck.verdict.rules.every import RIG_RULES

# Cables side by side in one table: as many as a sheet of paper holds.
_SIDE_BY_SIDE = 6
_OWN = "its own cable"


def kit_section(rig: Rig, kit: Kit, build: Build, cells: Sequence[Cell]) -> Section:
    """The rig on every pair of the kit, by the cells of ``build``, and what each source of the kit offers."""
    works = sum(cell.verdict in WORKS for cell in cells)
    named = {cell.rule for cell in cells if cell.rule is not None}
    text = [f"It works on {works} of {len(cells)} pairs of source and cable."]
    aid = [
        ("each cell", "verdict, the rule that decides it, and how much all loads together can have in the worst case"),
        ("each picture", "all that a charger has to offer; the cross is this build with the worst cable for it"),
    ]
    return Section(
        "kit",
        "On everything in the kit",
        "Kit",
        text,
        gallery=_gallery(rig, kit, build, cells),
        tables=_sheets(kit, cells),
        terms=[*aid, *((rule.id, rule.title) for rule in RIG_RULES if rule.id in named)],
    )


def _sheets(kit: Kit, cells: Sequence[Cell]) -> list[Sheet]:
    fixed = {source.id for source in kit.sources if source.cable is not None}
    by_pair = {(cell.source, _OWN if cell.source in fixed else cell.cable): cell for cell in cells}
    sources = list(dict.fromkeys(cell.source for cell in cells))
    columns = list(dict.fromkeys(column for _, column in by_pair))
    sheets: list[Sheet] = []
    for start in range(0, len(columns), _SIDE_BY_SIDE):
        shown = columns[start : start + _SIDE_BY_SIDE]
        rows = [
            [source, *(_cell(by_pair.get((source, column))) for column in shown)]
            for source in sources
            if any((source, column) in by_pair for column in shown)
        ]
        caption = "Each source with each cable"
        if len(columns) > _SIDE_BY_SIDE:
            caption += f": {shown[0]} to {shown[-1]}" if len(shown) > 1 else f": {shown[0]}"
        sheets.append(Sheet(caption, ["source", *shown], rows))
    return sheets


def _cell(cell: Cell | None) -> str:
    if cell is None:
        return "–"
    decided = "" if cell.rule is None else f", {cell.rule}"
    return f"{MARKS[cell.verdict]} {cell.verdict}{decided}; {_most(cell)}"


def _most(cell: Cell) -> str:
    if cell.max_w <= 0:
        return "nothing"
    return f"{'up to' if cell.verdict in WORKS else 'only'} {watts(cell.max_w)}"


def _gallery(rig: Rig, kit: Kit, build: Build, cells: Sequence[Cell]) -> list[Figure]:
    """All that each source offers, and how the rig does on it: the cables on which it does worst come first."""
    pairs = {id(cell): pair for cell, pair in zip(cells, build.pairs, strict=True)}
    of_source: dict[str, list[Cell]] = {}
    for cell in reversed(sort_cells(cells, "verdict")):
        of_source.setdefault(cell.source, []).append(cell)
    figures: list[Figure] = []
    for source in kit.sources:
        own = of_source[source.id]
        alike = [(verdict, list(listed)) for verdict, listed in groupby(own, key=lambda cell: cell.verdict)]
        over = [
            f"{MARKS[verdict]} {verdict} with {', '.join(cell.cable for cell in reversed(listed))}"
            for verdict, listed in alike
        ]
        figures.append(_offered(source, source.offers, Case(rig, *pairs[id(own[0])]), over))
    return figures


def _offered(source: Source, offers: Sequence[Offer], case: Case, over: Sequence[str]) -> Figure:
    svg = drawing(offers_picture(offers, working_point(case), f"What {source.id} offers"))
    listed = ", ".join(short_offer(offer) for offer in offers if not offer.is_gap) or "no offers"
    return Figure(svg, f"{source.id}: {source.title}" if source.title else source.id, [listed, *over])


def short_offer(offer: Offer) -> str:
    """An offer in a few words."""
    volts = f"{offer.max_mv / 1000:g} V"
    if offer.kind == "fixed":
        return f"{volts} {(offer.current_ma or 0) / 1000:g} A"
    amount = f"{offer.current_ma_at(offer.max_mv) / 1000:g} A" if offer.pdp_w is None else f"{offer.pdp_w} W"
    return f"{offer.kind.upper()} {offer.min_mv / 1000:g} to {volts} {amount}"
