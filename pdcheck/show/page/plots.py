"""The plots: what a source offers, what an output can deliver, what the bus does over time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from pdcheck.bits.offers import Offer
from pdcheck.contract.bus_voltage import Segment
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.show.page.svg import ACCENT, INK, PAPER, SECOND, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


class Plot(NamedTuple):
    """A figure, its text alternative, and the titles of its points by their id."""

    figure: Figure
    label: str
    names: dict[str, str]


class WorkingPoint(NamedTuple):
    """Where a rig sits on a source: volts at the receptacle, amperes drawn."""

    voltage_v: float
    current_a: float


def _figure(width: float, height: float) -> tuple[Figure, Axes]:
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasSVG(figure)
    axes = figure.add_subplot()
    figure.patch.set_alpha(0)
    axes.patch.set_alpha(0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(SOFT)
    axes.tick_params(colors=SOFT, labelsize=8, labelcolor=INK)
    axes.grid(True, color=SOFT, alpha=0.25, linewidth=0.6)
    axes.set_axisbelow(True)
    return figure, axes


def _named(axes: Axes, x: str, y: str) -> None:
    axes.set_xlabel(x, color=INK, fontsize=8)
    axes.set_ylabel(y, color=INK, fontsize=8)


def offers_plot(offers: Sequence[Offer], point: WorkingPoint | None = None, *, small: bool = False) -> Plot:
    """Voltage against current: a stem for each fixed offer, an area for each range, a cross for the working point.

    Kinds differ by shape and hatching, not by colour alone.
    """
    figure, axes = _figure(3.2, 1.9) if small else _figure(6.8, 3.2)
    names: dict[str, str] = {}
    real = [offer for offer in offers if not offer.is_gap and offer.kind != "augmented-reserved"]
    top_v = max([SPR_MAX.value, *(offer.max_mv / 1000 for offer in real)])
    for offer in real:
        gid = f"offer{offer.position}"
        names[gid] = _offer_title(offer)
        if offer.kind == "fixed":
            _stem(axes, offer, gid, small)
        else:
            _area(axes, offer, gid)
    if point is not None:
        (cross,) = axes.plot(
            [point.voltage_v],
            [point.current_a],
            marker="X",
            markersize=9 if small else 12,
            color=SECOND,
            linestyle="none",
            markeredgecolor=PAPER,
            zorder=6,
        )
        cross.set_gid("point")
        names["point"] = f"working point: {point.voltage_v:.2f} V, {point.current_a:.3f} A"
        if not small:
            axes.annotate(
                f"working point {point.voltage_v:.1f} V, {point.current_a:.2f} A",
                (point.voltage_v, point.current_a),
                xytext=(8, -12),
                textcoords="offset points",
                color=SECOND,
                fontsize=8,
                ha="right" if point.voltage_v > 0.6 * top_v else "left",
            )
    axes.set_xlim(0, top_v * 1.06)
    axes.set_ylim(0, CONTRACT_MAX.value * 1.12)
    _named(axes, "voltage, V", "current, A")
    listed = "; ".join(_offer_title(offer) for offer in real) or "no offers"
    where = "" if point is None else f". Working point {point.voltage_v:.2f} V, {point.current_a:.3f} A"
    return Plot(figure, f"Current against voltage of each offer: {listed}{where}", names)


def _offer_title(offer: Offer) -> str:
    if offer.kind == "fixed":
        return f"offer {offer.position}: {offer.max_mv / 1000:g} V, {(offer.current_ma or 0) / 1000:g} A"
    span = f"{offer.min_mv / 1000:g} to {offer.max_mv / 1000:g} V"
    amps = offer.current_ma_at(offer.max_mv) / 1000
    return f"offer {offer.position}: {offer.kind.upper()} {span}, {amps:g} A at the top"


def _stem(axes: Axes, offer: Offer, gid: str, small: bool) -> None:
    volts, amps = offer.max_mv / 1000, (offer.current_ma or 0) / 1000
    axes.vlines(volts, 0, amps, color=INK, linewidth=1.4, zorder=3)
    (head,) = axes.plot(
        [volts], [amps], marker="o", markersize=5 if small else 7, color=INK, linestyle="none", zorder=4
    )
    head.set_gid(gid)
    if not small:
        axes.annotate(
            f"{volts:g} V\n{amps:g} A",
            (volts, amps),
            xytext=(0, 6),
            textcoords="offset points",
            ha="center",
            color=INK,
            fontsize=7.5,
        )


def _area(axes: Axes, offer: Offer, gid: str) -> None:
    steps = 60
    low, high = offer.min_mv, offer.max_mv
    volts = [low + (high - low) * step / steps for step in range(steps + 1)]
    amps = [offer.current_ma_at(round(each)) / 1000 for each in volts]
    hatch = {"pps": "////", "spr-avs": "\\\\\\\\", "epr-avs": "....", "battery": "xxxx"}.get(offer.kind, "||||")
    area = axes.fill_between(
        [each / 1000 for each in volts],
        amps,
        facecolor="none",
        edgecolor=ACCENT,
        hatch=hatch,
        linewidth=1.0,
        alpha=0.75,
        zorder=2,
        step=None,
    )
    area.set_gid(gid)


class EnvelopeLine(NamedTuple):
    """One contract of an envelope: its name, output volts, greatest amperes at worst and typically, what limits."""

    name: str
    output_v: Sequence[float]
    worst_a: Sequence[float]
    typical_a: Sequence[float]
    limits: Sequence[str]


def envelope_plot(lines: Sequence[EnvelopeLine]) -> Plot:
    """Greatest output current against output voltage, one line a contract; shapes tell them apart."""
    figure, axes = _figure(6.8, 3.2)
    names: dict[str, str] = {}
    shapes = "osD^vP*"
    dashes = ("-", "--", ":", "-.")
    for index, line in enumerate(lines):
        colour = (INK, ACCENT, SECOND, SOFT)[index % 4]
        axes.plot(
            line.output_v, line.worst_a, color=colour, linestyle=dashes[index % 4], linewidth=1.3, label=line.name
        )
        for at, (volts, amps, limit) in enumerate(zip(line.output_v, line.worst_a, line.limits, strict=True)):
            gid = f"line{index}at{at}"
            (dot,) = axes.plot([volts], [amps], marker=shapes[index % 7], markersize=5, color=colour, linestyle="none")
            dot.set_gid(gid)
            names[gid] = f"{line.name}: {volts:g} V, {amps:.3f} A at worst, limited by {limit}"
    top = max((amps for line in lines for amps in line.worst_a), default=1.0)
    axes.set_ylim(0, top * 1.15 or 1.0)
    _named(axes, "output voltage, V", "greatest current, A")
    if lines:
        legend = axes.legend(fontsize=7.5, frameon=False, labelcolor=INK)
        legend.set_zorder(5)
    told = "; ".join(f"{line.name}: {max(line.worst_a, default=0):.2f} A at most" for line in lines)
    return Plot(figure, f"Greatest output current against output voltage. {told}", names)


def bus_plot(segments: Sequence[Segment]) -> Plot:
    """VBUS over time, with the band that the standard allows around it."""
    figure, axes = _figure(6.8, 2.4)
    names: dict[str, str] = {}
    for index, each in enumerate(segments):
        span = [each.start_s, each.end_s]
        axes.fill_between(span, each.min_v, each.max_v, color=ACCENT, alpha=0.18, linewidth=0)
        start_v = each.to_v if each.steady else each.from_v
        (line,) = axes.plot(span, [start_v, each.to_v], color=INK, linewidth=1.8)
        line.set_gid(f"bus{index}")
        names[f"bus{index}"] = f"{each.start_s:.3f} to {each.end_s:.3f} s: {each.to_v:g} V, {each.text or 'moving'}"
    axes.set_ylim(0, max((each.max_v for each in segments), default=5.0) * 1.1)
    _named(axes, "time after plugging in, s", "VBUS, V")
    steady = [each for each in segments if each.steady]
    told = "; ".join(f"from {each.start_s:.2f} s {each.to_v:g} V ({each.text})" for each in steady)
    return Plot(figure, f"Voltage on VBUS over time: {told}", names)
