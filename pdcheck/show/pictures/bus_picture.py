"""The picture of VBUS over time, with what the standard lets it be at each moment."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.quantities import format_quantity
from pdcheck.show.pictures.axes import WIDTH, Axes, Span
from pdcheck.show.pictures.shapes import Area, Picture, Shape, Stroke

# How much of the steady state is shown after the last change, as a share of the time before it.
_AFTER = 0.6


def bus_picture(segments: Sequence[Segment], title: str = "VBUS over time") -> Picture:
    """VBUS over time as a line, in the band around it."""
    changed_s = max((each.start_s for each in segments), default=0.0)
    last_s = max((each.end_s for each in segments), default=1.0)
    end_s = min(last_s, changed_s * (1 + _AFTER)) or 1.0
    most_v = max((each.max_v for each in segments), default=5.0) * 1.1
    axes = Axes(Span(0.0, end_s, "time after plugging in, s"), Span(0.0, most_v, "VBUS, V"), 30.0, 150.0)
    shapes: list[Shape] = [*axes.grid()]
    for each in segments:
        if each.start_s >= end_s:
            continue
        until_s = min(each.end_s, end_s)
        share = (until_s - each.start_s) / (each.end_s - each.start_s) if each.end_s > each.start_s else 1.0
        start_v = each.to_v if each.steady else each.from_v
        stop_v = start_v + share * (each.to_v - start_v)
        told = (
            f"{format_quantity(each.start_s, 's', 3)} to {format_quantity(each.end_s, 's', 3)}: {each.to_v:g} V, "
            f"within {each.min_v:g} to {each.max_v:g} V, {each.text or 'moving'}"
        )
        corners = (
            axes.at(each.start_s, each.min_v), axes.at(each.start_s, each.max_v),
            axes.at(until_s, each.max_v), axes.at(until_s, each.min_v),
        )  # fmt: skip
        shapes.append(Area(corners, "accent", 0.2, told=told))
        shapes.append(Stroke((axes.at(each.start_s, start_v), axes.at(until_s, stop_v)), "ink", 2.0, told=told))
    words = "; ".join(
        f"from {format_quantity(each.start_s, 's', 3)} {each.to_v:g} V ({each.text})"
        for each in segments
        if each.steady
    )
    return Picture(WIDTH, axes.below, title, words, tuple(shapes))
