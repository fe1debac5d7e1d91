"""The chain from source to loads as boxes: volts, amperes and watts of each, and what is found about it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pdcheck.parts.rig import Branch
from pdcheck.show.judged import shown_triple
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Finding
from pdcheck.verdict.judge import Judgement


class Box(NamedTuple):
    """One part of the chain: its kind and name, figures as label and text, and the gravest finding about it."""

    kind: str
    name: str
    figures: tuple[tuple[str, str], ...]
    level: str
    finding: str


class Chain(NamedTuple):
    """The trunk up to the bus, then one row of boxes for each branch."""

    trunk: tuple[Box, ...]
    branches: tuple[tuple[str, tuple[Box, ...]], ...]


def chain_of(judgement: Judgement) -> Chain:
    """The chain of a judged rig."""
    case = judgement.case
    trunk = (
        _box(
            "source",
            case.source.title or case.source.id,
            [("contract", _contract(case)), *_node(case, "source")],
            judgement,
            "source",
        ),
        _box("cable", case.cable.title or case.cable.id, _loss(case, "cable"), judgement, "cable", "connector"),
        _box("trigger", case.rig.trigger.title or "trigger", _loss(case, "trigger"), judgement, "trigger"),
        _box("bus", "bus", _node(case, "bus"), judgement, "bus"),
    )
    branches = tuple((branch.name, tuple(_branch(case, branch, judgement))) for branch in case.rig.branches)
    return Chain(trunk, branches)


def _contract(case: Case) -> str:
    contract = case.contract
    return "off" if contract.outcome == "off" else f"{contract.voltage_v:g} V, {contract.current_a:g} A"


def _node(case: Case, node: str) -> list[tuple[str, str]]:
    volts, amps = case.node_voltage(node), case.node_current(node)
    if volts is None or amps is None:
        return []
    return [("voltage", shown_triple(volts, "V")), ("current", shown_triple(amps, "A"))]


def _loss(case: Case, part: str) -> list[tuple[str, str]]:
    losses = case.point.losses if case.point is not None else {}
    return [("lost", shown_triple(losses[part], "W"))] if part in losses else []


def _branch(case: Case, branch: Branch, judgement: Judgement) -> Iterator[Box]:
    name = branch.name
    if branch.wire is not None:
        yield _box("wire", _size(branch.wire), _loss(case, f"{name}/wire"), judgement, f"{name} wire")
    if branch.converter is not None:
        converter = branch.converter
        figures = [(f"in {label}", text) for label, text in _node(case, f"{name}/in")]
        figures += [(f"out {label}", text) for label, text in _node(case, f"{name}/out")]
        figures += _loss(case, f"{name}/converter")
        yield _box(
            "converter", converter.title or f"{converter.kind} to {converter.output_v:g} V", figures, judgement, name
        )
    if branch.lead is not None:
        yield _box("lead", _size(branch.lead), _loss(case, f"{name}/lead"), judgement, f"{name} lead")
    figures = _node(case, f"{name}/load")
    loads = case.point.loads if case.point is not None else {}
    if name in loads:
        figures.append(("takes", shown_triple(loads[name], "W")))
    subject = "" if branch.converter is not None else name
    yield _box("load", branch.load.title or name, figures, judgement, subject)


def _size(wire: object) -> str:
    awg, mm2, length = (getattr(wire, key) for key in ("awg", "mm2", "length_m"))
    return f"AWG {awg}, {length:g} m" if awg is not None else f"{mm2:g} mm², {length:g} m"


def _box(kind: str, name: str, figures: list[tuple[str, str]], judgement: Judgement, *subjects: str) -> Box:
    gravest: Finding | None = next(
        (each for each in judgement.findings if each.subject in subjects and each.level != "note"), None
    )
    if gravest is None:
        return Box(kind, name, tuple(figures), "", "")
    return Box(kind, name, tuple(figures), gravest.level, gravest.text)
