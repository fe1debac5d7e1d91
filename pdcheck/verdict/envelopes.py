"""Envelopes: what each output of a rig can deliver on every contract that can occur, and what sets the limit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar, Final, Literal

from pdcheck.circuit.envelope import envelope
from pdcheck.circuit.point import Bound, Met
from pdcheck.contract.lowering import contracts_down
from pdcheck.contract.settle import Contract
from pdcheck.errors import InputError
from pdcheck.marks import BY_ID, UNTOLD, WORDS, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import LimitRule, known
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple, format_quantity, under
from pdcheck.result import Result
from pdcheck.verdict.bounds import output_bounds
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, Finding
from pdcheck.verdict.greatest import Greatest, greatest_load
from pdcheck.verdict.starting_output import share_that_starts

# A range of output voltages is tried at its ends and at whole multiples of the first step that needs no more points.
STEPS_V = (0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
MOST_POINTS = 12
STARTING: Final = "start"
"""What limits an output that would give more than can be started into."""


When = Literal["as it is set", "before any contract, and without PD", "when the source offers less"]
"""When a contract comes about."""


class OutputPoint(NamedTuple):
    """The greatest output at one output voltage [V], over the corners, and the part that limits it.

    ``limited_by`` is the part at the worst corner, ``limited_by_typ`` as stated; ``collapse`` and ``nothing`` are none.
    """

    output_v: float
    current_a: Triple
    power_w: Triple
    load_w: Triple
    limited_by: str
    limited_by_typ: str


class Gets(NamedTuple):
    """What a load straight on the bus gets at its terminals, over the corners, and what comes of it in words."""

    voltage_v: Triple
    current_a: Triple
    power_w: Triple
    text: str


class BranchEnvelope(NamedTuple):
    """One branch: its points, one per output voltage; ``gets`` of one without a converter: the load that is there."""

    branch: str
    points: tuple[OutputPoint, ...]
    gets: Gets | None = None

    @property
    def best(self) -> OutputPoint:
        """The point of the greatest power at the worst corner."""
        return max(self.points, key=lambda point: point.power_w.min)

    @told
    def greatest_w(self) -> float | None:
        """The greatest power at the worst corner [W]; None where there is no point."""
        return self.best.power_w.min if self.points else None

    @told
    def limited_by(self) -> str | None:
        """The part that sets that limit."""
        return self.best.limited_by if self.points else None


class ContractEnvelope(NamedTuple):
    """One contract: when it occurs, what all loads together can have, and what each branch can."""

    when: Annotated[When, WORDS]
    contract: Contract
    together: Annotated[Greatest, UNTOLD]
    branches: tuple[BranchEnvelope, ...]
    meant: Annotated[Mapping[str, float], UNTOLD] = {}

    def meant_w(self, branch: str) -> float | None:
        """The power [W] that a load is there for, where that is known."""
        return self.meant.get(branch)

    @told
    def loads_w(self) -> float:
        """What all loads together can have [W]."""
        return self.together.load_w

    @told
    def loads_scale(self) -> float:
        """The same as a multiple of the stated loads."""
        return self.together.scale

    @told
    def loads_limited_by(self) -> Finding | None:
        """What fails beyond it."""
        return self.together.first


class Envelopes(NamedTuple):
    """A rig on a source and cable: one envelope for each contract that can occur, the present one first."""

    rig: Annotated[Rig, UNTOLD]
    source: Annotated[Source, BY_ID]
    cable: Annotated[Cable, BY_ID]
    contracts: tuple[ContractEnvelope, ...]


@dataclass(frozen=True, repr=False)
class Enveloped(Result):
    """A rig on some pairs of source and cable: what each output can deliver on every contract that can occur."""

    SCHEMA: ClassVar[str] = "envelope/3"
    TITLE: ClassVar[str] = "What each output can deliver"
    ROWS: ClassVar[tuple[str, ...]] = ("results", "contracts", "branches", "points")
    ALONE: ClassVar[str | None] = "results"

    rig: str
    results: tuple[Envelopes, ...]

    def answer(self) -> str:
        """What each output can have at the worst corner, as the trigger is set; of many pairs how many there are."""
        if len(self.results) > 1:
            return f"{len(self.results)} pairs of source and cable"
        branches = self.results[0].contracts[0].branches
        listed = [f"{each.branch} {format_quantity(each.greatest_w or 0.0, 'W', 3)}" for each in branches]
        return ", ".join(listed) or "nothing"


def envelopes(
    rig: Rig, source: Source, cable: Cable, *, branch: str | None = None, voltages: Sequence[float] | None = None
) -> Envelopes:
    """What each output can deliver while the other branches run, on each contract that can occur.

    Args:
        rig: with its trigger as set.
        source: what offers.
        cable: between them.
        branch: only this one.
        voltages: output voltages [V] to try; without them the converter's range, or its one output.

    Raises:
        InputError: no such branch, or none of the voltages within what its converter gives.

    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "lamp", "load": "5W"}])
    >>> found = envelopes(rig, Source(id="s", offers="5V 3A, 9V 2A", tolerance=0), Cable(id="c", kind="C-C", loop=0.25))
    >>> [(each.contract.voltage_v, round(each.branches[0].best.power_w.min, 2)) for each in found.contracts]
    [(9.0, 17.0), (5.0, 12.75), (5.0, 2.31)]
    """
    chosen = [each for each in rig.branches if branch in (None, each.name)]
    if not chosen:
        known = ", ".join(each.name for each in rig.branches)
        raise InputError(f"no branch named {branch!r}", expected=f"one of {known}")
    places = {each.name: output_voltages(each, voltages) for each in chosen}
    present = Case(rig, source, cable)
    found: list[ContractEnvelope] = []
    for contract in contracts_down(rig.trigger, present.seen):
        if all(_differs(contract, known.contract) for known in found):
            case = Case(rig, source, cable, contract)
            found.append(
                ContractEnvelope(
                    _when(contract, present.contract),
                    contract,
                    greatest_load(case),
                    tuple(_branch_envelope(case, each, places[each.name]) for each in chosen if case.branches()),
                    _meant(case),
                )
            )
    return Envelopes(rig, source, cable, tuple(found))


def _meant(case: Case) -> dict[str, float]:
    """The power [W] that each load straight on the bus is there for, where that is known."""
    found: dict[str, float] = {}
    for branch in case.branches():
        if branch.converter is None:
            watts = branch.load.at_peak().meant_w(case.rig.design_v)
            found |= {branch.name: watts} if watts is not None else {}
    return found


def _differs(one: Contract, other: Contract) -> bool:
    return (one.kind, one.voltage_v, one.current_a) != (other.kind, other.voltage_v, other.current_a)


def _when(contract: Contract, present: Contract) -> When:
    if not _differs(contract, present):
        return "as it is set"
    if contract.kind == "type-c":
        return "before any contract, and without PD"
    return "when the source offers less"


def output_voltages(branch: Branch, asked: Sequence[float] | None = None) -> tuple[float, ...]:
    """The output voltages [V] at which a branch is looked at.

    Those that are asked for, as far as its converter gives them; one whose output cannot be set, as far as is known,
    is taken at face value. Without any: an adjustable output over its range, else the one there is.

    Raises InputError where a converter gives none of those that are asked for.

    >>> box = {"kind": "buck", "output": "12V", "output_range": "5V-20V"}
    >>> output_voltages(Branch(name="a", converter=box, load="5W"))
    (5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0)
    >>> output_voltages(Branch(name="a", converter=box, load="5W"), [3.3, 9.0])
    (9.0,)
    """
    converter = branch.converter
    if converter is None:
        return ()
    span = converter.output_range_v
    if not asked:
        return (converter.output_v,) if span is None else rungs(*span, converter.output_v)
    fitting = tuple(voltage for voltage in asked if span is None or span[0] <= voltage <= span[1])
    if not fitting and span is not None:
        expected = f"within {' to '.join(format_quantity(end, 'V') for end in span)}"
        raise InputError(f"{branch.name} gives none of these output voltages", expected=expected)
    return fitting


def rungs(low_v: float, high_v: float, *extra: float) -> tuple[float, ...]:
    """Voltages [V] over a range: its ends, whole multiples of a step between them, and any others named.

    >>> rungs(3.3, 5.0), rungs(5.0, 24.0, 13.8)[4:7]
    ((3.3, 3.5, 4.0, 4.5, 5.0), (12.0, 13.8, 14.0))
    """
    step = next((step for step in STEPS_V if (high_v - low_v) / step <= MOST_POINTS - 2), STEPS_V[-1])
    first, last = math.ceil(low_v / step - 1e-9), math.floor(high_v / step + 1e-9)
    return tuple(sorted({low_v, high_v, *extra, *(round(rung * step, 9) for rung in range(first, last + 1))}))


def _branch_envelope(case: Case, branch: Branch, voltages: Sequence[float]) -> BranchEnvelope:
    listed: list[OutputPoint] = []
    for output_v in voltages if branch.converter is not None else (None,):
        parts = output_bounds(case, branch, output_v)
        [point] = envelope(
            case.spec,
            branch.name,
            lambda _, parts=parts: [bound for _, bound in parts],  # type: ignore[misc]
            [] if output_v is None else [output_v],
            case.off - {branch.name},
        )
        limited = OutputPoint(*point[:4], _part(point.first, parts), _part(point.first_typ, parts))
        listed.append(_starting(_started(limited, branch, case.source_v), case, branch))
    return BranchEnvelope(branch.name, tuple(listed), _gets(case, branch))


_DARK = Triple(0.0, 0.0, 0.0)


def _gets(case: Case, branch: Branch) -> Gets | None:
    """What the load of a branch without a converter gets; None where nothing has an operating point."""
    node = f"{branch.name}/load"
    volts, amps, point = case.node_voltage(node), case.node_current(node), case.point
    if branch.converter is not None or volts is None or amps is None or point is None:
        return None
    broken = (rule.short for rule in _broken(case, branch))
    word = next((each for each in broken if each), "works")
    return Gets(volts, amps, point.loads.get(branch.name, _DARK), word)


def _broken(case: Case, branch: Branch) -> Iterator[LimitRule]:
    """The rules that a branch's load breaks or comes near to, the gravest first."""
    found: list[LimitRule] = []
    for limit in known(case.limits):
        value = case.reached(limit) if limit.branch == branch.name and limit.part == "load" else None
        if value is not None and limit.broken(value):
            found.append(limit.rule)
        elif value is not None and limit.close(value) and limit.rule.near is not None:
            found.append(limit.rule.near)
    yield from sorted(found, key=lambda rule: LEVELS.index(rule.level))


