"""The pictures of what an output can deliver: current against voltage, or power on each contract."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.named import NamedTuple
from pdcheck.quantities import format_quantity
from pdcheck.show.pictures.axes import WIDTH, Axes, Span
from pdcheck.show.pictures.shapes import LINE, SMALL, Frame, Label, Picture, Role, Shape, Stroke, lines_of, stacked

_DASHES = (False, True)
_ROLES: tuple[Role, ...] = ("ink", "accent", "second", "soft")


class Curve(NamedTuple):
    """One contract of an output that can be set: its name, output [V] with the greatest current [A] there at the worst
    corner, the places of the table among them, and the part that limits each."""

    name: str
    output_v: Sequence[float]
    worst_a: Sequence[float]
    marked: Sequence[bool]
    limits: Sequence[str]


class Bar(NamedTuple):
    """One contract of an output of one voltage: its name, watts at the worst corner and typically, what comes of it."""

    name: str
    worst_w: float
    typical_w: float
    what: str


def curves_picture(title: str, curves: Sequence[Curve]) -> Picture:
    """Current against output voltage, one line a contract; letters tell them apart, and marks stand at the table's."""
    most_a = max((amps for curve in curves for amps in curve.worst_a), default=0.0)
    volts = [each for curve in curves for each in curve.output_v]
    names: list[Shape] = []
    y = 20.0
    for at, curve in enumerate(curves):
        word = curve.name if any(curve.worst_a) else f"{curve.name}: nothing"
        lines = lines_of(f"{_letter(at)}: {word}", WIDTH - 28.0)
        names += stacked(14.0, y, lines, _role(at))
        y += LINE * len(lines)
    axes = Axes(
        Span(min(volts), max(*volts, min(volts) + 1.0), "output, V"), Span(0.0, most_a * 1.1 or 1.0, "current, A"),
        y + 22.0, 180.0,
    )  # fmt: skip
    shapes: list[Shape] = [*names, *axes.grid()]
    told: list[str] = []
    for at, curve in enumerate(curves):
        points = tuple(axes.at(v, a) for v, a in zip(curve.output_v, curve.worst_a, strict=True))
        shapes.append(Stroke(points, _role(at), 2.0, _DASHES[at // 4 % 2]))
        for point, marked, v, a, limit in zip(
            points, curve.marked, curve.output_v, curve.worst_a, curve.limits, strict=True
        ):
            if marked:
                what = (
                    f"{curve.name}: {format_quantity(v, 'V', 3)}, {format_quantity(a, 'A', 3)} at worst, limit: {limit}"
                )
                told.append(what)
                ends = ((point[0] - 0.5, point[1]), (point[0] + 0.5, point[1]))
                shapes.append(Stroke(ends, _role(at), 7.0, told=what))
        end = points[-1]
        if any(curve.worst_a):
            shapes.append(Label(end[0] + 3.0, end[1] + 4.0, _letter(at), _role(at), SMALL, bold=True))
    return Picture(WIDTH, axes.below, title, "; ".join(told), tuple(shapes))


def _letter(at: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[at % 26]


def _role(at: int) -> Role:
    return _ROLES[at % 4]


def bars_picture(title: str, bars: Sequence[Bar], asked_w: float | None = None, asked: str = "") -> Picture:
    """A bar for each contract to what is sure, a stroke at what is typical, and a line at what is asked for [W].

    ``asked`` says what that is.
    """
    most = max([asked_w or 0.0, *(bar.typical_w for bar in bars)]) or 1.0
    left, full = 14.0, WIDTH - 28.0
    shapes: list[Shape] = []
    told: list[str] = []
    y = 20.0
    for bar in bars:
        what = (
            f"{bar.name}: {format_quantity(bar.worst_w, 'W', 3)} sure" if bar.worst_w > 0.0 else f"{bar.name}: nothing"
        )
        if bar.typical_w > bar.worst_w * 1.005:
            what += f", {format_quantity(bar.typical_w, 'W', 3)} typically"
        what += f" ({bar.what})" if bar.what else ""
        told.append(what)
        lines = lines_of(what, full)
        shapes += stacked(left, y, lines)
        y += LINE * len(lines) - 8.0
        width = full * bar.worst_w / most / 1.05
        if width > 0.0:
            shapes.append(Frame(left, y, width, 13.0, "accent", 1.5, fill="accent", told=what))
        if bar.typical_w > 0.0:
            x = left + full * bar.typical_w / most / 1.05
            shapes.append(Stroke(((x, y - 1.0), (x, y + 14.0)), "ink", 2.5, told=what))
        if asked_w is not None:
            x = left + full * asked_w / most / 1.05
            shapes.append(Stroke(((x, y - 2.0), (x, y + 15.0)), "second", 2.5, dashed=True))
        y += 35.0
    if asked_w is not None:
        words = f"dashed: {format_quantity(asked_w, 'W', 3)}, {asked}"
        told.append(words)
        shapes += stacked(left, y, lines_of(words, full), "second")
        y += LINE * len(lines_of(words, full))
    return Picture(WIDTH, y + 2.0, title, "; ".join(told), tuple(shapes))
