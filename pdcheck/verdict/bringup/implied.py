"""What readings imply: resistance of cable, wires and leads, efficiency and idle power, each with its uncertainty.

The uncertainty is that of the readings' last digits, at its worst: every reading anywhere within half a step, all of
them at once. An error of the meter itself comes on top; with one meter for all voltages most of it cancels.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import product
from typing import Literal, NamedTuple

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.sheet import Filled, Measured
from pdcheck.verdict.bringup.steps import SHARES, TOGETHER, TRIGGER, BringUp, Path
from pdcheck.verdict.case import Case

LOADED = ("half", "full")


class Implied(NamedTuple):
    """A figure that the readings imply: of what, its range and its nearest value, beside what was stated.

    ``kind``: ``supply`` (cable, plugs and trigger), ``wire``, ``lead``, ``efficiency``, ``idle``, ``load``,
    ``bus-draw``. ``subject`` is a branch or ``bus``. ``steps`` names the steps that it comes from; ``assumed`` says
    what was taken as stated on the way, ``agree`` whether the steps agree within their digits.
    """

    kind: Literal["supply", "wire", "lead", "efficiency", "idle", "load", "bus-draw"]
    subject: str
    value: Triple
    unit: str
    stated: Triple
    steps: tuple[str, ...]
    assumed: str = ""
    agree: bool = True

    @property
    def above(self) -> bool:
        """Whether it is above what was stated, whatever the last digits hide."""
        return self.value.min > self.stated.max + 1e-9

    @property
    def below(self) -> bool:
        """Whether it is below what was stated, whatever the last digits hide."""
        return self.value.max < self.stated.min - 1e-9


def spread(function: Callable[..., float], *readings: Measured) -> Triple | None:
    """The range of a figure that is monotone in each reading, and its value; None where it can become anything.

    >>> triple = spread(lambda a, b, i: (a - b) / i, Measured(15.0, 0.005), Measured(14.5, 0.005), Measured(2.0, 0.05))
    >>> [round(each, 4) for each in triple]
    [0.239, 0.25, 0.2615]
    """
    try:
        ends = [function(*corner) for corner in product(*((each.low, each.high) for each in readings))]
        typical = function(*(each.value for each in readings))
    except ZeroDivisionError:
        return None
    if not all(math.isfinite(each) for each in (*ends, typical)):
        return None
    slack = 1e-9 * max(1.0, abs(typical))  # of the digits that were read, not of the float
    return Triple(min(*ends, typical) - slack, typical, max(*ends, typical) + slack)


class Evidence(NamedTuple):
    """One step's word on a figure: its range, and the current that speaks for it."""

    step: str
    value: Triple
    weight: float


def joint(evidence: list[Evidence]) -> tuple[Triple, tuple[str, ...], bool] | None:
    """What several steps say together: where their ranges meet, else what the one with the most current says."""
    if not evidence:
        return None
    low = max(each.value.min for each in evidence)
    high = min(each.value.max for each in evidence)
    best = max(evidence, key=lambda each: each.weight)
    if low > high:
        return best.value, (best.step,), False
    typical = min(max(best.value.typ, low), high)
    return Triple(low, typical, high), tuple(each.step for each in evidence), True


def implied(plan: BringUp, case: Case, filled: Filled) -> list[Implied]:
    """All that the readings of a sheet imply on a contract (``case``, which may be another than the plan's)."""
    spec = case.spec
    found: list[Implied | None] = [_supply(plan, case, filled), _bus_draw(plan, filled)]
    for branch in spec.branches:
        found += [
            _wire(plan, spec, branch, filled),
            _lead(plan, spec, branch, filled),
            *_converter(plan, spec, branch, filled),
            _load(plan, spec, branch, filled),
        ]
    return [each for each in found if each is not None]


def load_paths(plan: BringUp, name: str | None = None) -> Iterator[tuple[Path, Path, float]]:
    """Every loaded step: the path of its bus readings, of its branch readings, and the share of the load."""
    for step in plan.steps:
        if step.path[0] == "branch" and step.path[2] in LOADED and name in (None, step.path[1]):
            yield step.path, step.path, SHARES[step.path[2]]
        elif step.path == TOGETHER:
            yield TOGETHER, TOGETHER if name is None else (*TOGETHER, name), 1.0


