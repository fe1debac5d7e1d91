"""Every part in one line: charger, cable, trigger, the bus as a bar, and a row for each branch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from pdcheck.contract.settle import Contract
from pdcheck.quantities import Triple, format_quantity
from pdcheck.show.draw import NAMES, remarks
from pdcheck.show.figures import shown
from pdcheck.show.pictures.shapes import (
    LINE,
    SMALL,
    Frame,
    Label,
    Picture,
    Point,
    Role,
    Shape,
    Stroke,
    Words,
    heading,
    label,
    lines_of,
    lowest,
    most_letters,
    shortened,
    stacked,
    width_of,
)
from pdcheck.verdict.drawn import Drawn, DrawnBranch, DrawnPart

CHOSEN = ("source", "cable", "trigger")
"""Parts of which another one can be tried."""
_BUS = 8.0
_TOP = 64.0
_GAP = 26.0
_MARGIN = 14.0
_STEP = 16.0

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
    contract = drawn.contract
    given = "no power" if contract.outcome == "off" else f"{contract.voltage_v:g} V, up to {contract.current_a:g} A"
    listed = heading(drawn.title, f"{drawn.verdict.upper()}. Contract: {given}", width, _MARGIN)
    top = max(_TOP, lowest(listed) + 20.0)
    listed += _Narrow().all(drawn, top) if narrow else _wide(drawn, top)
    still = tuple(_still(shape) for shape in listed)
    return Picture(width, lowest(listed) + _MARGIN, drawn.title, in_words(drawn), still)


def live_picture(drawn: Drawn, *, narrow: bool = False) -> Picture:
    """The parts without what is found about them, with a name at each figure that another position changes."""
    width = NARROW if narrow else WIDE
    bare = _bare(drawn)
    listed = _Narrow().all(bare, _MARGIN) if narrow else _wide(bare, _MARGIN)
    return Picture(width, lowest(listed) + _MARGIN, "The build as it is tried", "", tuple(listed))


def loses(drawn: Drawn, part: DrawnPart) -> bool:
    """Whether a part can turn anything into heat: of loads only those with a resistor or a driver of their own."""
    if part.kind != "load":
        return part.kind not in ("source", "bus")
    branch = next(each for each in drawn.judgement.case.rig.branches if each.name == part.part.rpartition("/")[0])
    return bool(branch.load.on(1.0).losses(1.0, 1.0))


def _still(shape: Shape) -> Shape:
    match shape:
        case Label():
            return shape._replace(slot="", before="", most=0)
        case Stroke() | Frame():
            return shape._replace(part="")
        case _:
            return shape


def _bare(drawn: Drawn) -> Drawn:
    """The same without what is found, and with a figure wherever there can be one."""
    nothing = Triple.exact(0.0)

    def bare(part: DrawnPart) -> DrawnPart:
        takes = nothing if part.kind == "load" else None
        lost = Triple.exact(1.0) if loses(drawn, part) else None
        volts = (part.voltage_v or nothing, part.current_a or nothing) if part.node else (None, None)
        part = part._replace(voltage_v=volts[0], current_a=volts[1], lost_w=lost, takes_w=takes)
        return part._replace(level=None, limits=False, text="", subjects=())

    trunk = tuple(map(bare, drawn.trunk))
    branches = tuple(each._replace(off=False, parts=tuple(map(bare, each.parts))) for each in drawn.branches)
    return replace(drawn, trunk=trunk, branches=branches)


def in_words(drawn: Drawn) -> str:
    """What a picture of the parts shows, for somebody who does not see it."""
    told = [_told(part) for part in drawn.trunk]
    for branch in drawn.branches:
        told.append(f"Branch {branch.branch}{' (off)' if branch.off else ''}: {', '.join(map(_told, branch.parts))}")
    return ". ".join(told)


def _told(part: DrawnPart) -> str:
    figures = (each.line for each in (*_flows(part), *_lost(part)))
    return " ".join(each for each in (_name(part), *figures, *remarks(part)) if each)


def _name(part: DrawnPart) -> str:
    return f"{NAMES.get(part.kind, part.kind)} {part.title}".strip()


def _volts(part: DrawnPart) -> list[Words]:
    if part.voltage_v is None:
        return []
    return [Words(format_quantity(part.voltage_v.typ, "V", 3), f"{part.part}.v")]


def _amperes(part: DrawnPart) -> list[Words]:
    if part.current_a is None:
        return []
    return [Words(format_quantity(part.current_a.typ, "A", 3), f"{part.part}.a")]


def _flows(part: DrawnPart) -> list[Words]:
    return [*_volts(part), *_amperes(part)]


def _lost(part: DrawnPart) -> list[Words]:
    takes, lost = part.takes_w, part.lost_w
    found = [] if takes is None else [Words(format_quantity(takes.typ, "W", 3), f"{part.part}.takes", "takes ")]
    if lost is not None and lost.max > 0:
        found.append(Words(format_quantity(lost.typ, "W", 2), f"{part.part}.w", "loses "))
    return found


def _beside(words: Sequence[Words]) -> Words | str:
    """Several figures in one line."""
    if not words:
        return ""
    return Words(" · ".join(each.text for each in words), "|".join(each.slot for each in words))


def _box(part: DrawnPart, x: float, y: float, width: float, lines: Sequence[str | Words]) -> list[Shape]:
    """A box with its name and lines; framed where it is found wanting or sets the limit."""
    marked = part.level is not None or part.limits
    names = _titles(part, width - 16.0)
    # A figure with its word stays in one line.
    fitting = [piece for line in lines for piece in (lines_of(line, width - 16.0) if isinstance(line, str) else [line])]
    height = 24.0 + LINE * (len(names) + len(fitting))
    role: Role = "second" if marked else "ink"
    frame = Frame(x, y, width, height, role, 3.0 if part.level else 1.5, part.limits, part=part.part)
    texts: list[Shape] = [frame, Label(x + 10.0, y + 17.0, NAMES.get(part.kind, part.kind), "soft", SMALL)]
    texts += stacked(x + 10.0, y + 17.0 + LINE, names, bold=True)
    texts += stacked(x + 10.0, y + 17.0 + LINE * (1 + len(names)), fitting)
    return texts


def _titles(part: DrawnPart, width: float) -> list[str | Words]:
    """What a box is called; what is chosen has one line, whatever it is."""
    if part.kind in CHOSEN and not part.subjects:
        return [_chosen(part, "", width, bold=True)]
    return [*lines_of(part.title or part.kind, width, bold=True)]


def _chosen(part: DrawnPart, before: str, width: float, *, bold: bool = False) -> Words:
    most = most_letters(width, bold=bold) - len(before)
    return Words(shortened(part.title, most), f"{part.part}.title", before, most)


def _called(part: DrawnPart, width: float) -> list[str | Words]:
    """What a wire is."""
    if part.kind in CHOSEN and not part.subjects:
        return [_chosen(part, f"{part.kind} ", width)]
    return [*lines_of(_name(part), width)]


def _remarks(parts: Iterable[DrawnPart], x: float, y: float, width: float) -> Iterator[Shape]:
    """What is found about some parts, under each other."""
    lines = [line for part in parts for each in remarks(part) for line in lines_of(each, width, bold=True)]
    return stacked(x, y, lines, "second", bold=True)


def _segment(part: DrawnPart | None, x: float, y: float, width: float, before: Sequence[Words]) -> list[Shape]:
    """A wire between two boxes: volts and amperes on it, what it is and loses below it."""
    marked = part is not None and bool(remarks(part))
    shapes: list[Shape] = [_wire(((x, y), (x + width, y)), part, marked)]
    if before:
        shapes.append(label(x + 6.0, y - 8.0, before[0], bold=True))
    if len(before) > 1:
        shapes.append(label(x + width - 8.0, y - 8.0, before[1], anchor="end"))
    if part is not None:
        shapes += stacked(x + 6.0, y + 18.0, [*_called(part, width - 12.0), *_lost(part)], "soft")
    return shapes


def _wire(points: tuple[Point, Point], part: DrawnPart | None, marked: bool) -> Stroke:
    role: Role = "second" if marked else "ink"
    return Stroke(points, role, 4.0 if marked else 2.5, marked, part="" if part is None else part.part)


def _wide(drawn: Drawn, top: float) -> list[Shape]:
    source, cable, *boards, bus = drawn.trunk
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
    start, last = _MARGIN + _CHARGER + _CABLE, box
    board: list[Shape] = []
    for part in boards:
        # Each further one stands below that before it.
        if board:
            above, last = lowest(board), lowest(board) + _STEP
            trunk.append(Stroke(((start + _MARGIN, above), (start + _MARGIN, last)), width=2.5))
        board = _box(part, start, last, _TRIGGER, _lost(part))
        trunk += board
    end = middle + (last - box)
    trunk += _remarks(drawn.trunk, _MARGIN, lowest(trunk) + LINE + 4.0, _BAR - _MARGIN - 30.0)
    trunk.append(Stroke(((start + _TRIGGER, end), (_BAR, end)), width=2.5))
    lower = max(wires[-1], end) + 16.0
    upper = min(wires[0], end) - 16.0
    trunk += [
        Stroke(((_BAR, upper), (_BAR, lower)), width=_BUS, part="bus"),
        label(_BAR, upper - 12.0, _level(bus), bold=True, anchor="middle"),
    ]
    return trunk + rows


def _level(bus: DrawnPart) -> Words:
    return Words("" if bus.voltage_v is None else shown(bus.voltage_v, "V"), "bus.range", "bus ")


def granted(contract: Contract) -> str:
    """What a charger gives, in a few words."""
    off = contract.outcome == "off"
    return "gives nothing" if off else f"{contract.voltage_v:g} V, {contract.current_a:g} A"


def _granted(drawn: Drawn) -> list[Words]:
    return [Words(granted(drawn.contract), "granted")]


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


def _at_load(branch: DrawnBranch, load: DrawnPart) -> list[str | Words]:
    if branch.off:
        return ["off"]
    return [*_lost(load), *(each._replace(before="at ") for each in _volts(load))]


class _Narrow:
    """The picture from top to bottom; the bus is a bar down the left side."""

    def __init__(self) -> None:
        self.shapes: list[Shape] = []
        self.y = 0.0

    def all(self, drawn: Drawn, top: float) -> list[Shape]:
        source, cable, *boards, bus = drawn.trunk
        self.y = top
        rail, full = _MARGIN + 28.0, NARROW - 2 * _MARGIN
        self._boxed(source, _MARGIN, full, _granted(drawn))
        self._down(rail, _flows(source), cable)
        for part in boards:
            if part is not boards[0]:
                self._down(rail, [], None)
            self._boxed(part, _MARGIN, full, _lost(part))
        start = self.y
        self._add([label(rail + 16.0, self.y + 20.0, _level(bus), bold=True)])
        self._add(_remarks([bus], rail + 16.0, self.y + LINE, full - 50.0))
        self.y += 10.0
        joins: list[float] = []
        for branch in drawn.branches:
            joins.append(self._branch(branch, bus, rail + 30.0, NARROW - _MARGIN - rail - 30.0))
            self.y += 16.0
        self.shapes[:0] = [
            Stroke(((rail, start), (rail, max(joins) + 10.0)), width=_BUS, part="bus"),
            *(Stroke(((rail, y), (rail + 44.0, y)), width=2.5) for y in joins),
        ]
        return self.shapes

    def _add(self, shapes: Iterable[Shape]) -> None:
        listed = list(shapes)
        self.shapes += listed
        self.y = lowest(listed) if listed else self.y

    def _boxed(self, part: DrawnPart, x: float, width: float, lines: Sequence[str | Words]) -> None:
        self._add(_box(part, x, self.y, width, lines))
        self._add(_remarks([part], x, self.y + LINE, width))

    def _down(self, x: float, flows: Sequence[Words], part: DrawnPart | None) -> None:
        """A wire downwards, with what flows in it and what it is beside it."""
        start = self.y
        listed: list[Shape] = [label(x + 16.0, start + 20.0, _beside(flows), bold=True)] if flows else []
        y = start + 20.0 + LINE * len(listed)
        if part is not None:
            soft = self._named(part, NARROW - x - 40.0)
            listed += stacked(x + 16.0, y, soft, "soft")
            y += LINE * len(soft)
            found = list(_remarks([part], x + 16.0, y, NARROW - x - 40.0))
            listed += found
            y += LINE * len(found)
        marked = part is not None and bool(remarks(part))
        self.shapes += [_wire(((x, start), (x, y)), part, marked), *listed]
        self.y = y

    @staticmethod
    def _named(part: DrawnPart, width: float) -> list[str | Words]:
        """What a wire is, and what it loses: in one line where both fit."""
        name, lost = _called(part, width), _lost(part)
        last = name[-1]
        if not lost or not isinstance(last, str) or width_of(f"{last}, {lost[0].line}", SMALL) > width:
            return [*name, *lost]
        return [*name[:-1], lost[0]._replace(before=f"{last}, {lost[0].before}")]

    def _branch(self, branch: DrawnBranch, bus: DrawnPart, x: float, width: float) -> float:
        """The parts of a branch under each other; where it joins the bus [px]."""
        first, flows = None, [*_volts(bus), *_amperes(branch.parts[0])]
        for part in branch.parts:
            if part.kind in ("wire", "lead"):
                if first is None:
                    first = self.y + 8.0
                    self.y += 8.0
                self._down(x + 14.0, flows, part)
                flows = []
            else:
                if first is None:
                    first = self.y + 22.0
                lines: Sequence[str | Words] = _at_load(branch, part) if part.kind == "load" else _lost(part)
                self._boxed(part, x, width, lines)
                flows = _flows(part)
                if part.kind == "converter" and branch.parts[-2] is part:
                    self._down(x + 14.0, flows, None)
        return first or self.y
