"""Axes: from figures to places on a sheet, with a line and a number at every step, and letters that touch nothing."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor, inf, log10

from pdcheck.named import NamedTuple
from pdcheck.show.pictures.shapes import SMALL, Label, Point, Shape, Stroke, width_of

WIDTH = 340.0
"""Of every plot [px]: what a telephone shows without scrolling."""
_LEFT, _RIGHT = 44.0, 16.0


def step_for(span: float, most: int) -> float:
    """The first of 1, 2, 5, 10, ... (and their tenths) that divides a span into no more than so many.

    >>> step_for(21.0, 5), step_for(0.4, 5)
    (5.0, 0.1)
    """
    power = 10.0 ** floor(log10(max(span, 1e-9) / most))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if span <= most * factor * power * (1 + 1e-9))


class Span(NamedTuple):
    """What an axis shows: from a least to a greatest figure, and what it is."""

    least: float
    most: float
    name: str

    def steps(self, most: int) -> list[float]:
        """Round figures on it, no more than so many steps."""
        step = step_for(self.most - self.least, most)
        first = ceil(self.least / step - 1e-9)
        last = floor(self.most / step + 1e-9)
        return [round(at * step, 9) for at in range(first, last + 1)]


class Axes(NamedTuple):
    """Two axes on a sheet, the upper end of the plot at ``top`` and ``height`` high [px]."""

    across: Span
    up: Span
    top: float
    height: float

    def x(self, value: float) -> float:
        """How far from the left a figure stands [px]."""
        share = (value - self.across.least) / (self.across.most - self.across.least or inf)
        return _LEFT + share * (WIDTH - _LEFT - _RIGHT)

    def y(self, value: float) -> float:
        """How far down a figure stands [px]."""
        share = (value - self.up.least) / (self.up.most - self.up.least or inf)
        return self.top + self.height * (1.0 - share)

    def at(self, across: float, up: float) -> Point:
        """Where a point stands [px]."""
        return self.x(across), self.y(up)

    @property
    def foot(self) -> float:
        """Where the plot ends [px]."""
        return self.top + self.height

    @property
    def below(self) -> float:
        """Where the letters under it end [px]."""
        return self.foot + 42.0

    def grid(self) -> Iterator[Shape]:
        """Lines and numbers, and the names of both axes."""
        yield Label(8.0, self.top - 12.0, self.up.name, "soft", SMALL)
        yield Label(WIDTH - _RIGHT, self.foot + 34.0, self.across.name, "soft", SMALL, anchor="end")
        for value in self.up.steps(6):
            y = self.y(value)
            yield Stroke(((_LEFT, y), (WIDTH - _RIGHT, y)), "soft", 0.4)
            yield Label(_LEFT - 6.0, y + 4.0, f"{value:g}", "soft", SMALL, anchor="end")
        for value in self.across.steps(8):
            x = self.x(value)
            yield Stroke(((x, self.top), (x, self.foot)), "soft", 0.4)
            half = 0.5 * width_of(f"{value:g}", SMALL)
            yield Label(min(x, WIDTH - half), self.foot + 17.0, f"{value:g}", "soft", SMALL, anchor="middle")
        yield Stroke(((_LEFT, self.top), (_LEFT, self.foot), (WIDTH - _RIGHT, self.foot)), "soft", 1.0)
