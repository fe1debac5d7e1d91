"""Starting without a solver: a walk over the bus voltage, first at 5 V and then at the contract; who sticks, and where.

At each bus voltage what is on draws its full power, with what its output capacitance takes at the end of soft start;
against it stands what the source gives there: its limit, and what the loop lets pass. It holds where the bus moves fast
beside soft start, as it does on real boards: a fraction of a millisecond against some milliseconds.
"""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.transient.laws import Law, drawn

POINTS = 200
ROUNDING = 1e-9


class Draw(NamedTuple):
    """What one branch draws from the bus: a law behind its wire [ohm], from ``start_v`` on until ``stop_v`` [V].

    ``start_v`` 0: it draws from the beginning, whatever the voltage. ``charge_w`` [W] comes on top while its output
    capacitance is charged, at the end of soft start.
    """

    name: str
    law: Law
    wire_ohm: float
    start_v: float = 0.0
    stop_v: float = 0.0
    charge_w: float = 0.0

    def bus_a(self, bus_v: float, *, charging: bool = False) -> float:
        """The current [A] at a bus voltage [V]."""
        kind, size, threshold_v = self.law
        return drawn(kind, size + (self.charge_w if charging else 0.0), threshold_v, bus_v, self.wire_ohm)[0]


class Stage(NamedTuple):
    """A voltage that the source holds [V] until its limit [A]."""

    voltage_v: float
    limit_a: float


class Stuck(NamedTuple):
    """A branch that sticks at a stage (counted from 0), beside what draws at that moment.

    ``pulls down``: together they want ``wanted_a`` [A] at ``bus_v`` [V], where the last of them starts, and
    ``available_a`` is there: the bus falls until this branch, whose cut-off is the highest, lets go; again and again.
    ``never starts``: it is not started by ``bus_v``, which is all that the bus reaches. ``held down``: it draws, and
    the source's limit keeps the bus at ``bus_v``. ``helps_v``: for ``pulls down`` the start voltage [V] above which
    this stage does not start it, for ``never starts`` the one up to which it would start; None for ``held down``.
    """

    stage: int
    what: str
    branch: str
    beside: tuple[str, ...]
    bus_v: float
    wanted_a: float
    available_a: float
    helps_v: float | None


class Walk(NamedTuple):
    """For each stage the bus voltage [V] at its end and what is on; and everything that sticks."""

    bus_v: tuple[float, ...]
    on: tuple[frozenset[str], ...]
    stuck: tuple[Stuck, ...]


def available_a(stage: Stage, loop_ohm: float, bus_v: float) -> float:
    """What the source gives [A] at a bus voltage [V] behind its loop [ohm].

    >>> available_a(Stage(5.0, 3.0), 0.25, 3.0), available_a(Stage(5.0, 3.0), 0.25, 4.5)
    (3.0, 2.0)
    """
    if bus_v >= stage.voltage_v:
        return 0.0
    return min(stage.limit_a, (stage.voltage_v - bus_v) / loop_ohm) if loop_ohm > 0.0 else stage.limit_a


def resting_v(
    stage: Stage, loop_ohm: float, draws: list[Draw], *, charging: frozenset[str] = frozenset()
) -> float | None:
    """The highest bus voltage [V] at which what is on gets what it draws, and stays there; None where there is none.

    >>> heater = Draw("heater", Law(2, 1 / 4.5), 0.0)
    >>> round(resting_v(Stage(9.0, 3.0), 0.265, [heater]), 2)
    8.5
    >>> resting_v(Stage(5.0, 3.0), 0.265, [Draw("amp", Law(1, 30.0), 0.0, 4.5, 3.5)]) is None
    True
    """

    def spare(bus_v: float) -> float:
        total = sum(draw.bus_a(bus_v, charging=draw.name in charging) for draw in draws)
        return available_a(stage, loop_ohm, bus_v) - total

    def on(bus_v: float) -> bool:
        return all(_input_v(draw, bus_v) >= draw.stop_v for draw in draws if draw.stop_v > 0.0)

    top = stage.voltage_v
    if not draws or spare(top) >= 0.0:
        return top if on(top) else None
    high = top
    for step in range(1, POINTS + 1):
        low = top * (1.0 - step / POINTS)
        if spare(low) > 0.0:
            for _ in range(60):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if spare(middle) > 0.0 else (low, middle)
            return low if on(low) else None
        high = low
    return None


