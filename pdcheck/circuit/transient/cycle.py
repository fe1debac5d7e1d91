"""Cycles: seeing that the circuit goes round and round, and going on many rounds later without solving them."""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.transient.machine import Machine
from pdcheck.circuit.transient.meter import Meter

ROUNDS = 4
SAME = 1e-3
"""Two rounds are one and the same where no state differs by more than this part of itself (and of 1 V, 1 A)."""
WORTH_IT = 3


class Mark(NamedTuple):
    """The circuit at one passing of a section: time, switches, states, what is due, and the counts so far."""

    time_s: float
    switches: tuple[object, ...]
    states: list[float]
    due: dict[tuple[str, int], float]
    energy_j: list[float]
    snapped_j: float
    counts: list[tuple[int, int]]


class Skip(NamedTuple):
    """``count`` rounds of ``period_s`` [s] that were not solved."""

    count: int
    period_s: float


class Cycles:
    """Watches sections (a converter that starts, a source that tries again, an input that turns) for rounds alike."""

    def __init__(self, machine: Machine, meter: Meter) -> None:
        self._machine, self._meter = machine, meter
        self._marks: dict[tuple[str, int], list[Mark]] = {}

    def _mark(self, time_s: float, state: list[float]) -> Mark:
        machine = self._machine
        switches = [machine.equations.mode, machine.level, machine.in_contract, machine.awake, machine.fresh]
        states, counts = list(state), []
        for port in machine.ports:
            switches += [port.converter_on, port.rising, port.live, port.running, port.switched, port.factor]
            counts.append((port.starts, port.stops))
            if port.converter is not None:
                states.append(port.output_v(time_s))
        energy = list(self._meter.energy_j)
        return Mark(time_s, tuple(switches), states, dict(machine.due), energy, machine.snapped_j, counts)

    def passed(self, section: tuple[str, int], time_s: float, state: list[float], until_s: float) -> Skip | None:
        """A section is passed; where the last rounds were alike, the machine is moved on by many of them."""
        mark = self._mark(time_s, state)
        marks = self._marks.setdefault(section, [])
        marks.append(mark)
        del marks[: -ROUNDS - 1]
        if len(marks) <= ROUNDS or not all(self._alike(marks[0], other) for other in marks[1:]):
            return None
        period = (mark.time_s - marks[0].time_s) / ROUNDS
        last = mark.time_s - marks[-2].time_s
        if period <= 0.0 or abs(last - period) > 10 * SAME * period:
            return None
        horizon = min([until_s, *(at for key, at in mark.due.items() if not self._moves_along(key, marks))])
        counting = self._meter.counts_from(time_s)
        if counting is not None:
            horizon = min(horizon, counting)
        count = int((horizon - time_s) / period) - 1
        if count < WORTH_IT:
            return None
        self._move(marks, count, period)
        self._marks.clear()
        return Skip(count, period)

    @staticmethod
    def _moves_along(key: tuple[str, int], marks: list[Mark]) -> bool:
        """Whether something due keeps its distance from round to round."""
        if any(key not in mark.due for mark in marks):
            return True
        return abs((marks[-1].due[key] - marks[-1].time_s) - (marks[-2].due[key] - marks[-2].time_s)) < 1e-9 + SAME * (
            marks[-1].time_s - marks[-2].time_s
        )

    @staticmethod
    def _alike(one: Mark, other: Mark) -> bool:
        if one.switches != other.switches or one.due.keys() != other.due.keys():
            return False
        return all(abs(a - b) <= SAME * (1.0 + abs(a)) for a, b in zip(one.states, other.states, strict=True))

    def _move(self, marks: list[Mark], count: int, period_s: float) -> None:
        machine, mark, before = self._machine, marks[-1], marks[-2]
        shift = count * period_s
        for key in machine.due:
            if self._moves_along(key, marks):
                machine.due[key] += shift
        machine.equations.from_s += shift
        if machine.limit_since_s is not None:
            machine.limit_since_s += shift
        for place, (now, then) in enumerate(zip(mark.energy_j, before.energy_j, strict=True)):
            self._meter.energy_j[place] += count * (now - then)
        machine.snapped_j += count * (mark.snapped_j - before.snapped_j)
        for port, (starts, stops), (starts_then, stops_then) in zip(
            machine.ports, mark.counts, before.counts, strict=True
        ):
            port.move_on(shift, count * (starts - starts_then), count * (stops - stops_then))
