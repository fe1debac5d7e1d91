"""Every part in one line: charger, cable, trigger, the bus as a bar, and a row for each branch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pdcheck.quantities import format_quantity
from pdcheck.show.draw import NAMES, remarks, shown
from pdcheck.show.pictures.shapes import (
    LINE,
    SMALL,
    Frame,
    Label,
    Picture,
    Shape,
    Stroke,
    heading,
    lines_of,
    lowest,
    stacked,
)
from pdcheck.verdict.drawn import Drawn, DrawnBranch, DrawnPart

_BUS = 8.0
_TOP = 64.0
_GAP = 26.0
_MARGIN = 14.0

# The wide picture, from left to right [px].
_CHARGER, _CABLE, _TRIGGER, _BAR = 128.0, 144.0, 112.0, 424.0
_WIRE, _CONVERTER, _LEAD, _LOAD = 140.0, 120.0, 140.0, 128.0
WIDE = _BAR + _WIRE + _CONVERTER + _LEAD + _LOAD + _MARGIN
NARROW = 340.0


def parts_picture(drawn: Drawn, *, narrow: bool = False) -> Picture:
    """The picture, wide or for a telephone.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> from pdcheck.verdict.drawn import drawn
    >>> from pdcheck.verdict.judge import judge
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "wire": "20AWG 0.5m", "load": "5W"}])
    >>> found = drawn(judge(rig, Source(id="s", offers="5V 3A, 9V 2A"), Cable(id="c", kind="C-C", loop="0.1ohm")))
    >>> parts_picture(found, narrow=True).width
    340.0
    """
    width = NARROW if narrow else WIDE
    listed = _heading(drawn, width)
    top = max(_TOP, lowest(listed) + 20.0)
    listed += _Narrow().all(drawn, top) if narrow else _wide(drawn, top)
    return Picture(width, lowest(listed) + _MARGIN, drawn.title, in_words(drawn), tuple(listed))


def in_words(drawn: Drawn) -> str:
    """What a picture of the parts shows, for somebody who does not see it."""
    told = [_told(part) for part in drawn.trunk]
    for branch in drawn.branches:
        told.append(f"Branch {branch.branch}{' (off)' if branch.off else ''}: {', '.join(map(_told, branch.parts))}")
    return ". ".join(told)


def _told(part: DrawnPart) -> str:
    return " ".join(each for each in (_name(part), *_flows(part), *_lost(part), *remarks(part)) if each)


def _name(part: DrawnPart) -> str:
    return f"{NAMES.get(part.kind, part.kind)} {part.title}".strip()


def _heading(drawn: Drawn, width: float) -> list[Shape]:
    contract = drawn.contract
    granted = "no power" if contract.outcome == "off" else f"{contract.voltage_v:g} V, up to {contract.current_a:g} A"
    return heading(drawn.title, f"{drawn.verdict.upper()}. Contract: {granted}", width, _MARGIN)


def _volts(part: DrawnPart) -> list[str]:
    return [] if part.voltage_v is None else [format_quantity(part.voltage_v.typ, "V", 3)]


def _amperes(part: DrawnPart) -> list[str]:
    return [] if part.current_a is None else [format_quantity(part.current_a.typ, "A", 3)]


def _flows(part: DrawnPart) -> list[str]:
    return [*_volts(part), *_amperes(part)]


def _lost(part: DrawnPart) -> list[str]:
    takes, lost = part.takes_w, part.lost_w
    found = [] if takes is None else [f"takes {format_quantity(takes.typ, 'W', 3)}"]
    return found + ([f"loses {format_quantity(lost.typ, 'W', 2)}"] if lost is not None and lost.max > 0 else [])


def _box(part: DrawnPart, x: float, y: float, width: float, lines: Sequence[str]) -> list[Shape]:
    """A box with its name and lines; framed where it is found wanting or sets the limit."""
    marked = part.level is not None or part.limits
    names = lines_of(part.title or part.kind, width - 16.0, bold=True)
    fitting = [each for line in lines for each in lines_of(line, width - 16.0)]
    height = 24.0 + LINE * (len(names) + len(fitting))
    frame = Frame(x, y, width, height, "second" if marked else "ink", 3.0 if part.level else 1.5, part.limits)
    texts: list[Shape] = [frame, Label(x + 10.0, y + 17.0, NAMES.get(part.kind, part.kind), "soft", SMALL)]
    texts += stacked(x + 10.0, y + 17.0 + LINE, names, bold=True)
    texts += stacked(x + 10.0, y + 17.0 + LINE * (1 + len(names)), fitting)
    return texts


def _remarks(parts: Iterable[DrawnPart], x: float, y: float, width: float) -> Iterator[Shape]:
    """What is found about some parts, under each other."""
    lines = [line for part in parts for each in remarks(part) for line in lines_of(each, width, bold=True)]
    return stacked(x, y, lines, "second", bold=True)


def _segment(part: DrawnPart | None, x: float, y: float, width: float, before: Sequence[str]) -> list[Shape]:
    """A wire between two boxes: volts and amperes on it, what it is and loses below it."""
    marked = part is not None and bool(remarks(part))
    line = Stroke(((x, y), (x + width, y)), "second" if marked else "ink", 4.0 if marked else 2.5, marked)
    shapes: list[Shape] = [line]
    if before:
        shapes.append(Label(x + 6.0, y - 8.0, before[0], bold=True))
    if len(before) > 1:
        shapes.append(Label(x + width - 8.0, y - 8.0, before[1], anchor="end"))
    if part is not None:
        lines = [line for each in (_name(part), *_lost(part)) for line in lines_of(each, width - 12.0)]
        shapes += stacked(x + 6.0, y + 18.0, lines, "soft")
    return shapes


def _wide(drawn: Drawn, top: float) -> list[Shape]:
    source, cable, trigger, bus = drawn.trunk
    rows: list[Shape] = []
    y = top + 34.0
    wires: list[float] = []
    for branch in drawn.branches:
        row = _wide_row(branch, bus, y)
        rows += row
        wires.append(y)
        y = lowest(row) + _GAP + 20.0
    middle = max(top + 60.0, 0.5 * (wires[0] + wires[-1]) if len(wires) < 4 else wires[0] + 60.0)
    box = middle - 34.0
    trunk = _box(source, _MARGIN, box, _CHARGER, _granted(drawn))
    trunk += _segment(cable, _MARGIN + _CHARGER, middle, _CABLE, _flows(source))
    start = _MARGIN + _CHARGER + _CABLE
    trunk += _box(trigger, start, box, _TRIGGER, _lost(trigger))
    trunk += _remarks(drawn.trunk, _MARGIN, lowest(trunk) + LINE + 4.0, _BAR - _MARGIN - 30.0)
    trunk.append(Stroke(((start + _TRIGGER, middle), (_BAR, middle)), width=2.5))
    lower = max(wires[-1], middle) + 16.0
    upper = min(wires[0], middle) - 16.0
    level = "bus" if bus.voltage_v is None else f"bus {shown(bus.voltage_v, 'V')}"
    trunk += [
        Stroke(((_BAR, upper), (_BAR, lower)), width=_BUS),
        Label(_BAR, upper - 12.0, level, bold=True, anchor="middle"),
    ]
    return trunk + rows


def _granted(drawn: Drawn) -> list[str]:
    contract = drawn.contract
    return ["gives nothing"] if contract.outcome == "off" else [f"{contract.voltage_v:g} V, {contract.current_a:g} A"]


def _wide_row(branch: DrawnBranch, bus: DrawnPart, y: float) -> list[Shape]:
    by_kind = {part.kind: part for part in branch.parts}
    wire, converter, lead, load = (by_kind.get(kind) for kind in ("wire", "converter", "lead", "load"))
    assert load is not None
    at_load = _BAR + _WIRE + _CONVERTER + _LEAD
    entering = [*_volts(wire or bus), *_amperes(wire or load)]
    shapes: list[Shape] = []
    if converter is None:
        # Without a converter wire and lead are one.
        shapes += _segment(wire, _BAR, y, at_load - _BAR if lead is None else _WIRE, entering)
        if lead is not None:
            shapes += _segment(lead, _BAR + _WIRE, y, at_load - _BAR - _WIRE, [])
    else:
        shapes += _segment(wire, _BAR, y, _WIRE, entering)
        shapes += _box(converter, _BAR + _WIRE, y - 30.0, _CONVERTER, _lost(converter))
        shapes += _segment(lead, _BAR + _WIRE + _CONVERTER, y, _LEAD, _flows(converter))
    shapes += _box(load, at_load, y - 30.0, _LOAD, _at_load(branch, load))
    return [*shapes, *_remarks(branch.parts, _BAR + 10.0, lowest(shapes) + LINE + 2.0, WIDE - _BAR - 30.0)]


def _at_load(branch: DrawnBranch, load: DrawnPart) -> list[str]:
    if branch.off:
        return ["off"]
    return [*_lost(load), *(f"at {each}" for each in _volts(load))]


class _Narrow:
    """The picture from top to bottom; the bus is a bar down the left side."""

    def __init__(self) -> None:
        self.shapes: list[Shape] = []
        self.y = 0.0

    def all(self, drawn: Drawn, top: float) -> list[Shape]:
        source, cable, trigger, bus = drawn.trunk
        self.y = top
        rail, full = _MARGIN + 28.0, NARROW - 2 * _MARGIN
        self._boxed(source, _MARGIN, full, _granted(drawn))
        self._down(rail, [" · ".join(_flows(source))], cable)
        self._boxed(trigger, _MARGIN, full, _lost(trigger))
        start = self.y
        level = "bus" if bus.voltage_v is None else f"bus {shown(bus.voltage_v, 'V')}"
        self._add([Label(rail + 16.0, self.y + 20.0, level, bold=True)])
        self._add(_remarks([bus], rail + 16.0, self.y + LINE, full - 50.0))
        self.y += 10.0
        joins: list[float] = []
        for branch in drawn.branches:
            joins.append(self._branch(branch, bus, rail + 30.0, NARROW - _MARGIN - rail - 30.0))
            self.y += 16.0
        self.shapes[:0] = [
            Stroke(((rail, start), (rail, max(joins) + 10.0)), width=_BUS),
            *(Stroke(((rail, y), (rail + 44.0, y)), width=2.5) for y in joins),
        ]
        return self.shapes

    def _add(self, shapes: Iterable[Shape]) -> None:
        listed = list(shapes)
        self.shapes += listed
        self.y = lowest(listed) if listed else self.y

    def _boxed(self, part: DrawnPart, x: float, width: float, lines: Sequence[str]) -> None:
        self._add(_box(part, x, self.y, width, lines))
        self._add(_remarks([part], x, self.y + LINE, width))

    def _down(self, x: float, flows: Sequence[str], part: DrawnPart | None) -> None:
        """A wire downwards, with what flows in it and what it is beside it."""
        start = self.y
        lines = [each for each in flows if each]
        listed: list[Shape] = [Label(x + 16.0, start + 20.0, line, bold=True) for line in lines]
        y = start + 20.0 + LINE * len(lines)
        if part is not None:
            words = ", ".join([_name(part), *_lost(part)])
            soft = lines_of(words, NARROW - x - 40.0)
            listed += stacked(x + 16.0, y, soft, "soft")
            y += LINE * len(soft)
            found = list(_remarks([part], x + 16.0, y, NARROW - x - 40.0))
            listed += found
            y += LINE * len(found)
        marked = part is not None and bool(remarks(part))
        line = Stroke(((x, start), (x, y)), "second" if marked else "ink", 4.0 if marked else 2.5, marked)
        self.shapes += [line, *listed]
        self.y = y

    def _branch(self, branch: DrawnBranch, bus: DrawnPart, x: float, width: float) -> float:
        """The parts of a branch under each other; where it joins the bus [px]."""
        first, flows = None, [*_volts(bus), *_amperes(branch.parts[0])]
        for part in branch.parts:
            if part.kind in ("wire", "lead"):
                if first is None:
                    first = self.y + 8.0
                    self.y += 8.0
                self._down(x + 14.0, [" · ".join(flows)], part)
                flows = []
            else:
                if first is None:
                    first = self.y + 22.0
                lines = _at_load(branch, part) if part.kind == "load" else _lost(part)
                self._boxed(part, x, width, lines)
                flows = _flows(part)
                if part.kind == "converter" and branch.parts[-2] is part:
                    self._down(x + 14.0, [" · ".join(flows)], None)
        return first or self.y