def _part(met: Met, parts: Sequence[tuple[str, Bound]]) -> str:
    """The part whose limit is met; one that holds its current is the source."""
    if not isinstance(met, Bound):
        return met
    return next((name for name, bound in parts if bound == met), "source")


def _starting(point: OutputPoint, case: Case, branch: Branch) -> OutputPoint:
    """No more at the worst corner than what starts; rules on starting look at that corner alone."""
    share = share_that_starts(case, branch, point.output_v, point.current_a.min)
    if share == 1.0:
        return point
    # The lead takes with the square of the current what the load does not get.
    lost_w = share * share * (point.power_w.min - point.load_w.min)
    return point._replace(
        current_a=point.current_a._replace(min=share * point.current_a.min),
        power_w=point.power_w._replace(min=share * point.power_w.min),
        load_w=point.load_w._replace(min=share * point.power_w.min - lost_w),
        limited_by=STARTING,
    )


def _started(point: OutputPoint, branch: Branch, source_v: Triple) -> OutputPoint:
    """Nothing at a corner where the converter does not start; the circuit alone takes it as running."""
    start_v = None if branch.converter is None else branch.converter.start_v
    if start_v is None or not under(source_v.min, start_v):
        return point
    typ, most = (not under(end, start_v) for end in (source_v.typ, source_v.max))

    def kept(value: Triple) -> Triple:
        return Triple(0.0, value.typ if typ else 0.0, value.max if most else 0.0)

    return point._replace(
        current_a=kept(point.current_a),
        power_w=kept(point.power_w),
        load_w=kept(point.load_w),
        limited_by="converter input",
        limited_by_typ=point.limited_by_typ if typ else "converter input",
    )
