"""The chain from source to loads as boxes: volts, amperes and watts of each, and what is found about it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pdcheck.parts.rig import Branch
from pdcheck.parts.wire import Wire
from pdcheck.show.check import shown_triple
from pdcheck.show.matrix import watts
from pdcheck.verdict.case import Case
from pdcheck.verdict.greatest import Greatest
from pdcheck.verdict.judge import Judgement


class Figure(NamedTuple):
    """A figure of a box: its name, its text, and where it stands in the JSON, as ``nodes/bus/voltage_v``."""

    name: str
    text: str
    key: str = ""


class Box(NamedTuple):
    """One part of the chain: its kind and name, its figures, and what is found about it.

    ``level`` is that of the gravest finding; ``limit`` where nothing is found against the part and it is the first to
    reach its limit when the loads grow; else empty.
    """

    kind: str
    name: str
    figures: tuple[Figure, ...]
    level: str
    found: str


class Chain(NamedTuple):
    """The trunk up to the bus, then one row of boxes for each branch."""

    trunk: tuple[Box, ...]
    branches: tuple[tuple[str, tuple[Box, ...]], ...]


class _Drawn(NamedTuple):
    """What the boxes are drawn from: the judgement, and what sets the limit when the loads grow."""

    judgement: Judgement
    greatest: Greatest

    @property
    def case(self) -> Case:
        return self.judgement.case

    def box(self, kind: str, name: str, figures: list[Figure], *subjects: str) -> Box:
        gravest = next(
            (each for each in self.judgement.findings if each.subject in subjects and each.level != "note"), None
        )
        if gravest is not None:
            return Box(kind, name, tuple(figures), gravest.level, f"{gravest.level}: {gravest.text}")
        first = self.greatest.first
        if first is not None and first.subject in subjects and self.greatest.scale >= 1:
            most = watts(self.greatest.load_w)
            return Box(kind, name, tuple(figures), "limit", f"sets the limit: {most} for all loads together")
        return Box(kind, name, tuple(figures), "", "")


def chain_of(judgement: Judgement, greatest: Greatest) -> Chain:
    """The chain of a judged rig, and where its limit is: ``greatest`` is the most that its loads can have."""
    drawn = _Drawn(judgement, greatest)
    case = judgement.case
    source = [Figure("contract", _contract(case)), *_node(case, "source"), *_power(case)]
    trunk = (
        drawn.box("source", case.source.title or case.source.id, source, "source"),
        drawn.box("cable", case.cable.title or case.cable.id, _loss(case, "cable"), "cable", "connector"),
        drawn.box("trigger", case.rig.trigger.title or "", _loss(case, "trigger"), "trigger"),
        drawn.box("bus", "", _node(case, "bus"), "bus"),
    )
    branches = tuple((branch.name, tuple(_branch(drawn, branch))) for branch in case.rig.branches)
    return Chain(trunk, branches)


def _contract(case: Case) -> str:
    contract = case.contract
    return "off" if contract.outcome == "off" else f"{contract.voltage_v:g} V, {contract.current_a:g} A"


def _node(case: Case, node: str, before: str = "") -> list[Figure]:
    volts, amps = case.node_voltage(node), case.node_current(node)
    if volts is None or amps is None:
        return []
    return [
        Figure(f"{before}voltage", shown_triple(volts, "V"), f"nodes/{node}/voltage_v"),
        Figure(f"{before}current", shown_triple(amps, "A"), f"nodes/{node}/current_a"),
    ]


def _power(case: Case) -> list[Figure]:
    found = None if case.point is None else case.point.source_w
    return [] if found is None else [Figure("power", shown_triple(found, "W"))]


def _loss(case: Case, part: str) -> list[Figure]:
    losses = case.point.losses if case.point is not None else {}
    return [Figure("lost", shown_triple(losses[part], "W"), f"losses/{part}/loss_w")] if part in losses else []


def _branch(drawn: _Drawn, branch: Branch) -> Iterator[Box]:
    case, name = drawn.case, branch.name
    if branch.wire is not None:
        yield drawn.box("wire", _size(branch.wire), _loss(case, f"{name}/wire"), f"{name} wire")
    if branch.converter is not None:
        converter = branch.converter
        figures = [*_node(case, f"{name}/in", "in "), *_node(case, f"{name}/out", "out ")]
        figures += _loss(case, f"{name}/converter")
        title = converter.title or f"{converter.kind} to {converter.output_v:g} V"
        yield drawn.box("converter", title, figures, name)
    if branch.lead is not None:
        yield drawn.box("lead", _size(branch.lead), _loss(case, f"{name}/lead"), f"{name} lead")
    figures = _node(case, f"{name}/load")
    loads = case.point.loads if case.point is not None else {}
    if name in loads:
        figures.append(Figure("takes", shown_triple(loads[name], "W")))
    subjects = () if branch.converter is not None else (name,)
    yield drawn.box("load", branch.load.title or name, figures, *subjects)


def _size(wire: Wire) -> str:
    gauge = f"AWG {wire.awg}" if wire.awg is not None else f"{wire.mm2:g} mm²"
    return f"{gauge}, {wire.length_m:g} m"
