"""Shapes: what a picture is made of, written as SVG for a page or a file, or painted as PNG."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from pdcheck.named import NamedTuple
from pdcheck.show.cells import wrapped
from pdcheck.show.clean import clean
from pdcheck.show.page.palette import in_the_dark, on_paper

Role = Literal["ink", "soft", "accent", "second", "card"]
Point = tuple[float, float]

LETTERS = 14.0
_TITLE = 15.0
"""Height of letters [px]."""
SMALL = 13.0
# Widths of letters as parts of their height: what fonts without serifs have at most on average.
_WIDE, _WIDE_BOLD = 0.56, 0.61


class Label(NamedTuple):
    """A line of text; ``anchor`` says which end of it stands at x.

    ``slot``: the figures in it, by name, that another position of the build has too; ``before`` is the word before
    them, ``most`` how many letters there is room for (0 for any).
    """

    x: float
    y: float
    text: str
    role: Role = "ink"
    size: float = LETTERS
    bold: bool = False
    anchor: Literal["start", "middle", "end"] = "start"
    slot: str = ""
    before: str = ""
    most: int = 0


class Stroke(NamedTuple):
    """A line through some points; ``told`` is said of it where somebody points at it, ``part`` is what it draws."""

    points: tuple[Point, ...]
    role: Role = "ink"
    width: float = 2.0
    dashed: bool = False
    told: str = ""
    part: str = ""


class Frame(NamedTuple):
    """A box with round corners; ``slot`` and ``scale`` [px] where its ends are figures from its left end on."""

    x: float
    y: float
    width: float
    height: float
    role: Role = "ink"
    line: float = 1.5
    dashed: bool = False
    fill: Role | None = "card"
    told: str = ""
    part: str = ""
    slot: str = ""
    scale: float = 0.0


class Area(NamedTuple):
    """A filled outline: corners, or with ``curved`` groups of three that are the control points of a curve each."""

    points: tuple[Point, ...]
    role: Role = "accent"
    opacity: float = 1.0
    curved: bool = False
    told: str = ""


Shape = Label | Stroke | Frame | Area


class Picture(NamedTuple):
    """Shapes on a sheet [px], with a title and what they show in words."""

    width: float
    height: float
    title: str
    words: str
    shapes: tuple[Shape, ...]

    def svg(self) -> str:
        """A file of its own, in light and dark as its reader has it."""
        light, dark = (
            ";".join(f"--{name}:{colour}" for name, colour in palette._asdict().items())
            for palette in (on_paper(), in_the_dark())
        )
        style = (
            f"<style>svg{{{light};background:var(--card)}}@media (prefers-color-scheme:dark){{svg{{{dark}}}}}</style>"
        )
        return f'<?xml version="1.0" encoding="UTF-8"?>\n{self.inline(style)}\n'

    def headed(self) -> Picture:
        """The same with its title above it, for a file that stands alone."""
        above = heading(self.title, "", self.width)
        down = lowest(above) + 6.0
        return self._replace(
            height=self.height + down, shapes=(*above, *(_lowered(shape, down) for shape in self.shapes))
        )

    def __html__(self) -> str:
        """The element alone, as the page has it, which has the colours; the template puts it in as it is."""
        return self.inline()

    def inline(self, style: str = "") -> str:
        """The element, with a style of its own where that is given."""
        drawn = "\n".join(_element(shape) for shape in self.shapes)
        label = _escaped(f"{self.title}. {self.words}")
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{label}" '
            f'viewBox="0 0 {_n(self.width)} {_n(self.height)}" width="{_n(self.width)}" height="{_n(self.height)}" '
            f'font-family="system-ui,sans-serif">{style}\n{drawn}\n</svg>'
        )


def width_of(text: str, size: float = LETTERS, *, bold: bool = False) -> float:
    """About how wide a text is [px], on the wide side.

    >>> 30 < width_of("14.5 V") < 60
    True
    """
    return len(text) * size * (_WIDE_BOLD if bold else _WIDE)


def lines_of(text: str, width: float, size: float = SMALL, *, bold: bool = False) -> list[str]:
    """A text in lines that are no wider than that [px].

    >>> lines_of("the first limit, at 37.9 W", 98.0)
    ['the first', 'limit, at', '37.9 W']
    """
    return wrapped(clean(text, 400), most_letters(width, size, bold=bold)) if text else []


def most_letters(width: float, size: float = SMALL, *, bold: bool = False) -> int:
    """How many letters of that height go into a width [px]."""
    return max(8, int(width / (size * (_WIDE_BOLD if bold else _WIDE))))


def shortened(text: str, most: int) -> str:
    """A text of no more letters than that.

    >>> shortened("charger-of-the-shed", 9)
    'charger-…'
    """
    return text if len(text) <= most else f"{text[: most - 1]}…"


class Words(NamedTuple):
    """A line with figures that a slot names; see ``Label``."""

    text: str
    slot: str
    before: str = ""
    most: int = 0

    @property
    def line(self) -> str:
        """All of it."""
        return f"{self.before}{self.text}"


def stacked(
    x: float, y: float, lines: Sequence[str | Words], role: Role = "ink", *, bold: bool = False
) -> Iterator[Label]:
    """Lines of small letters under each other, the first with its feet at y."""
    for at, line in enumerate(lines):
        yield label(x, y + at * LINE, line, role, SMALL, bold)


def label(
    x: float, y: float, line: str | Words, role: Role = "ink", size: float = LETTERS, bold: bool = False,
    anchor: Literal["start", "middle", "end"] = "start",
) -> Label:  # fmt: skip
    """A label of plain text or of words with a slot."""
    if isinstance(line, str):
        return Label(x, y, line, role, size, bold, anchor)
    return Label(x, y, line.line, role, size, bold, anchor, line.slot, line.before, line.most)


def heading(title: str, below: str, width: float, margin: float = 14.0) -> list[Shape]:
    """The title of a picture on a sheet of that width [px], and under it what it is about."""
    large = [
        Label(margin, 22.0 + 18.0 * at, line, size=_TITLE, bold=True)
        for at, line in enumerate(lines_of(title, width - 2.0 * margin, _TITLE, bold=True))
    ]
    return [*large, *stacked(margin, 24.0 + 18.0 * len(large), lines_of(below, width - 2.0 * margin), "soft")]


def fitted(name: str, figure: str, width: float, *, bold: bool = False) -> str:
    """A name with its figure in one line of small letters no wider than that [px]; the name is cut where it must be.

    >>> fitted("a-rather-long-name", "18 W", 98.0)
    'a-rathe… 18 W'
    """
    while len(name) > 1 and width_of(f"{name} {figure}", SMALL, bold=bold) > width:
        name = f"{name.rstrip('…')[:-1]}…"
    return f"{name} {figure}"


LINE = 16.0
"""From one line of small letters to the next [px]."""


def _lowered(shape: Shape, down: float) -> Shape:
    match shape:
        case Label() | Frame():
            return shape._replace(y=shape.y + down)
        case Stroke() | Area():
            return shape._replace(points=tuple((x, y + down) for x, y in shape.points))


def lowest(shapes: Iterable[Shape]) -> float:
    """How far down some shapes go [px]."""
    return max((_bottom(shape) for shape in shapes), default=0.0)


def _bottom(shape: Shape) -> float:
    match shape:
        case Label():
            return shape.y + 4.0
        case Frame():
            return shape.y + shape.height
        case Stroke() | Area():
            return max(y for _, y in shape.points)


def _element(shape: Shape) -> str:
    match shape:
        case Label():
            weight = ' font-weight="600"' if shape.bold else ""
            anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
            named = _named(slot=shape.slot, before=shape.before, most=str(shape.most or ""))
            return (
                f'<text x="{_n(shape.x)}" y="{_n(shape.y)}" font-size="{_n(shape.size)}" fill="var(--{shape.role})"'
                f"{weight}{anchor}{named}>{_escaped(shape.text)}</text>"
            )
        case Stroke():
            points = " ".join(f"{_n(x)},{_n(y)}" for x, y in shape.points)
            stroke = f'stroke="var(--{shape.role})" stroke-width="{_n(shape.width)}" stroke-linecap="round"'
            stroke += (' stroke-dasharray="5 4"' if shape.dashed else "") + _named(part=shape.part)
            return f'<polyline points="{points}" fill="none" {stroke}{_told(shape.told, "polyline")}'
        case Frame():
            dash = ' stroke-dasharray="6 4"' if shape.dashed else ""
            fill = "none" if shape.fill is None else f"var(--{shape.fill})"
            stroke = f'stroke="var(--{shape.role})" stroke-width="{_n(shape.line)}"{dash}'
            if shape.slot:
                stroke += _named(slot=shape.slot, left=_n(shape.x), scale=f"{shape.scale:.5g}")
            stroke += _named(part=shape.part)
            return (
                f'<rect x="{_n(shape.x)}" y="{_n(shape.y)}" width="{_n(shape.width)}" height="{_n(shape.height)}" '
                f'rx="{_n(min(5.0, 0.3 * shape.height))}" fill="{fill}" {stroke}{_told(shape.told, "rect")}'
            )
        case Area():
            opacity = "" if shape.opacity == 1.0 else f' fill-opacity="{_n(shape.opacity)}"'
            return f'<path d="{_path(shape)}" fill="var(--{shape.role})"{opacity}{_told(shape.told, "path")}'


def _named(**names: str) -> str:
    """What of an element a script may look for."""
    return "".join(f' data-{name}="{_escaped(value)}"' for name, value in names.items() if value)


def _told(text: str, name: str) -> str:
    """The end of an element, with its title where it has one."""
    return f"><title>{_escaped(text)}</title></{name}>" if text else "/>"


def _path(area: Area) -> str:
    first, *rest = [f"{_n(x)} {_n(y)}" for x, y in area.points]
    if not area.curved:
        return f"M{first}L{'L'.join(rest)}Z"
    return f"M{first}" + "".join(f"C{','.join(rest[at : at + 3])}" for at in range(0, len(rest), 3)) + "Z"


def _n(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"})


def _escaped(text: str) -> str:
    return clean(text, 4000).translate(_ESCAPES)
