"""The section about the kit: the rig on every source and cable, and what each source offers."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.bits.offers import Offer
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.matrix import watts
from pdcheck.show.page.drawing import drawing, working_point
from pdcheck.show.page.marks import MARKS
from pdcheck.show.page.offers_plot import offers_plot
from pdcheck.show.page.section import Figure, Section, Sheet
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
    text = [
        f"It works on {works} of {len(cells)} pairs of source and cable.",
        "Each cell: the verdict, the rule that decides it, and the most that all loads together can have in the worst "
        "case before anything fails.",
        "The pictures show all that a source has to offer; the cross is where this build sits, with the best cable.",
    ]
    return Section(
        "kit",
        "On everything in the kit",
        "Kit",
        text,
        gallery=_gallery(rig, kit, build, cells),
        tables=_sheets(kit, cells),
        terms=[(rule.id, rule.title) for rule in RIG_RULES if rule.id in named],
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
    return f"up to {watts(cell.max_w)}" if cell.max_w > 0 else "nothing"


def _gallery(rig: Rig, kit: Kit, build: Build, cells: Sequence[Cell]) -> list[Figure]:
    """All that each source offers, with the point where the rig sits on it over the cable that suits it best."""
    pairs = {id(cell): pair for cell, pair in zip(cells, build.pairs, strict=True)}
    best: dict[str, Cell] = {}
    for cell in sort_cells(cells, "verdict"):
        best.setdefault(cell.source, cell)
    figures: list[Figure] = []
    for index, source in enumerate(kit.sources):
        cell = best[source.id]
        case = Case(rig, *pairs[id(cell)])
        over = f"{MARKS[cell.verdict]} {cell.verdict} with {cell.cable}, {_most(cell)}"
        figures.append(_offered(source, index, source.offers, case, over))
    return figures


def _offered(source: Source, index: int, offers: Sequence[Offer], case: Case, over: str) -> Figure:
    svg = drawing(offers_plot(offers, working_point(case), small=True), f"kit{index}")
    listed = ", ".join(_short(offer) for offer in offers if not offer.is_gap) or "no offers"
    return Figure(svg, f"{source.id}: {source.title}" if source.title else source.id, [listed, over])


def _short(offer: Offer) -> str:
    volts = f"{offer.max_mv / 1000:g} V"
    if offer.kind == "fixed":
        return f"{volts} {(offer.current_ma or 0) / 1000:g} A"
    amount = f"{offer.current_ma_at(offer.max_mv) / 1000:g} A" if offer.pdp_w is None else f"{offer.pdp_w} W"
    return f"{offer.kind.upper()} {offer.min_mv / 1000:g} to {volts} {amount}"
