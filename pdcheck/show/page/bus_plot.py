"""The picture of VBUS over time, with what the standard lets it be at each moment."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.contract.talk.bus_voltage import Segment
from pdcheck.show.page.palette import PAGE, Palette
from pdcheck.show.page.plot import Plot, canvas, hit

# How much of the steady state is shown after the last change, as a share of the time before it.
_AFTER = 0.6


def bus_plot(segments: Sequence[Segment], colours: Palette = PAGE) -> Plot:
    """VBUS over time as a line, in the band around it."""
    on = canvas(2.6, "time after plugging in, s", "VBUS, V", colours)
    names: dict[str, str] = {}
    for index, each in enumerate(segments):
        span = [each.start_s, each.end_s]
        start_v = each.to_v if each.steady else each.from_v
        on.axes.fill_between(span, each.min_v, each.max_v, color=colours.accent, alpha=0.18, linewidth=0)
        on.axes.plot(span, [start_v, each.to_v], color=colours.ink, linewidth=1.8)
        hit(on, span, [start_v, each.to_v], f"bus{index}")
        names[f"bus{index}"] = (
            f"{each.start_s:.3f} to {each.end_s:.3f} s: {each.to_v:g} V, "
            f"within {each.min_v:g} to {each.max_v:g} V, {each.text or 'moving'}"
        )
    changed_s = max((each.start_s for each in segments), default=0.0)
    end_s = max((each.end_s for each in segments), default=1.0)
    on.axes.set_xlim(0, min(end_s, changed_s * (1 + _AFTER)) or 1.0)
    on.axes.set_ylim(0, max((each.max_v for each in segments), default=5.0) * 1.1)
    told = "; ".join(f"from {each.start_s:.2f} s {each.to_v:g} V ({each.text})" for each in segments if each.steady)
    return Plot(on.figure, f"Voltage on VBUS over time: {told}", names)
