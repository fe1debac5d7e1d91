"""The section about the kit: what each source offers, and a grid of the rig on every source and cable."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby

from pdcheck.bits.offers import Offer
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.show.matrix import watts
from pdcheck.show.page.section import MARKS, Figure, GridCell, GridRow, KitGrid, Section
from pdcheck.show.page.what_to_do import settings_sheet
from pdcheck.show.pictures.offers_picture import offers_picture, working_point
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import BEST_FIRST, WORKS
from pdcheck.verdict.matrix.matrix import Build, Cell, sort_cells
from pdcheck.verdict.rules.every import RIG_RULES
from pdcheck.verdict.settings import Setting

OWN_CABLE = "its own cable"


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


def kit_grid(kit: Kit, cells: Sequence[Cell]) -> KitGrid:
    """The grid of a rig's cells, the rows with the worst verdict first.

    >>> cells = [Cell("r", "s", cable, "runs", None, 37.99) for cable in ("c", "d")]
    >>> found = kit_grid(Kit(), [*cells, Cell("r", "t", "c", "fails", "source-current", 9.0)])
    >>> [list(names) for names in found.columns], [(list(row.names), row.cells[0].watts) for row in found.rows]
    ([['c'], ['d']], [(['t'], '9.0 W'), (['s'], '37.9 W')])
    """
    # The commonest rule that decides has the first letter.
    counted = Counter(cell.rule for cell in cells if cell.rule is not None)
    letters = {rule: _letter(at) for at, (rule, _) in enumerate(counted.most_common())}
    fixed = {source.id for source in kit.sources if source.cable is not None}
    by_pair = {(cell.source, OWN_CABLE if cell.source in fixed else cell.cable): cell for cell in cells}
    sources = list(dict.fromkeys(source for source, _ in by_pair))
    cables = list(dict.fromkeys(cable for _, cable in by_pair))

    def shown(source: str, cable: str) -> GridCell | None:
        cell = by_pair.get((source, cable))
        if cell is None:
            return None
        letter = "" if cell.rule is None else letters[cell.rule]
        return GridCell(cell.verdict, MARKS[cell.verdict], watts(cell.max_w) if cell.max_w > 0 else "", letter)

    columns: dict[tuple[GridCell | None, ...], list[str]] = {}
    for cable in cables:
        columns.setdefault(tuple(shown(source, cable) for source in sources), []).append(cable)
    rows: dict[tuple[GridCell | None, ...], list[str]] = {}
    for source in sources:
        rows.setdefault(tuple(shown(source, names[0]) for names in columns.values()), []).append(source)
    listed = [_row(names, row, [each for each in cells if each.source in names]) for row, names in rows.items()]
    titles = {rule.id: rule.title for rule in RIG_RULES}
    return KitGrid(
        [*columns.values()],
        sorted(listed, key=lambda row: (-row.worst, -row.best, row.most)),
        [(letter, titles[rule], rule) for rule, letter in letters.items()],
        [(MARKS[verdict], verdict) for verdict in BEST_FIRST if any(cell.verdict == verdict for cell in cells)],
    )


def _letter(at: int) -> str:
    last = "abcdefghijklmnopqrstuvwxyz"[at % 26]
    return last if at < 26 else f"{_letter(at // 26 - 1)}{last}"


def _row(names: Sequence[str], row: Sequence[GridCell | None], own: Sequence[Cell]) -> GridRow:
    places = [BEST_FIRST.index(each.verdict) for each in row if each is not None]
    return GridRow(names, row, max(places), min(places), max(each.max_w for each in own))
