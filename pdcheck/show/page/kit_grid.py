"""The kit as a grid: a sign and the watts for each charger with each cable, what is equal in one row or column."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from pdcheck.named import NamedTuple
from pdcheck.parts.kit import Kit
from pdcheck.show.matrix import watts
from pdcheck.verdict.finding import BEST_FIRST, Verdict
from pdcheck.verdict.matrix.matrix import Cell
from pdcheck.verdict.rules.every import RIG_RULES

MARKS = {"runs": "✓", "limited": "◐", "fails": "✕", "unsafe": "⚠"}
"""The sign that goes with each verdict, so that no verdict hangs on colour alone."""
OWN_CABLE = "its own cable"


class GridCell(NamedTuple):
    """A pair: its sign and verdict, what all loads together can have, and the letter of the reason."""

    verdict: Verdict
    sign: str
    watts: str
    letter: str


class GridRow(NamedTuple):
    """Chargers that do the same with every cable; ``None`` stands where there is no such pair.

    ``worst`` and ``best`` are places of verdicts from ``runs`` on, ``most`` is the most that loads can have [W].
    """

    names: Sequence[str]
    cells: Sequence[GridCell | None]
    worst: int
    best: int
    most: float

    @property
    def verdicts(self) -> str:
        """Every verdict that occurs in it."""
        return " ".join(sorted({each.verdict for each in self.cells if each is not None}))


class KitGrid(NamedTuple):
    """Columns of cables that do the same on every charger, the rows, what decides by its letter, the signs in words."""

    columns: Sequence[Sequence[str]]
    rows: Sequence[GridRow]
    reasons: Sequence[tuple[str, str, str]]
    signs: Sequence[tuple[str, str]]


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
