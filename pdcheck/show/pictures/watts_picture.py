"""Where the watts go: a flow whose width is power, from the charger to the loads, with what is lost leaving it."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.named import NamedTuple
from pdcheck.quantities import format_quantity
from pdcheck.show.pictures.shapes import LINE, SMALL, Area, Label, Picture, Shape, fitted, heading, lowest
from pdcheck.verdict.drawn import Drawn

WIDE, NARROW = 760.0, 340.0
_TALL = 170.0


class Flow(NamedTuple):
    """Power [W] that arrives somewhere, or is lost there as heat."""

    name: str
    power_w: float
    lost: bool


def flows(drawn: Drawn) -> list[Flow]:
    """Everything that the charger's power turns into, as stated: heat of what is shared, then branch by branch.

    The charger gives their sum.
    """
    found = [
        Flow(part.kind, part.lost_w.typ, True)
        for part in drawn.trunk
        if part.lost_w is not None and part.lost_w.typ > 0.0
    ]
    for branch in drawn.branches:
        for part in branch.parts:
            if part.takes_w is not None and part.takes_w.typ > 0.0:
                found.append(Flow(branch.branch, part.takes_w.typ, False))
            if part.lost_w is not None and part.lost_w.typ > 0.0:
                found.append(Flow(f"{branch.branch} {part.kind}", part.lost_w.typ, True))
    return found


def watts_picture(drawn: Drawn, *, narrow: bool = False) -> Picture:
    """The picture, wide or for a telephone.

    Bands leave the flow in the order in which power gets there; each is as high as it has watts.
    """
    width = NARROW if narrow else WIDE
    found = flows(drawn)
    given = sum(each.power_w for each in found)
    arrives = sum(each.power_w for each in found if not each.lost)
    title = "Where the watts go"
    on = f"{drawn.title}: the charger gives {_watts(given)}, {_watts(arrives)} arrive, the rest is heat"
    heads = heading(title, on, width)
    if given <= 0.0:
        return Picture(width, lowest(heads) + 20.0, title, f"{drawn.title}: no power flows.", tuple(heads[:1]))
    words = ", ".join(
        f"{each.name} {_watts(each.power_w, 2)} of heat" if each.lost else f"{each.name} {_watts(each.power_w)}"
        for each in found
    )
    shapes = [*heads, *_bands(found, given, width, lowest(heads) + 34.0)]
    return Picture(width, lowest(shapes) + 16.0, title, f"{on}: {words}.", tuple(shapes))


def _watts(power_w: float, digits: int = 3) -> str:
    return format_quantity(power_w, "W", digits)


def _bands(found: Sequence[Flow], given: float, width: float, top: float) -> list[Shape]:
    scale = _TALL / given
    names = 168.0
    end, turn = width - names, 0.45 * (width - names)
    shapes: list[Shape] = [Label(14.0, top - 10.0, f"charger {_watts(given)}", bold=True)]
    leave = top
    # Each label has a line of its own, and bands stay in their order, so that none crosses another.
    arrive = top - 6.0
    for each in found:
        high = max(each.power_w * scale, 0.6)
        lower = arrive + max(high, LINE + 6.0)
        role = "second" if each.lost else "accent"
        shapes += [_band(14.0, turn, end, leave, arrive, high, role)]
        shapes.append(
            Label(
                end + 8.0,
                arrive + 0.5 * max(high, LINE) + 4.0,
                fitted(each.name, _watts(each.power_w, 2 if each.lost else 3), names - 16.0, bold=not each.lost),
                "second" if each.lost else "ink",
                SMALL,
                not each.lost,
            )
        )
        leave += each.power_w * scale
        arrive = lower
    return shapes


def _band(start: float, turn: float, end: float, leave: float, arrive: float, high: float, role: str) -> Area:
    """From the charger straight on, then in a curve to where it arrives; as high all the way."""
    middle = 0.5 * (turn + end)
    points = (
        (start, leave), (start, leave), (turn, leave), (turn, leave),
        (middle, leave), (middle, arrive), (end, arrive),
        (end, arrive), (end, arrive + high), (end, arrive + high),
        (middle, arrive + high), (middle, leave + high), (turn, leave + high),
        (turn, leave + high), (start, leave + high), (start, leave + high),
    )  # fmt: skip
    return Area(points, "second" if role == "second" else "accent", 0.9, curved=True)
