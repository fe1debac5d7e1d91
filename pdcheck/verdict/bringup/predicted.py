"""What a meter would show at every reading of a plan, for many benches at once: the circuit solver on arrays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.corners import BranchSpec
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import nodes_of
from pdcheck.named import NamedTuple
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.physics.bus import solve_bus
from pdcheck.physics.ports import CurrentPort
from pdcheck.verdict.bringup.steps import UNPOWERED, Step
from pdcheck.verdict.bringup.unknowns import Unknown
from pdcheck.verdict.bringup.words import Path, Reading
from pdcheck.verdict.case import Case

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class Asked(NamedTuple):
    """A reading that is asked for: its place in the plan, and whether it is in the meter's high range of its unit.

    ``in_line``: an ammeter that is read in this step sits in the branch's own wire or lead as well.
    """

    reading: Reading
    step: Step
    high: bool = False


class Bench:
    """A case as a function from what is really there to what its meter shows; unknowns are columns.

    >>> from pdcheck.verdict.bringup.sheet import Meter
    >>> from pdcheck.verdict.bringup.unknowns import unknowns
    >>> from pdcheck.verdict.bringup.steps import bring_up
    >>> from pdcheck.verdict.judge import judge
    >>> from pdcheck.parts.kit import Kit
    >>> from pdcheck.parts.rig import Rig
    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "100mOhm"}])
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> plan = bring_up(judge(rig, kit.sources[0], kit.cables[0]))
    >>> listed = unknowns(plan.case, Meter(0.005, 0.005))
    >>> bench = Bench(plan.case, listed)
    >>> shown = bench.shows(np.array([[each.stated.typ for each in listed]]), asked(plan.steps[-1:]))
    >>> shown.round(3).tolist()
    [[8.9, 1.0, 8.9, 9.0]]
    """

    def __init__(self, case: Case, listed: Sequence[Unknown], in_line: frozenset[str] | None = None) -> None:
        """``in_line`` names the currents that were read: a meter sits there. None takes all that are asked for."""
        self.case, self.in_line = case, in_line
        self.at: dict[tuple[str, str], int] = {(each.kind, each.subject): index for index, each in enumerate(listed)}

    def shows(self, points: Floats, readings: Sequence[Asked]) -> Floats:
        """Each reading (columns) on each bench (rows); NaN where a bench has no operating point."""
        shown = np.empty((len(points), len(readings)))
        for indices in self._by_step(readings).values():
            listed = [readings[index] for index in indices]
            for index, column in zip(indices, self._step(points, listed), strict=True):
                shown[:, index] = column
        return shown

    def slopes(self, points: Floats, nudge: Floats, readings: Sequence[Asked]) -> tuple[Floats, Floats]:
        """Each reading on each bench, and its slope over each unknown (bench, unknown, reading).

        ``nudge`` is how far to move each unknown of each bench. A step is solved only for what plays a part in it; a
        meter's factor needs no solving.
        """
        rows, count = points.shape
        shown, found = np.empty((rows, len(readings))), np.zeros((rows, count, len(readings)))
        for indices in self._by_step(readings).values():
            listed = [readings[index] for index in indices]
            plays = np.array(self._plays(listed[0].step))
            spread = np.repeat(points[:, None], len(plays) + 1, 1)
            spread[:, np.arange(1, len(plays) + 1), plays] += nudge[:, plays]
            columns = self._step(spread.reshape(-1, count), listed)
            for index, column in zip(indices, columns, strict=True):
                each = column.reshape(rows, -1)
                shown[:, index] = each[:, 0]
                found[:, plays, index] = (each[:, 1:] - each[:, :1]) / nudge[:, plays]
        for index, asked_ in enumerate(readings):
            unit = asked_.reading.unit
            for subject in (unit, f"{unit} high") if asked_.high else (unit,):
                at = self.at.get(("meter", subject))
                if at is not None:
                    found[:, at, index] = shown[:, index] / points[:, at]
        return shown, np.nan_to_num(found)

    def _plays(self, step: Step) -> list[int]:
        """The unknowns that play a part in a step, beside the meter's factors."""
        shared = {"source-voltage", "supply", "source", "bus-draw", "burden"} if step.path != UNPOWERED else set()
        return [
            index
            for (kind, subject), index in self.at.items()
            if kind in shared or (kind != "meter" and (subject in step.branches or step.path == UNPOWERED))
        ]

    @staticmethod
    def _by_step(readings: Sequence[Asked]) -> dict[Path, list[int]]:
        """The places of the readings of each step."""
        found: dict[Path, list[int]] = {}
        for index, each in enumerate(readings):
            found.setdefault(each.step.path, []).append(index)
        return found

    def _of(self, points: Floats, kind: str, subject: str, otherwise: float = 0.0) -> Floats:
        index = self.at.get((kind, subject))
        return np.full(len(points), otherwise) if index is None else points[:, index]

    def _step(self, points: Floats, readings: Sequence[Asked]) -> list[Floats]:
        step = readings[0].step
        if step.path == UNPOWERED:
            return [self._unpowered(points, each.reading) for each in readings]
        joined = [each for each in self.case.spec.branches if each.name in step.branches]
        off = self.case.off
        burden = self._of(points, "burden", "bus") + self._of(points, "burden", "every")
        source_ohm = self._of(points, "source", "source")
        branches = tuple(self._branch(points, each, readings) for each in joined)
        series = self._of(points, "supply", "bus") + source_ohm + burden
        network = Network(Source(self._of(points, "source-voltage", "source"), self.case.spec.holds_a), branches)
        stray = CurrentPort(0.0, self._of(points, "bus-draw", "bus"))
        solution = solve_bus([*network.ports(off), stray], network.source.open_v, series, network.source.holds_a)
        nodes = nodes_of(network, solution, off)
        found, nothing = [], np.zeros(len(points))
        for each in readings:
            reading, node = each.reading, nodes[each.reading.node]
            inside = {"bus_v": burden, "source_v": -source_ohm}.get(reading.key, nothing)
            if reading.key == "out_v":
                inside = -self._of(points, "sag", reading.node.partition("/")[0])
            value = node.current_a + nothing if reading.unit == "A" else node.voltage_v + inside * node.current_a
            found.append(value * self._gain(points, reading.unit, each.high))
        return found

    def _gain(self, points: Floats, unit: str, high: bool) -> Floats:
        gain = self._of(points, "meter", unit, 1.0)
        return gain * self._of(points, "meter", f"{unit} high", 1.0) if high else gain

    def _ammeters(self, readings: Sequence[Asked], name: str) -> frozenset[str]:
        """Which ammeters sit in a branch itself: at its input, at its converter's output."""
        listed = [each.reading for each in readings]
        if self.in_line is not None:
            listed = [each for each in readings[0].step.readings if each.name in self.in_line]
        return frozenset(
            each.key for each in listed if each.key in ("in_a", "out_a") and each.node.startswith(f"{name}/")
        )

    def _unpowered(self, points: Floats, reading: Reading) -> Floats:
        name = reading.path[-1]
        spec = next(each for each in self.case.spec.branches if each.name == name)
        load = spec.load.demand(self._of(points, "load", name, 1.0))
        return np.asarray(load.ohmmeter_ohm, dtype=float)

    def _branch(self, points: Floats, spec: BranchSpec, readings: Sequence[Asked]) -> Branch:
        name, converter, share = spec.name, spec.converter, readings[0].step.share
        if converter is not None:
            factor = self._of(points, "efficiency", name, 1.0)
            counted = converter.counted_efficiency
            changed = {
                "efficiency": _times(counted, factor) if isinstance(counted, EfficiencyTable) else counted * factor,
                "idle_w": self._of(points, "idle", name),
                "output_v": self._of(points, "output", name),
            }
            converter = converter.model_copy(update=changed)
        wire, lead = self._of(points, "wire", name), self._of(points, "lead", name) + self._of(points, "sag", name)
        everywhere, ammeters = self._of(points, "burden", "every"), self._ammeters(readings, name)
        if "in_a" in ammeters:
            wire = wire + everywhere
        if "out_a" in ammeters:
            lead = lead + everywhere
        load = spec.load.demand(self._of(points, "load", name, 1.0))
        if 0.0 < share < 1.0:
            load = load.demand(self._of(points, "test-load", name, 1.0))
        return Branch(name, load.share(share), converter, wire, lead)


def _times(table: EfficiencyTable, factor: Floats) -> EfficiencyTable:
    values = tuple(tuple(np.minimum(value * factor, 1.0) for value in row) for row in table.values)
    return table.model_copy(update={"values": values})


def asked(steps: Iterable[Step]) -> list[Asked]:
    """Every reading of some steps that a meter shows a figure for and the sums foretell."""
    return [Asked(reading, step) for step in steps for reading in step.readings if foretold(reading)]


def foretold(reading: Reading) -> bool:
    """Whether the sums say what a reading should be: not of a yes or no, of 5 V before a contract, of an ohmmeter on a
    converter."""
    if reading.key == "before_v":
        return False
    if reading.unit == "ohm":
        return reading.expected.typ is not None
    return reading.unit != ""