def _supply(plan: BringUp, case: Case, filled: Filled) -> Implied | None:
    open_v = filled.get(TRIGGER, "bus_v")
    evidence: list[Evidence] = []
    assumed = ""
    for path, _, _ in load_paths(plan):
        bus_v, bus_a = filled.get(path, "bus_v"), filled.get(path, "bus_a")
        start_v = filled.get(path, "source_v")
        holds = case.contract.holds_a is None or not bus_a or bus_a.high < case.contract.holds_a
        if start_v is None and holds and open_v is not None:
            start_v, assumed = open_v, "the source holds its voltage under load"
        if bus_v is None or bus_a is None or start_v is None or bus_a.low <= 0:
            continue
        value = spread(lambda start, end, current: (start - end) / current, start_v, bus_v, bus_a)
        if value is not None:
            evidence.append(Evidence(".".join(path), value, bus_a.value))
    together = joint(evidence)
    if together is None:
        return None
    spec = case.spec
    stated = Triple(*(cable + trigger for cable, trigger in zip(_series(spec, 0), _series(spec, 1), strict=True)))
    return Implied("supply", "bus", together[0], "ohm", stated, together[1], assumed, together[2])


def _series(spec: NetworkSpec, which: int) -> Triple:
    """Cable (0) or trigger (1) over the corners [ohm]."""
    part = (spec.cable, spec.trigger)[which]
    return part if part.max > part.min else Triple(*(part.typ * factor for factor in spec.resistance))


def trigger_ohm(spec: NetworkSpec) -> Triple:
    """The trigger's own part of the resistance in front of the bus, as stated [ohm]."""
    return _series(spec, 1)


def conductor_ohm(spec: NetworkSpec, conductor: Conductor) -> Triple:
    """A wire with its contacts over the corners [ohm]."""
    return Triple(
        *(
            (conductor.copper_ohm * copper + conductor.fixed_ohm) * resistance
            for copper, resistance in zip(spec.copper, spec.resistance, strict=True)
        )
    )


def _wire(plan: BringUp, spec: NetworkSpec, branch: BranchSpec, filled: Filled) -> Implied | None:
    evidence: list[Evidence] = []
    for bus, own, _ in load_paths(plan, branch.name):
        end = "in_v" if plan.reading(own, "in_v") is not None else "load_v"
        bus_v, in_v = filled.get(bus, "bus_v"), filled.get(own, end)
        current = filled.get(own, "in_a") if bus == TOGETHER else filled.get(bus, "bus_a")
        if bus_v is None or in_v is None or current is None or current.low <= 0:
            continue
        value = spread(lambda start, finish, amps: (start - finish) / amps, bus_v, in_v, current)
        if value is not None:
            evidence.append(Evidence(".".join(own), value, current.value))
    together = joint(evidence)
    if together is None:
        return None
    stated = conductor_ohm(spec, branch.wire)
    return Implied("wire", branch.name, together[0], "ohm", stated, together[1], "", together[2])


def output_current(
    branch: BranchSpec, spec: NetworkSpec, own: Path, share: float, filled: Filled
) -> tuple[Measured, str] | None:
    """Current at the output of a branch: as read, else what its load takes as stated at the voltage that was read."""
    taken = filled.get(own, "out_a")
    if taken is not None:
        return taken, ""
    volts = filled.get(own, "load_v") or filled.get(own, "out_v")
    if volts is None:
        return None
    ends: list[float] = []
    for factor in spec.load:
        load = branch.load.tolerance(factor).share(share)
        ends += [amps for at in (volts.low, volts.high) if (amps := load.current_at(at)) is not None]
    typical = branch.load.share(share).current_at(volts.value)
    if typical is None or len(ends) < 6:
        return None
    return Measured(typical, max(abs(each - typical) for each in ends)), "the load takes what is stated"


def _lead(plan: BringUp, spec: NetworkSpec, branch: BranchSpec, filled: Filled) -> Implied | None:
    evidence: list[Evidence] = []
    said: set[str] = set()
    for bus, own, share in load_paths(plan, branch.name):
        start_v = filled.get(own, "out_v" if branch.converter is not None else "in_v")
        load_v = filled.get(own, "load_v")
        if branch.converter is not None:
            drawn = output_current(branch, spec, own, share, filled)
        else:
            amps = filled.get(own, "in_a") if bus == TOGETHER else filled.get(bus, "bus_a")
            drawn = None if amps is None else (amps, "")
        if start_v is None or load_v is None or drawn is None or drawn[0].low <= 0:
            continue
        value = spread(lambda start, end, amps: (start - end) / amps, start_v, load_v, drawn[0])
        if value is not None:
            evidence.append(Evidence(".".join(own), value, drawn[0].value))
            said.add(drawn[1])
    together = joint(evidence)
    if together is None:
        return None
    stated = conductor_ohm(spec, branch.lead)
    assumed = next((each for each in said if each), "")
    return Implied("lead", branch.name, together[0], "ohm", stated, together[1], assumed, together[2])


