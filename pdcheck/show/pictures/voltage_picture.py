"""The voltage down the chain to one branch: a step at each part, and the range that each part allows beside it."""

from __future__ import annotations

from math import ceil

from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.draw import NAMES
from pdcheck.show.figures import shown
from pdcheck.show.pictures.shapes import SMALL, Area, Label, Picture, Shape, Stroke, heading, lowest
from pdcheck.verdict.drawn import Drawn, DrawnBranch

_LEFT, _RIGHT, _EDGE, _HEIGHT = 56.0, 20.0, 26.0, 210.0
WIDE, NARROW = 760.0, 340.0
_STEPS = (0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0)
_MOST_LINES = 6


class Place(NamedTuple):
    """A place on the way: its name, the voltage there, and what is allowed."""

    name: str
    voltage_v: Triple
    allowed_v: tuple[float | None, float | None]


def places(drawn: Drawn, branch: DrawnBranch) -> list[Place]:
    """Where a voltage is known on the way from the charger to a load."""
    found: list[Place] = []
    for part in (*drawn.trunk, *branch.parts):
        if part.voltage_v is None:
            continue
        if part.kind == "converter":
            # Its allowed range is that of its input, where the wire before it ends.
            before = found[-1]
            found[-1] = Place("converter in", before.voltage_v, part.allowed_v)
            if before.name == "bus":
                found.insert(-1, before)
            found.append(Place("converter out", part.voltage_v, (None, None)))
        elif part.kind == "wire" and any(each.kind == "converter" for each in branch.parts):
            found.append(Place("converter in", part.voltage_v, (None, None)))
        elif part.kind in ("source", "bus", "load"):
            found.append(Place(NAMES.get(part.kind, part.kind), part.voltage_v, part.allowed_v))
    return found


def voltage_picture(drawn: Drawn, branch: DrawnBranch, *, narrow: bool = False) -> Picture:
    """The picture for one branch, wide or for a telephone."""
    width = NARROW if narrow else WIDE
    title = f"Voltage down the chain to {branch.branch}"
    on = f"{drawn.title}, contract {drawn.contract.voltage_v:g} V" if drawn.contract.outcome != "off" else drawn.title
    stops = places(drawn, branch)
    heads = heading(title, on, width)
    top = lowest(heads) + 40.0
    if len(stops) < 2:
        heads.append(Label(14.0, top, "There is no power here.", bold=True))
        return Picture(width, top + 30.0, title, f"{on}. There is no power here.", tuple(heads))
    scale = _Scale(stops, top)
    free = width - _LEFT - _RIGHT - 2.0 * _EDGE - 20.0
    across = [_LEFT + _EDGE + at * free / (len(stops) - 1) for at in range(len(stops))]
    shapes: list[Shape] = [*heads, *scale.grid(width)]
    shapes += _bands(stops, across, scale)
    for at, (x, stop) in enumerate(zip(across, stops, strict=True)):
        shapes += _place(x, stop, scale, lower=at % 2 * 32.0)
    return Picture(width, scale.y(scale.low) + 94.0, title, f"{on}. {_words(stops)}", tuple(shapes))


def _words(stops: list[Place]) -> str:
    return "; ".join(
        f"{stop.name} {shown(stop.voltage_v, 'V')}{'' if (span := _span(stop)) is None else f', {span}'}"
        for stop in stops
    )


def _span(stop: Place) -> str | None:
    low, high = stop.allowed_v
    if low is None and high is None:
        return None
    if low is None or high is None:
        bound, word = (low, "at least") if high is None else (high, "at most")
        return f"{word} {format_quantity(bound or 0.0, 'V', 3)}"
    return f"may be {format_quantity(low, 'V', 3)} to {format_quantity(high, 'V', 3)}"


