"""A picture painted as PNG."""

from __future__ import annotations

from io import BytesIO
from logging import ERROR, getLogger

from pdcheck.errors import InputError
from pdcheck.show.page.palette import on_paper
from pdcheck.show.pictures.shapes import Area, Frame, Label, Picture, Stroke

_INCH = 96.0
_POINTS = 72.0 / _INCH


def can_paint() -> None:
    """Raise ``InputError`` where nothing is installed that paints: it takes no picture to know that."""
    # Where it keeps what it has found out of the fonts is its own affair, also where it may keep nothing.
    getLogger("matplotlib").setLevel(ERROR)
    try:
        import matplotlib.backends.backend_agg  # noqa: F401
    except ImportError:
        raise InputError(
            "a PNG needs matplotlib, which is not installed", expected="SVG, or pip install 'pdcheck[png]' before"
        ) from None


def painted(picture: Picture) -> bytes:
    """The picture in the colours of paper, two points for each of its own.

    Raises ``InputError`` where nothing is installed that paints.
    """
    can_paint()
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.patches import FancyBboxPatch, PathPatch
    from matplotlib.path import Path

    colours = on_paper()._asdict()
    figure = Figure(figsize=(picture.width / _INCH, picture.height / _INCH), facecolor=colours["card"])
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, picture.width)
    axes.set_ylim(picture.height, 0.0)
    axes.set_axis_off()
    for at, shape in enumerate(picture.shapes):
        match shape:
            case Label(x, y, text, role, size, bold, anchor):
                side = {"start": "left", "middle": "center", "end": "right"}[anchor]
                axes.text(
                    x,
                    y,
                    # A dollar sign would begin a formula.
                    text.replace("$", r"\$"),
                    color=colours[role],
                    fontsize=0.93 * size * _POINTS,
                    fontweight="bold" if bold else "normal",
                    ha=side,
                    va="baseline",
                    zorder=at,
                )
            case Stroke(points, role, width, dashed, _):
                across, down = zip(*points, strict=True)
                axes.plot(
                    across,
                    down,
                    color=colours[role],
                    linewidth=width * _POINTS,
                    linestyle=(0, (3, 2)) if dashed else "-",
                    solid_capstyle="round",
                    zorder=at,
                )
            case Frame(x, y, width, height, role, line, dashed, fill, _):
                axes.add_patch(
                    FancyBboxPatch(
                        (x, y),
                        width,
                        height,
                        boxstyle="round,pad=0,rounding_size=5",
                        edgecolor=colours[role],
                        facecolor="none" if fill is None else colours[fill],
                        linewidth=line * _POINTS,
                        linestyle=(0, (3, 2)) if dashed else "-",
                        zorder=at,
                    )
                )
            case Area(points, role, opacity, curved, _):
                step = Path.CURVE4 if curved else Path.LINETO
                codes = [Path.MOVETO, *([step] * (len(points) - 1)), Path.CLOSEPOLY]
                outline = Path([*points, points[0]], codes)
                axes.add_patch(PathPatch(outline, facecolor=colours[role], alpha=opacity, linewidth=0.0, zorder=at))
    held = BytesIO()
    figure.savefig(held, format="png", dpi=2.0 * _INCH)
    return held.getvalue()
