"""Volts at each place and watts in each part as bars on one scale, which a script moves to another position."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.quantities import format_quantity
from pdcheck.show.draw import NAMES
from pdcheck.show.pictures.axes import WIDTH
from pdcheck.show.pictures.parts_picture import loses
from pdcheck.show.pictures.shapes import (
    LINE,
    SMALL,
    Frame,
    Label,
    Picture,
    Shape,
    Stroke,
    lowest,
    most_letters,
    shortened,
)
from pdcheck.verdict.drawn import Drawn

_LEFT = 14.0
_FULL = WIDTH - 2.0 * _LEFT
_ROW = 2.0 * LINE + 8.0


def volts_picture(drawn: Drawn, most_v: float) -> Picture:
    """The voltage at every place on a scale from 0 V to the most [V] that occurs, with what is allowed there below."""
    shapes: list[Shape] = []
    y = 20.0
    for name, slot, allowed_v in _places(drawn):
        scale = _FULL / most_v
        shapes += _row(name, f"{slot}.range", f"{slot}.v", y, scale)
        shapes += _allowed(allowed_v, y + LINE + 4.0, scale)
        y += _ROW + 6.0
    title = f"The voltage at each place, from 0 to {format_quantity(most_v, 'V', 3)}"
    return Picture(WIDTH, y - 8.0, title, "", tuple(shapes))


def heat_picture(drawn: Drawn, most_w: float) -> Picture:
    """What each load takes and each part loses, on a scale up to the most [W] that occurs."""
    shapes: list[Shape] = []
    y = 20.0
    for part in drawn.every_part:
        if part.kind in ("source", "bus"):
            continue
        for ending in ("takes", *(("w",) if loses(drawn, part) else ())) if part.kind == "load" else ("w",):
            name = part.part.replace("/", " ") + (" itself" if part.kind == "load" and ending == "w" else "")
            shapes += _row(name, f"{part.part}.{ending}", f"{part.part}.{ending}", y, _FULL / most_w)
            y += _ROW
    title = f"What loads take and parts lose, up to {format_quantity(most_w, 'W', 3)}"
    return Picture(WIDTH, lowest(shapes) + 12.0, title, "", tuple(shapes))


def _places(drawn: Drawn) -> Iterator[tuple[str, str, tuple[float | None, float | None]]]:
    """Each place that has a voltage of its own: its name, its slot, what is allowed there [V]."""
    for part in drawn.trunk:
        if part.node:
            yield NAMES.get(part.kind, part.kind), part.part, part.allowed_v
    for branch in drawn.branches:
        by_kind = {part.kind: part for part in branch.parts}
        converter, wire = by_kind.get("converter"), by_kind.get("wire")
        if converter is not None and wire is not None:
            yield f"{branch.branch} converter", wire.part, converter.allowed_v
        yield f"{branch.branch} load", by_kind["load"].part, by_kind["load"].allowed_v


def _row(name: str, shown: str, slot: str, y: float, scale: float) -> Iterator[Shape]:
    yield Label(_LEFT, y, shortened(name, most_letters(0.5 * _FULL)), size=SMALL)
    yield Label(_LEFT + _FULL, y, "", size=SMALL, bold=True, anchor="end", slot=shown)
    yield Stroke(((_LEFT, y + 13.0), (_LEFT + _FULL, y + 13.0)), "soft", 0.6)
    yield Frame(_LEFT, y + 8.0, 0.0, 10.0, "accent", 1.0, fill="accent", slot=slot, scale=scale)


def _allowed(allowed_v: tuple[float | None, float | None], y: float, scale: float) -> Iterator[Shape]:
    """A line under what is allowed, with a foot at each end that is known."""
    low, high = allowed_v
    if low is None and high is None:
        return
    start = _LEFT + (low or 0.0) * scale
    end = _LEFT + _FULL if high is None else min(_LEFT + high * scale, _LEFT + _FULL)
    yield Stroke(((start, y), (end, y)), "second", 1.5)
    if low is not None:
        yield Stroke(((start, y - 3.0), (start, y + 3.0)), "second", 1.5)
    if high is not None and high * scale <= _FULL:
        yield Stroke(((end, y - 3.0), (end, y + 3.0)), "second", 1.5)
