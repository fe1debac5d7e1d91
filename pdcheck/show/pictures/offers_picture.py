"""The picture of what a source offers: current against voltage, with the point where a rig sits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from pdcheck.bits.offers import Offer
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.voltage import SPR_MAX
from pdcheck.named import NamedTuple
from pdcheck.quantities import format_quantity
from pdcheck.show.pictures.axes import WIDTH, Axes, Span
from pdcheck.show.pictures.shapes import SMALL, Area, Label, Picture, Shape, Stroke, width_of
from pdcheck.verdict.case import Case

# SPR AVS states one current up to 15 V and one above [mV].
_SIDES_MV = (15_000, 15_001)
_HEIGHT = 170.0


class WorkingPoint(NamedTuple):
    """Where a rig sits on a source: volts at the receptacle, amperes drawn."""

    voltage_v: float
    current_a: float


def working_point(case: Case) -> WorkingPoint | None:
    """Where the rig sits on its source, typically; nowhere where nothing of it runs."""
    volts, amps = case.node_voltage("source"), case.node_current("source")
    if volts is None or amps is None or amps.typ <= 0.0:
        return None
    return WorkingPoint(volts.typ, amps.typ)


def offers_picture(offers: Sequence[Offer], point: WorkingPoint | None = None, title: str = "Offers") -> Picture:
    """A stem for each fixed offer, an area with its name for each range, a cross for the working point."""
    real = [offer for offer in offers if not offer.is_gap and offer.kind != "augmented-reserved"]
    top_v = max([SPR_MAX.value, *(offer.max_mv / 1000 for offer in real), *(() if point is None else point[:1])])
    top_a = max([CONTRACT_MAX.value, *(() if point is None else point[1:])])
    axes = Axes(Span(0.0, top_v * 1.06, "voltage, V"), Span(0.0, top_a * 1.12, "current, A"), 30.0, _HEIGHT)
    areas = [offer for offer in real if offer.kind != "fixed"]
    shapes: list[Shape] = [*axes.grid()]
    stems = [offer for offer in real if offer.kind == "fixed"]
    for at, offer in enumerate(areas):
        shapes += _area(axes, offer, at, [axes.x(each.max_mv / 1000) for each in stems])
    shapes += _stems(axes, stems)
    words = "; ".join(offer_title(offer) for offer in real) or "no offers"
    if point is not None:
        told = f"working point: {format_quantity(point.voltage_v, 'V', 3)}, {format_quantity(point.current_a, 'A', 3)}"
        words += f". {told[0].upper()}{told[1:]}"
        shapes += _cross(axes, point, told)
    return Picture(WIDTH, axes.below, title, words, tuple(shapes))


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


def _cross(axes: Axes, point: WorkingPoint, told: str) -> Iterator[Shape]:
    x, y = axes.at(*point)
    for turn in (-6.0, 6.0):
        yield Stroke(((x - 6.0, y - turn), (x + 6.0, y + turn)), "card", 6.0)
    for turn in (-6.0, 6.0):
        yield Stroke(((x - 6.0, y - turn), (x + 6.0, y + turn)), "second", 3.0, told=told)


def _stems(axes: Axes, offers: Sequence[Offer]) -> Iterator[Shape]:
    taken: list[tuple[float, float, float]] = []
    for offer in offers:
        volts, amps = offer.max_mv / 1000, (offer.current_ma or 0) / 1000
        (x, y), told = axes.at(volts, amps), offer_title(offer)
        yield Stroke(((x, axes.foot), (x, y)), "ink", 1.5)
        yield Stroke(((x - 0.5, y), (x + 0.5, y)), "ink", 9.0, told=told)
        # The volts stand on the axis below; here the amperes, where they do not lie on a neighbour's.
        text = format_quantity(amps, "A", 3)
        half = 0.5 * width_of(text, SMALL)
        if all(abs(x - at) > half + other + 4.0 or abs(y - high) > SMALL for at, high, other in taken):
            taken.append((x, y, half))
            yield Label(x, y - 9.0, text, "ink", SMALL, anchor="middle")


def _area(axes: Axes, offer: Offer, at: int, stems: Sequence[float]) -> Iterator[Shape]:
    low, high = offer.min_mv, offer.max_mv
    # A limit by power is a curve; one by current needs its ends only, and where it steps both sides of the step.
    steps = 1 if offer.power_mw is None and offer.pdp_w is None else 24
    millivolts = {round(low + (high - low) * step / steps) for step in range(steps + 1)}
    millivolts |= {each for each in _SIDES_MV if offer.kind == "spr-avs" and low < each < high}
    top = [axes.at(each / 1000, offer.current_ma_at(each) / 1000) for each in sorted(millivolts)]
    (left, _), (right, _) = top[0], top[-1]
    yield Area(((left, axes.foot), *top, (right, axes.foot)), "accent", 0.14, told=offer_title(offer))
    yield Stroke(((left, axes.foot), *top, (right, axes.foot)), "accent", 1.5, dashed=offer.kind == "battery")
    name = offer.kind.upper()
    wide = width_of(name, SMALL) + 8.0
    # Beside the area's left end or a stem, where there is room up to the next.
    edges = sorted({left, right, *(x for x in stems if left < x < right)})
    start = next((one for one, two in pairwise(edges) if two - one > wide), None)
    if start is not None:
        yield Label(start + 5.0, axes.foot - 8.0 - 16.0 * at, name, "accent", SMALL)
