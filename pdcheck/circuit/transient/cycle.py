"""Cycles: seeing that the circuit goes round and round, and going on many rounds later without solving them."""

from __future__ import annotations

from itertools import pairwise

from pdcheck.circuit.transient.machine import Machine
from pdcheck.circuit.transient.meter import Meter
from pdcheck.named import NamedTuple

ROUNDS = 4
SAME = 1e-3
"""Two rounds are one and the same where no state differs by more than this part of itself (and of 1 V, 1 A)."""
LOOSE_ROUNDS = 6
LIKE = 0.1
DRIFT = 5e-3
"""A ring that grows out of next to nothing takes now longer, now shorter, and is cut off at another phase each time: so
many rounds that are only like each other count as one cycle too, if neither voltages nor spans of the first half and of
the second differ on the mean."""
TURNS = 200
"""So many swings must be alike before an oscillation counts as one that neither grows nor dies away."""
WORTH_IT = 3
MOST_PASSES = 12
"""A round may pass its section so many times: a converter that tries twice in a row before it lets go longer."""


class Mark(NamedTuple):
    """The circuit at one passing of a section: time, switches, states, what is due, and the counts so far."""

    time_s: float
    switches: tuple[object, ...]
    amps: list[float]
    volts: list[float]
    due: dict[tuple[str, int], float]
    energy_j: list[float]
    snapped_j: float
    counts: list[list[float]]


class Skip(NamedTuple):
    """``times`` rounds of ``period_s`` [s] that were not solved."""

    times: int
    period_s: float


class Cycles:
    """Watches sections (a converter that starts, a source that tries again, an input that turns) for rounds alike."""

    def __init__(self, machine: Machine, meter: Meter) -> None:
        self._machine, self._meter = machine, meter
        self._marks: dict[tuple[str, int], list[Mark]] = {}

    def _mark(self, time_s: float, state: list[float]) -> Mark:
        machine = self._machine
        switches = [machine.equations.mode, machine.level, machine.in_contract, machine.awake, machine.fresh]
        amps, volts = state[::2], state[1::2]
        counts: list[list[float]] = []
        for port in machine.ports:
            switches += [
                port.converter_on,
                port.waiting,
                port.rising,
                port.live,
                port.running,
                port.switched,
                port.factor,
            ]
            counts.append([port.starts, port.stops, port.given_j, port.lead_j])
            if port.converter is not None:
                volts.append(port.output_v(time_s))
        energy = list(self._meter.energy_j)
        return Mark(time_s, tuple(switches), amps, volts, dict(machine.due), energy, machine.snapped_j, counts)

    def passed(self, section: tuple[str, int], time_s: float, state: list[float], until_s: float) -> Skip | None:
        """A section is passed; where the last rounds were alike, the machine is moved on by many of them."""
        mark = self._mark(time_s, state)
        marks = self._marks.setdefault(section, [])
        marks.append(mark)
        del marks[: -TURNS - 1]
        found = _first_swing(marks) if section[0] == "turns" else _first_alike(marks)
        if found is None:
            return None
        first, rounds = found
        period = (time_s - first.time_s) / rounds
        horizon = min([until_s, *(at for key, at in mark.due.items() if not _moves_along(key, mark, first))])
        counting = self._meter.counts_from(time_s)
        if counting is not None:
            horizon = min(horizon, counting)
        count = int((horizon - time_s) / period) - 1
        if count < WORTH_IT:
            return None
        self._move(mark, first, rounds, count, period)
        self._marks.clear()
        return Skip(count, period)

    def _move(self, mark: Mark, before: Mark, rounds: int, count: int, period_s: float) -> None:
        machine, shift, times = self._machine, count * period_s, count / rounds
        for key in machine.due:
            if _moves_along(key, mark, before):
                machine.due[key] += shift
        machine.equations.from_s += shift
        if machine.limit_since_s is not None:
            machine.limit_since_s += shift
        gained = [times * (now - then) for now, then in zip(mark.energy_j, before.energy_j, strict=True)]
        snapped = times * (mark.snapped_j - before.snapped_j)
        spent = sum(gained[1:]) + snapped
        for port, now, then in zip(machine.ports, mark.counts, before.counts, strict=True):
            more = [times * (a - b) for a, b in zip(now, then, strict=True)]
            port.move_on(shift, more)
            spent += more[2] + more[3]
        # Rounds that leave everything as it was take from the source what they spend, and nothing for what is stored.
        for place, joules in enumerate([spent, *gained[1:]]):
            self._meter.energy_j[place] += joules
        machine.snapped_j += snapped


def _first_alike(marks: list[Mark]) -> tuple[Mark, int] | None:
    """The mark since which the circuit went round unchanged, and how often it did; None where it did not."""
    mark = marks[-1]
    for passes in range(1, min(MOST_PASSES, (len(marks) - 1) // ROUNDS) + 1):
        others = marks[-1 - ROUNDS * passes :: passes]
        spans = _spans(others)
        if max(spans) - min(spans) <= 10 * SAME * max(spans) and all(_alike(mark, each, SAME) for each in others):
            return others[0], ROUNDS
    others = marks[-1 - LOOSE_ROUNDS :]
    if len(others) > LOOSE_ROUNDS and all(_alike(mark, each, LIKE, amps=False) for each in others):
        spans, half = _spans(others), LOOSE_ROUNDS // 2
        columns = zip(*(each.volts for each in others), strict=True)
        steady = not _drifts(spans, half, LIKE * sum(spans) / len(spans))
        if steady and not any(_drifts(list(row), half, DRIFT * (1.0 + max(map(abs, row)))) for row in columns):
            return others[0], LOOSE_ROUNDS
    return None


def _first_swing(marks: list[Mark]) -> tuple[Mark, int] | None:
    if len(marks) <= TURNS or not _alike(marks[-1], marks[0], SAME) or not _alike(marks[-1], marks[TURNS // 2], SAME):
        return None
    return marks[0], TURNS


def _spans(marks: list[Mark]) -> list[float]:
    return [later.time_s - sooner.time_s for sooner, later in pairwise(marks)]


def _drifts(values: list[float], half: int, give: float) -> bool:
    """Whether the first half and the last differ on the mean by more than ``give``."""
    return abs(sum(values[:half]) - sum(values[-half:])) > give * half


def _alike(one: Mark, other: Mark, give: float, *, amps: bool = True) -> bool:
    if one.switches != other.switches or one.due.keys() != other.due.keys():
        return False
    pairs = [*zip(one.volts, other.volts, strict=True), *(zip(one.amps, other.amps, strict=True) if amps else ())]
    return all(abs(a - b) <= give * (1.0 + abs(a)) for a, b in pairs)


def _moves_along(key: tuple[str, int], mark: Mark, before: Mark) -> bool:
    """Whether something due keeps its distance from round to round."""
    if key not in mark.due or key not in before.due:
        return True
    gained = (mark.due[key] - mark.time_s) - (before.due[key] - before.time_s)
    return abs(gained) < 1e-9 + LIKE * (mark.time_s - before.time_s) / ROUNDS
