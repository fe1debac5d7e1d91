"""What a section of the page is made of: paragraphs, figures, tables and the steps of a procedure."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.named import NamedTuple
from pdcheck.show.pictures.shapes import Picture
from pdcheck.verdict.finding import Verdict

MARKS = {"runs": "✓", "limited": "◐", "fails": "✕", "unsafe": "⚠"}
"""The sign that goes with each verdict, so that no verdict hangs on colour alone."""


class Figure(NamedTuple):
    """A drawing with its caption: a name, and lines under it."""

    svg: Picture
    name: str
    lines: Sequence[str] = ()


class Field(NamedTuple):
    """A cell for a reading: its name, what is measured, the range that is expected, what to do when it is outside.

    ``yes``: the reading is a yes.
    """

    name: str
    label: str
    least: float | None
    most: float | None
    outside: str
    yes: bool = False


class Sheet(NamedTuple):
    """A table: caption, headers, rows whose first cell heads the row."""

    caption: str
    headers: Sequence[str]
    rows: Sequence[Sequence[str | Field]]


class Step(NamedTuple):
    """A step of a procedure: its title, what to do, what to read, when to stop."""

    title: str
    actions: Sequence[str]
    readings: Sheet
    stop: Sequence[str] = ()


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


class Section(NamedTuple):
    """A section: ``short`` stands in the list of contents, ``terms`` explain what the tables name.

    ``grid`` is the kit's; all else but the text is folded.
    """

    id: str
    title: str
    short: str
    text: Sequence[str] = ()
    figures: Sequence[Figure] = ()
    gallery: Sequence[Figure] = ()
    gallery_aid: str = ""
    grid: KitGrid | None = None
    tables: Sequence[Sheet] = ()
    steps: Sequence[Step] = ()
    terms: Sequence[tuple[str, str]] = ()
    terms_title: str = ""

    @property
    def inner(self) -> int:
        """How many parts of it are folded."""
        return bool(self.figures) + len(self.tables) + bool(self.terms) + bool(self.gallery)

    @property
    def inside(self) -> str:
        """What is folded in it, in a few words."""
        pictures = len(self.figures) + len(self.gallery)
        counted = ((pictures, "picture"), (len(self.tables), "table"))
        words = [f"{count} {what}{'s' * (count > 1)}" for count, what in counted if count]
        return " and ".join(words).capitalize()