class _Scale:
    """From volts to the sheet: zero at the bottom where the voltages are low, and a line at every step."""

    def __init__(self, stops: list[Place], at: float) -> None:
        self.top = at
        seen = [end for stop in stops for end in (stop.voltage_v.min, stop.voltage_v.max)]
        # What is allowed far above is an arrow; what is allowed just above belongs on the sheet.
        seen += [end for stop in stops for end in stop.allowed_v if end is not None and end < 1.3 * max(seen)]
        top, bottom = max(*seen, 1.0), max(0.0, min(seen))
        bottom = 0.0 if bottom < 0.3 * top else bottom
        self.step = next((each for each in _STEPS if (top - bottom) / each <= _MOST_LINES), _STEPS[-1])
        self.low = max(0.0, (int(bottom / self.step) - (bottom > 0.0)) * self.step)
        self.high = (ceil(top / self.step - 1e-9)) * self.step

    def y(self, volts: float) -> float:
        share = (min(max(volts, self.low), self.high) - self.low) / (self.high - self.low)
        return self.top + _HEIGHT * (1.0 - share)

    def grid(self, width: float) -> list[Shape]:
        lines: list[Shape] = []
        for at in range(round((self.high - self.low) / self.step) + 1):
            volts = self.low + at * self.step
            y = self.y(volts)
            lines += [
                Stroke(((_LEFT, y), (width - _RIGHT, y)), "soft", 0.4),
                Label(_LEFT - 8.0, y + 4.0, f"{volts:g} V", "soft", SMALL, anchor="end"),
            ]
        return lines


def _bands(stops: list[Place], across: list[float], scale: _Scale) -> list[Shape]:
    shapes: list[Shape] = []
    for (x, here), (nx, there) in zip(
        zip(across, stops, strict=True), list(zip(across, stops, strict=True))[1:], strict=False
    ):
        one, two = here.voltage_v, there.voltage_v
        if there.name == "converter out":
            shapes.append(Stroke(((x, scale.y(one.typ)), (nx, scale.y(two.typ))), "accent", 1.5, dashed=True))
            continue
        corners = ((x, scale.y(one.min)), (x, scale.y(one.max)), (nx, scale.y(two.max)), (nx, scale.y(two.min)))
        shapes.append(Area(corners, "accent", 0.22))
        shapes.append(Stroke(((x, scale.y(one.typ)), (nx, scale.y(two.typ))), "accent", 2.5))
    return shapes


def _place(x: float, stop: Place, scale: _Scale, lower: float) -> list[Shape]:
    y = scale.y(stop.voltage_v.typ)
    shapes: list[Shape] = [Stroke(((x - 0.5, y), (x + 0.5, y)), width=8.0)]
    top = scale.y(stop.voltage_v.max) - 8.0
    shapes.append(Label(x - 4.0, top, format_quantity(stop.voltage_v.typ, "V", 3), size=SMALL))
    foot = scale.y(scale.low)
    for at, name in enumerate(stop.name.split()):
        shapes.append(Label(x, foot + 18.0 + lower + 15.0 * at, name, size=SMALL, anchor="middle"))
    low, high_v = stop.allowed_v
    if low is None and high_v is None:
        return shapes
    beside = x - 10.0
    ends = (scale.y(scale.low if low is None else low), scale.y(scale.high if high_v is None else high_v))
    shapes.append(Stroke(((beside, ends[0]), (beside, ends[1])), "second", 2.0))
    for volts, end in ((low, ends[0]), (high_v, ends[1])):
        if volts is not None and scale.low <= volts <= scale.high:
            shapes.append(Stroke(((beside - 6.0, end), (beside + 6.0, end)), "second", 2.0))
        elif volts is not None:
            turn = 6.0 if volts > scale.high else -6.0
            arrow = ((beside - 5.0, end + turn), (beside, end), (beside + 5.0, end + turn))
            shapes.append(Stroke(arrow, "second", 2.0))
    span = _span(stop)
    if span is not None:
        shapes.append(Label(x, foot + 84.0, span, "second", SMALL, anchor="middle"))
    return shapes
