"""The picture of the first second: the bus over time, and below it a bar for each branch where it is on."""

from __future__ import annotations

from collections.abc import Iterator

from pdcheck.quantities import format_quantity
from pdcheck.show.pictures.axes import WIDTH, Axes, Span
from pdcheck.show.pictures.shapes import LINE, SMALL, Area, Frame, Label, Picture, Shape, Stroke, lines_of, width_of
from pdcheck.show.time_line import OFF, ON, TimeAxis, bands, on_in, time_axis
from pdcheck.show.transient import headline
from pdcheck.show.transient_story import story
from pdcheck.verdict.transient.first_second import Transient

COLUMNS = 340
_TITLE = "The bus after plugging in, and which branch is on"


def transient_picture(found: Transient) -> Picture:
    """The bus as a band from least to greatest; short moments are drawn longer, and the times below say so."""
    told = story(found.moments, found.circuit) if found.circuit is not None else []
    aloud = "; ".join(f"at {format_quantity(each.time_s, 's', 3)} {each.text}" for each in told)
    words = f"The first {found.until_s:g} s: {headline(found)} {aloud}"
    if not found.samples.time_s:
        return Picture(WIDTH, 40.0, _TITLE, words, (Label(14.0, 24.0, "There is no power here."),))
    axis = time_axis([each.time_s for each in told] + [each.until_s for each in told if each.until_s], found.until_s)
    edges = [axis.time_s(column / COLUMNS) for column in range(COLUMNS + 1)]
    curve = bands(found.samples, "bus", edges)
    places = [(column + 0.5) / COLUMNS for column in range(COLUMNS)]
    top = max(1.0, *(high for _, high in curve))
    axes = Axes(Span(0.0, 1.0, ""), Span(0.0, top * 1.08, "bus, V"), 30.0, 150.0)
    shapes: list[Shape] = [*_frame(axes), *_times(axes, axis)]
    upper = [axes.at(place, high) for place, (_, high) in zip(places, curve, strict=True)]
    lower = [axes.at(place, low) for place, (low, _) in zip(places, curve, strict=True)]
    shapes.append(Area((*upper, *reversed(lower)), "accent", 0.35))
    shapes += [Stroke(tuple(_bends(upper)), "ink", 1.5), Stroke(tuple(_bends(lower)), "ink", 1.5)]
    for each in told:
        place = axis.place(each.time_s)
        x, y = axes.at(place, curve[min(int(place * COLUMNS), COLUMNS - 1)][1])
        moment = f"{format_quantity(each.time_s, 's', 3)}: {each.text}"
        shapes.append(Stroke(((x - 0.5, y), (x + 0.5, y)), "second", 6.0, told=moment))
    y = axes.below + 12.0
    for fate in found.fates:
        lines = lines_of(f"{fate.branch}: {fate.fate}", WIDTH - 28.0)
        shapes += [Label(14.0, y + LINE * at, line, size=SMALL) for at, line in enumerate(lines)]
        y += LINE * len(lines) - 9.0
        for start, end, state in _stretches(on_in(found.moments, found.samples.gaps, fate.branch, edges)):
            if state != OFF:
                left, right = axes.x(start / COLUMNS), axes.x(end / COLUMNS)
                on = state == ON
                shapes.append(Frame(left, y, right - left, 8.0, "accent", 1.5, not on, "accent" if on else None))
        y += 8.0 + LINE + 6.0
    return Picture(WIDTH, y - 8.0, _TITLE, words, tuple(shapes))


def _frame(axes: Axes) -> Iterator[Shape]:
    for shape in axes.grid():
        # What goes across are places and no seconds: the times stand below them.
        upright = isinstance(shape, Stroke) and len(shape.points) == 2 and shape.points[0][0] == shape.points[1][0]
        if not upright and not (isinstance(shape, Label) and shape.y > axes.foot):
            yield shape


def _times(axes: Axes, axis: TimeAxis) -> Iterator[Shape]:
    taken: list[tuple[float, float]] = []
    for place in (0.0, 1.0, *axis.places[1:-1]):
        text = format_quantity(axis.time_s(place), "s", 4)
        half = 0.5 * width_of(text, SMALL)
        x = min(max(axes.x(place), half), WIDTH - half - 2.0)
        if all(abs(x - at) > half + other + 6.0 for at, other in taken):
            taken.append((x, half))
            yield Stroke(((axes.x(place), axes.foot), (axes.x(place), axes.foot + 5.0)), "soft", 1.0)
            yield Label(x, axes.foot + 18.0, text, "soft", SMALL, anchor="middle")
    yield Label(WIDTH - 16.0, axes.foot + 34.0, "time; short moments are drawn longer", "soft", SMALL, anchor="end")


def _bends(points: list[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """The points of a line but those that lie straight between their neighbours."""
    for at, point in enumerate(points):
        if 0 < at < len(points) - 1 and abs(points[at - 1][1] + points[at + 1][1] - 2.0 * point[1]) < 0.02:
            continue
        yield point


def _stretches(states: list[int]) -> list[tuple[int, int, int]]:
    found: list[tuple[int, int, int]] = []
    for at, state in enumerate(states):
        if found and found[-1][2] == state:
            found[-1] = (found[-1][0], at + 1, state)
        else:
            found.append((at, at + 1, state))
    return found
