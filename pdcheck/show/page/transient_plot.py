"""The picture of the first second: the bus and the converters' outputs over time, and below who is on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pdcheck.quantities import format_quantity
from pdcheck.show.page.palette import PAGE, Palette, on_paper
from pdcheck.show.page.plot import LETTERS, Plot, canvas, hit
from pdcheck.show.page.svg import file_png, file_svg
from pdcheck.show.time_line import OFF, ON, TimeAxis, bands, on_in, time_axis
from pdcheck.show.transient import headline
from pdcheck.show.transient_story import Told, story
from pdcheck.verdict.transient.first_second import Transient

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COLUMNS = 480
_ROW = 0.085
"""Height of a branch's row below the curve, as a part of the greatest voltage."""


def drawn(found: Transient, kind: str) -> str | bytes:
    """The picture alone, as ``svg`` text or ``png`` bytes."""
    plot = transient_plot(found, on_paper())
    return file_svg(plot) if kind == "svg" else file_png(plot)


def transient_plot(found: Transient, colours: Palette = PAGE) -> Plot:
    """The bus over time as a band from least to greatest, each branch as a bar where it is on."""
    on = canvas(3.4, "time after plugging in (short moments are drawn longer)", "bus, V", colours)
    told = story(found.moments, found.circuit) if found.circuit is not None else []
    names: dict[str, str] = {}
    label = f"The first {found.until_s:g} s: {headline(found)}"
    if not found.samples.time_s:
        return Plot(on.figure, label, names)
    axis = time_axis([each.time_s for each in told] + [each.until_s for each in told if each.until_s], found.until_s)
    edges = [axis.time_s(column / COLUMNS) for column in range(COLUMNS + 1)]
    places = [(column + 0.5) / COLUMNS for column in range(COLUMNS)]
    curve = bands(found.samples, "bus", edges)
    least, most = [low for low, _ in curve], [high for _, high in curve]
    top = max(1.0, *most)
    on.axes.fill_between(places, least, most, color=colours.accent, alpha=0.35, linewidth=0)
    on.axes.plot(places, most, color=colours.ink, linewidth=1.4)
    on.axes.plot(places, least, color=colours.ink, linewidth=1.4)
    for row, fate in enumerate(found.fates, 1):
        height = -row * _ROW * top
        for start, end, state in _stretches(on_in(found.moments, found.samples.gaps, fate.branch, edges)):
            if state != OFF:
                span = [start / COLUMNS, end / COLUMNS]
                on.axes.plot(span, [height, height], color=colours.accent, linewidth=5.0,
                             alpha=1.0 if state == ON else 0.35, solid_capstyle="butt")  # fmt: skip
    on.axes.set_xlim(0, 1)
    on.axes.set_ylim(-(len(found.fates) + 0.8) * _ROW * top, top * 1.08)
    _mark(on.axes, axis, found, top, colours)
    for index, each in enumerate(told):
        place = axis.place(each.time_s)
        hit(on, [place], [_near(curve, place)], f"moment{index}")
        names[f"moment{index}"] = f"{format_quantity(each.time_s, 's', 4)}: {each.text}"
    return Plot(on.figure, f"{label} {_aloud(told)}", names)


def _mark(axes: Axes, axis: TimeAxis, found: Transient, top: float, colours: Palette) -> None:
    """Ticks at the moments, as far apart as their labels need, and at volts and branches."""
    shown: list[float] = []
    for place in (0.0, 1.0, *axis.places[1:-1]):
        if all(abs(place - each) > 0.15 for each in shown):
            shown.append(place)
    axes.set_xticks(shown, [format_quantity(axis.time_s(place), "s", 3) for place in shown])
    axes.get_xticklabels()[1].set_horizontalalignment("right")
    step = next(step for step in (1, 2, 5, 10, 20) if top / step <= 5.5)
    axes.set_yticks([step * at for at in range(int(1.05 * top / step) + 1)])
    for row, fate in enumerate(found.fates, 1):
        height, named = (0.5 - row) * _ROW * top, f"{fate.branch} {fate.fate}"
        axes.text(0.01, height, named, fontsize=LETTERS - 2, color=colours.ink, va="center")


def _stretches(states: list[int]) -> list[tuple[int, int, int]]:
    found: list[tuple[int, int, int]] = []
    for at, state in enumerate(states):
        if found and found[-1][2] == state:
            found[-1] = (found[-1][0], at + 1, state)
        else:
            found.append((at, at + 1, state))
    return found


def _near(curve: list[tuple[float, float]], place: float) -> float:
    return curve[min(int(place * COLUMNS), COLUMNS - 1)][1]


def _aloud(told: list[Told]) -> str:
    return "; ".join(f"at {format_quantity(each.time_s, 's', 3)} {each.text}" for each in told)
