"""The chain from source to loads as boxes: volts, amperes and watts of each, and what is found about it."""

from __future__ import annotations

from pdcheck.named import NamedTuple
from pdcheck.show.figures import shown_triple
from pdcheck.show.matrix import watts
from pdcheck.verdict.case import Case
from pdcheck.verdict.drawn import Drawn, DrawnPart


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


def chain_of(drawn: Drawn, most_w: float) -> Chain:
    """The chain of a drawn rig; ``most_w`` is the most that its loads can have [W]."""
    return Chain(
        tuple(_box(drawn, part, most_w) for part in drawn.trunk),
        tuple((each.branch, tuple(_box(drawn, part, most_w) for part in each.parts)) for each in drawn.branches),
    )


def _box(drawn: Drawn, part: DrawnPart, most_w: float) -> Box:
    case = drawn.judgement.case
    found = f"{part.level}: {part.text}" if part.level else ""
    if part.limits:
        found = f"sets the limit: {watts(most_w)} for all loads together"
    level = "limit" if part.limits else part.level or ""
    return Box(part.kind, _name(case, part), tuple(_figures(case, part)), level, found)


def _name(case: Case, part: DrawnPart) -> str:
    """What is printed on a part, where the rig or the kit says it."""
    match part.kind:
        case "source":
            return case.source.title or case.source.id
        case "cable":
            return case.cable.title or case.cable.id
        case "trigger":
            return case.rig.trigger.title or ""
        case "converter":
            name = part.part.rpartition("/")[0]
            converter = next(each.converter for each in case.rig.branches if each.name == name)
            assert converter is not None
            return converter.title or f"{converter.kind} to {converter.output_v:g} V"
    return part.title


def _figures(case: Case, part: DrawnPart) -> list[Figure]:
    """What of a part is told: volts and amperes where it has ends, else what it loses."""
    match part.kind:
        case "source":
            contract, power = case.contract, None if case.point is None else case.point.source_w
            off = contract.outcome == "off"
            given = Figure("contract", "off" if off else f"{contract.voltage_v:g} V, {contract.current_a:g} A")
            powers = [] if power is None else [Figure("power", shown_triple(power, "W"))]
            return [given, *_node(case, "source"), *powers]
        case "bus":
            return _node(case, "bus")
        case "converter":
            name = part.part.rpartition("/")[0]
            return [*_node(case, f"{name}/in", "in "), *_node(case, f"{name}/out", "out "), *_loss(part)]
        case "load":
            takes = [] if part.takes_w is None else [Figure("takes", shown_triple(part.takes_w, "W"))]
            return [*_node(case, part.node), *takes]
    return _loss(part)


def _node(case: Case, node: str, before: str = "") -> list[Figure]:
    volts, amps = case.node_voltage(node), case.node_current(node)
    if volts is None or amps is None:
        return []
    return [
        Figure(f"{before}voltage", shown_triple(volts, "V"), f"nodes/{node}/voltage_v"),
        Figure(f"{before}current", shown_triple(amps, "A"), f"nodes/{node}/current_a"),
    ]


def _loss(part: DrawnPart) -> list[Figure]:
    lost = part.lost_w
    return [] if lost is None else [Figure("lost", shown_triple(lost, "W"), f"losses/{part.part}/loss_w")]