def _converter(plan: BringUp, spec: NetworkSpec, branch: BranchSpec, filled: Filled) -> list[Implied | None]:
    """Idle power of a converter from the unloaded step, and its efficiency from the loaded ones."""
    converter = branch.converter
    if converter is None:
        return []
    found: list[Implied] = []
    path = ("branch", branch.name, "unloaded")
    volts, amps = filled.get(path, "bus_v"), filled.get(path, "bus_a")
    stated_idle = Triple.exact(converter.idle_w)
    idle = Measured(converter.idle_w, 0.0)
    if volts is not None and amps is not None:
        value = spread(lambda at, current: at * current, volts, amps)
        if value is not None:
            measured = Implied("idle", branch.name, value, "W", stated_idle, (".".join(path),))
            found.append(measured)
            if measured.above or measured.below:
                idle = Measured(value.typ, max(value.max - value.typ, value.typ - value.min))
    return [*found, _efficiency(plan, spec, branch, converter, idle, filled)]


def _efficiency(
    plan: BringUp, spec: NetworkSpec, branch: BranchSpec, converter: Converter, idle: Measured, filled: Filled
) -> Implied | None:
    evidence: list[Evidence] = []
    said: set[str] = set()
    points: list[tuple[float, float]] = []
    for bus, own, share in load_paths(plan, branch.name):
        in_v, out_v = filled.get(own, "in_v"), filled.get(own, "out_v")
        in_a = filled.get(own, "in_a") if bus == TOGETHER else filled.get(bus, "bus_a")
        drawn = output_current(branch, spec, own, share, filled)
        if in_v is None or out_v is None or in_a is None or drawn is None or in_a.low <= 0 or drawn[0].low <= 0:
            continue
        value = spread(
            lambda out, current, volts, amps, lost: out * current / (volts * amps - lost),
            out_v,
            drawn[0],
            in_v,
            in_a,
            idle,
        )
        if value is not None and value.min > 0:  # what goes in is more than the idle power, whatever the digits hide
            evidence.append(Evidence(".".join(own), value, drawn[0].value))
            points.append((in_v.value, drawn[0].value))
            said.add(drawn[1])
    if isinstance(converter.efficiency, EfficiencyTable) and evidence:
        # A table says something else at each load: the heaviest step speaks for itself.
        at = max(range(len(evidence)), key=lambda index: evidence[index].weight)
        evidence, points = [evidence[at]], [points[at]]
    together = joint(evidence)
    if together is None:
        return None
    stated = converter.efficiency_at(*points[0])
    ends = Triple(*(min(1.0, stated * factor) for factor in spec.efficiency))
    assumed = next((each for each in said if each), "")
    return Implied("efficiency", branch.name, together[0], "%", ends, together[1], assumed, together[2])


def _load(plan: BringUp, spec: NetworkSpec, branch: BranchSpec, filled: Filled) -> Implied | None:
    """What the load takes at full load, in the unit that it is stated in."""
    path = ("branch", branch.name, "full")
    current = filled.get(path, "out_a") if branch.converter is not None else filled.get(path, "bus_a")
    volts = filled.get(path, "load_v") or filled.get(path, "out_v")
    if current is None or volts is None or current.low <= 0:
        return None
    load = branch.load
    value = spread(load.stated_as, volts, current) if load.unit else None
    if value is None:
        return None
    ends = sorted(load.tolerance(factor).stated for factor in spec.load)
    return Implied("load", branch.name, value, load.unit, Triple(ends[0], load.stated, ends[-1]), (".".join(path),))


def _bus_draw(plan: BringUp, filled: Filled) -> Implied | None:
    """Current on the bus that no branch explains."""
    alone = filled.get(TRIGGER, "bus_a")
    if alone is not None:
        value = spread(lambda amps: amps, alone)
        if value is not None:
            return Implied("bus-draw", "bus", value, "A", Triple.exact(0.0), (".".join(TRIGGER),))
    total = filled.get(TOGETHER, "bus_a")
    parts = [
        filled.get((*TOGETHER, name), "in_a") for step in plan.steps if step.path == TOGETHER for name in step.branches
    ]
    listed = [each for each in parts if each is not None]
    if total is None or not parts or len(listed) < len(parts):
        return None
    value = spread(lambda whole, *each: whole - sum(each), total, *listed)
    return None if value is None else Implied("bus-draw", "bus", value, "A", Triple.exact(0.0), ("together",))
