"""The picture of what a source offers: current against voltage, with the point where a rig sits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.bits.offers import Offer
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.show.page.palette import PAGE, Palette
from pdcheck.show.page.plot import Canvas, Plot, canvas, hit

# Lines only: dots are drawn as circles, a quarter of a megabyte for each picture.
_HATCHES = {"pps": "////", "spr-avs": "\\\\\\\\", "epr-avs": "++++", "battery": "xxxx"}
# SPR AVS states one current up to 15 V and one above [mV].
_SIDES_MV = (15_000, 15_001)


class WorkingPoint(NamedTuple):
    """Where a rig sits on a source: volts at the receptacle, amperes drawn."""

    voltage_v: float
    current_a: float


def offers_plot(
    offers: Sequence[Offer], point: WorkingPoint | None = None, *, small: bool = False, colours: Palette = PAGE
) -> Plot:
    """Voltage against current: a stem for each fixed offer, an area for each range, a cross for the working point.

    Kinds differ by shape and hatching, not by colour alone.
    """
    on = (
        canvas(2.0, "voltage, V", "current, A", colours, width=3.2)
        if small
        else canvas(3.2, "voltage, V", "current, A", colours)
    )
    names: dict[str, str] = {}
    real = [offer for offer in offers if not offer.is_gap and offer.kind != "augmented-reserved"]
    top_v = max([SPR_MAX.value, *(offer.max_mv / 1000 for offer in real), *(() if point is None else point[:1])])
    top_a = max([CONTRACT_MAX.value, *(() if point is None else point[1:])])
    for offer in real:
        gid = f"offer{offer.position}"
        names[gid] = offer_title(offer)
        if offer.kind == "fixed":
            _stem(on, offer, gid, small)
        else:
            _area(on, offer, gid)
    where = ""
    if point is not None:
        told = f"{point.voltage_v:.2f} V, {point.current_a:.3f} A"
        where = f". Working point: {told}"
        names["point"] = f"working point: {told}"
        _cross(on, point, small)
        if not small:
            _label(on, point, told, left=point.voltage_v > 0.5 * top_v)
    on.axes.set_xlim(0, top_v * 1.06)
    on.axes.set_ylim(0, top_a * 1.18)
    listed = "; ".join(offer_title(offer) for offer in real) or "no offers"
    return Plot(on.figure, f"Current against voltage of each offer: {listed}{where}", names)


def offer_title(offer: Offer) -> str:
    """An offer in words.

    >>> from pdcheck.bits.offers import pps
    >>> offer_title(pps(3300, 16000, 3000, 4))
    'offer 4: PPS 3.3 to 16 V, 3 A at the top'
    """
    if offer.kind == "fixed":
        return f"offer {offer.position}: {offer.max_mv / 1000:g} V, {(offer.current_ma or 0) / 1000:g} A"
    span = f"{offer.min_mv / 1000:g} to {offer.max_mv / 1000:g} V"
    amps = offer.current_ma_at(offer.max_mv) / 1000
    return f"offer {offer.position}: {offer.kind.upper()} {span}, {amps:g} A at the top"


def _cross(on: Canvas, point: WorkingPoint, small: bool) -> None:
    on.axes.plot(
        [point.voltage_v],
        [point.current_a],
        marker="X",
        markersize=9 if small else 12,
        color=on.colours.second,
        linestyle="none",
        markeredgecolor=on.colours.card,
        zorder=6,
    )
    hit(on, [point.voltage_v], [point.current_a], "point")


def _label(on: Canvas, point: WorkingPoint, told: str, *, left: bool) -> None:
    on.axes.annotate(
        f"working point\n{told}",
        (point.voltage_v, point.current_a),
        xytext=(-10 if left else 10, -4),
        textcoords="offset points",
        color=on.colours.second,
        fontsize=8.5,
        ha="right" if left else "left",
        va="top",
        zorder=7,
        bbox={"facecolor": on.colours.card, "edgecolor": "none", "pad": 1.5},
    )


def _stem(on: Canvas, offer: Offer, gid: str, small: bool) -> None:
    volts, amps = offer.max_mv / 1000, (offer.current_ma or 0) / 1000
    on.axes.plot([volts, volts], [0, amps], color=on.colours.ink, linewidth=1.4, zorder=3)
    on.axes.plot([volts], [amps], marker="o", markersize=5 if small else 7, color=on.colours.ink, zorder=4)
    hit(on, [volts], [amps], gid)
    if not small:
        on.axes.annotate(
            f"{volts:g} V\n{amps:g} A",
            (volts, amps),
            xytext=(0, 6),
            textcoords="offset points",
            ha="center",
            color=on.colours.ink,
            fontsize=8.5,
            bbox={"facecolor": on.colours.card, "edgecolor": "none", "pad": 0.5},
        )


def _area(on: Canvas, offer: Offer, gid: str) -> None:
    low, high = offer.min_mv, offer.max_mv
    # A limit by power is a curve; one by current needs its ends only, and where it steps both sides of the step.
    steps = 1 if offer.power_mw is None and offer.pdp_w is None else 24
    millivolts = {round(low + (high - low) * step / steps) for step in range(steps + 1)}
    millivolts |= {each for each in _SIDES_MV if offer.kind == "spr-avs" and low < each < high}
    on.axes.fill_between(
        [each / 1000 for each in sorted(millivolts)],
        [offer.current_ma_at(each) / 1000 for each in sorted(millivolts)],
        facecolor="none",
        edgecolor=on.colours.accent,
        hatch=_HATCHES.get(offer.kind, "||||"),
        linewidth=1.0,
        zorder=2,
    ).set_gid(gid)
