"""What every plot shares: its figure with axes in the colours at hand, its text alternative, names on its points."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from pdcheck.show.page.palette import PAGE, Palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Narrow, so that its letters can be read on a telephone without a second scroll bar [in, pt].
WIDTH = 4.6
LETTERS = 9.0


class Plot(NamedTuple):
    """A figure, its text alternative, and the titles of its points by their id."""

    figure: Figure
    label: str
    names: dict[str, str]


class Canvas(NamedTuple):
    """A figure with one pair of axes, and the colours to draw with."""

    figure: Figure
    axes: Axes
    colours: Palette


def canvas(height: float, x: str, y: str, colours: Palette = PAGE, *, width: float = WIDTH) -> Canvas:
    """Empty axes with their names; ``height`` and ``width`` in inches."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height))
    FigureCanvasSVG(figure)
    # Margins that hold the letters, given in inches: a layout engine would draw every figure twice.
    axes = figure.add_axes((0.6 / width, 0.45 / height, 1 - 0.7 / width, 1 - 0.55 / height))
    figure.patch.set_alpha(0)
    axes.patch.set_alpha(0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(colours.soft)
    axes.tick_params(colors=colours.soft, labelsize=LETTERS, labelcolor=colours.ink)
    axes.grid(True, color=colours.soft, alpha=0.25, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set_xlabel(x, color=colours.ink, fontsize=LETTERS)
    axes.set_ylabel(y, color=colours.ink, fontsize=LETTERS)
    return Canvas(figure, axes, colours)


def hit(on: Canvas, x: list[float], y: list[float], gid: str, width: float = 16.0) -> None:
    """Something wide and unseen over a point or a line, so that a finger or a pointer finds its title."""
    if len(x) == 1:
        (mark,) = on.axes.plot(x, y, marker="o", markersize=width, color=on.colours.ink, alpha=0.0, zorder=9)
    else:
        (mark,) = on.axes.plot(x, y, linewidth=width, color=on.colours.ink, alpha=0.0, zorder=8)
    mark.set_gid(gid)