def _input_v(draw: Draw, bus_v: float) -> float:
    return bus_v - draw.wire_ohm * draw.bus_a(bus_v)


def walk(stages: tuple[Stage, ...], loop_ohm: float, draws: tuple[Draw, ...]) -> Walk:
    """Start everything at each stage in the order of the start voltages, each at full draw before the next.

    >>> amp = Draw("amp", Law(1, 30.0), 0.05, 4.5, 4.0)
    >>> [stuck] = walk((Stage(5.0, 3.0), Stage(20.0, 3.0)), 0.25, (amp,)).stuck
    >>> stuck.what, stuck.stage, round(stuck.wanted_a, 1), stuck.available_a, stuck.helps_v
    ('pulls down', 0, 7.3, 2.0, 5.0)
    >>> beside = (Draw("heater", Law(2, 1 / 4.5), 0.0), Draw("module", Law(1, 5.0), 0.05, 8.6, 8.0))
    >>> [stuck] = walk((Stage(5.0, 3.0), Stage(9.0, 3.0)), 0.265, beside).stuck
    >>> stuck.what, stuck.branch, stuck.beside, round(stuck.bus_v, 2)
    ('never starts', 'module', ('heater',), 8.5)
    """
    on: set[str] = set()
    levels: list[float] = []
    started: list[frozenset[str]] = []
    stuck: list[Stuck] = []
    for number, stage in enumerate(stages):
        level = _stage(number, stage, loop_ohm, draws, on, stuck)
        levels.append(level)
        started.append(frozenset(on))
    return Walk(tuple(levels), tuple(started), tuple(stuck))


def _stage(
    number: int, stage: Stage, loop_ohm: float, draws: tuple[Draw, ...], on: set[str], stuck: list[Stuck]
) -> float:
    """One stage: ``on`` and ``stuck`` are carried on; the bus voltage at its end."""
    failed: set[str] = set()
    on |= {draw.name for draw in draws if draw.start_v <= 0.0}
    newest: Draw | None = None
    while True:
        active = [draw for draw in draws if draw.name in on]
        charging = frozenset([newest.name] if newest is not None else ())
        bus_v = resting_v(stage, loop_ohm, active, charging=charging)
        if bus_v is None:
            starters = [draw for draw in active if draw.start_v > 0.0]
            if not starters:
                return 0.0
            gone = max(starters, key=lambda draw: draw.stop_v)
            stuck.append(_pulled(number, stage, loop_ohm, active, gone, newest or gone))
            on.discard(gone.name)
            failed.add(gone.name)
            newest = None
            continue
        bus_v = resting_v(stage, loop_ohm, active) or bus_v
        waiting = [draw for draw in draws if draw.name not in on | failed and draw.start_v <= bus_v]
        if not waiting:
            break
        newest = min(waiting, key=lambda draw: draw.start_v)
        on.add(newest.name)
    names = tuple(draw.name for draw in active)
    for draw in draws:
        if draw.name not in on | failed and draw.start_v <= stage.voltage_v:
            wanted, given = draw.bus_a(draw.start_v), available_a(stage, loop_ohm, draw.start_v)
            stuck.append(Stuck(number, "never starts", draw.name, names, bus_v, wanted, given, bus_v))
    unheld_v = stage.voltage_v - loop_ohm * stage.limit_a
    if active and bus_v < unheld_v * (1.0 - ROUNDING):
        wanted = sum(draw.bus_a(unheld_v) for draw in active)
        for draw in active:
            others = tuple(name for name in names if name != draw.name)
            stuck.append(Stuck(number, "held down", draw.name, others, bus_v, wanted, stage.limit_a, None))
    return bus_v


def _pulled(number: int, stage: Stage, loop_ohm: float, active: list[Draw], gone: Draw, newest: Draw) -> Stuck:
    at_v = newest.start_v
    wanted = sum(draw.bus_a(at_v, charging=draw is newest) for draw in active)
    rest = [draw for draw in active if draw is not gone]
    reached = resting_v(stage, loop_ohm, rest)
    helps_v = stage.voltage_v if reached is None else reached
    names = tuple(draw.name for draw in rest)
    return Stuck(number, "pulls down", gone.name, names, at_v, wanted, available_a(stage, loop_ohm, at_v), helps_v)
