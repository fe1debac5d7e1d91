"""The section about the kit: the rig on every source and cable, and what each source offers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from pdcheck.bits.offers import Offer
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.show.page.kit_grid import MARKS, kit_grid
from pdcheck.show.page.section import Figure, Section
from pdcheck.show.page.what_to_do import settings_sheet
from pdcheck.show.pictures.offers_picture import offers_picture, working_point
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS
from pdcheck.verdict.matrix.matrix import Build, Cell, sort_cells
from pdcheck.verdict.settings import Setting


def kit_section(rig: Rig, kit: Kit, build: Build, cells: Sequence[Cell], counts: Sequence[Setting]) -> Section:
    """The rig on every pair of the kit, by the cells of ``build``, and what each source of the kit offers."""
    works = sum(cell.verdict in WORKS for cell in cells)
    text = [f"It works on {works} of {len(cells)} pairs of charger and cable."]
    aid = "All that a charger has to offer; the cross is this build with the worst cable for it."
    return Section(
        "kit",
        "On everything in the kit",
        "Kit",
        text,
        gallery=_gallery(rig, kit, build, cells),
        gallery_aid=aid,
        grid=kit_grid(kit, cells),
        tables=[settings_sheet(rig, counts)],
    )


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
        point = working_point(Case(rig, *pairs[id(own[0])]))
        svg = offers_picture(source.offers, point, f"What {source.id} offers")
        name = f"{source.id}: {source.title}" if source.title else source.id
        figures.append(Figure(svg, name, [offers_words(source.offers), *over]))
    return figures


def offers_words(offers: Iterable[Offer]) -> str:
    """Offers in a few words each."""
    return ", ".join(short_offer(offer) for offer in offers if not offer.is_gap) or "no offers"


def short_offer(offer: Offer) -> str:
    volts = f"{offer.max_mv / 1000:g} V"
    if offer.kind == "fixed":
        return f"{volts} {(offer.current_ma or 0) / 1000:g} A"
    amount = f"{offer.current_ma_at(offer.max_mv) / 1000:g} A" if offer.pdp_w is None else f"{offer.pdp_w} W"
    return f"{offer.kind.upper()} {offer.min_mv / 1000:g} to {volts} {amount}"
