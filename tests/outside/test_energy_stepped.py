"""Hours against time: the same rigs written again, solved with SciPy second by second until the cells are empty.

Each second every load is on or off by a clock of its own; the clocks' periods have no common divisor, so that within
one turn of all of them each combination comes exactly as often as independent loads have it. No part of the program
under test takes part in the stepping.
"""

from __future__ import annotations

import random
from math import prod
from typing import NamedTuple

import pytest

from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.power_bank import hours_of
from pdcheck.verdict.runtime import run_time

optimize = pytest.importorskip("scipy.optimize", reason="SciPy is not installed")
integrate = pytest.importorskip("scipy.integrate", reason="SciPy is not installed")

PERIODS = (7, 11, 13)
ENOUGH = 1e-3


class Branch(NamedTuple):
    """A branch as the stepping knows it: watts, amperes or ohms at the end of a lead, and when they are on."""

    kind: str
    figure: float
    period: int
    on: int  # seconds of each period
    wire_ohm: float
    lead_ohm: float
    output_v: float | None
    efficiency: float
    idle_w: float

    def output_a(self, volts: float) -> float:
        """Current into lead and load at a voltage before the lead."""
        if self.kind == "current":
            return self.figure
        if self.kind == "resistance":
            return volts / (self.lead_ohm + self.figure)
        # v (V - v) / R = P with the higher v, by brentq between half the voltage and all of it
        lowest = 0.5 * volts
        found = optimize.brentq(lambda v: v * (volts - v) - self.figure * self.lead_ohm, lowest, volts, xtol=1e-13)
        return self.figure / float(found)

    def input_a(self, bus_v: float, second: int) -> float:
        """Current from the bus in a second."""
        runs = second % self.period < self.on
        if self.output_v is None:
            if not runs:
                return 0.0
            joined = self._replace(lead_ohm=self.lead_ohm + self.wire_ohm)
            return joined.output_a(bus_v)
        watts = self.output_v * self.output_a(self.output_v) if runs else 0.0
        watts = watts / self.efficiency + self.idle_w
        if watts == 0.0:
            return 0.0
        input_v = optimize.brentq(lambda v: v * (bus_v - v) - watts * self.wire_ohm, 0.5 * bus_v, bus_v, xtol=1e-13)
        return watts / float(input_v)


def source_w(branches: list[Branch], open_v: float, loop_ohm: float, second: int) -> float:
    """What leaves the source in a second."""

    def surplus(bus_v: float) -> float:
        return open_v - bus_v - loop_ohm * sum(each.input_a(bus_v, second) for each in branches)

    bus_v = open_v if surplus(open_v) >= 0.0 else float(optimize.brentq(surplus, 0.7 * open_v, open_v, xtol=1e-13))
    return open_v * (open_v - bus_v) / loop_ohm


def stepped_hours(branches: list[Branch], open_v: float, loop_ohm: float, output_wh: float) -> float:
    """Second by second until nothing is left; whole turns of all clocks are alike and taken at once."""
    turn = prod(PERIODS[: len(branches)])
    taken = [source_w(branches, open_v, loop_ohm, second) for second in range(turn)]
    left, seconds = output_wh * 3600.0, 0.0
    whole = int(left // sum(taken))
    left, seconds = left - whole * sum(taken), seconds + whole * turn
    for watts in taken:
        if watts >= left:
            return (seconds + left / watts) / 3600.0
        left, seconds = left - watts, seconds + 1.0
    return seconds / 3600.0


def random_case(seed: int) -> tuple[Rig, list[Branch], float, float]:
    """A rig of one to three branches on 9 or 15 V, the same for the stepping; loop resistance, volts."""
    rng = random.Random(seed)
    volts, loop_ohm = rng.choice([9.0, 15.0]), rng.uniform(0.05, 0.3)
    stated, again = [], []
    for number in range(rng.randint(1, 3)):
        output_v = rng.choice([None, 3.3, 5.0])
        watts = rng.uniform(0.5, 6.0)
        at_v = volts if output_v is None else output_v
        kind = rng.choice(["power", "current", "resistance"])
        figure = {"power": watts, "current": watts / at_v, "resistance": at_v * at_v / watts}[kind]
        period = PERIODS[number]
        on = rng.randint(1, period)
        wire_ohm, lead_ohm = rng.uniform(0.01, 0.2), rng.uniform(0.01, 0.1)
        efficiency, idle_w = rng.uniform(0.8, 0.95), rng.choice([0.0, rng.uniform(0.01, 0.3)])
        branch = {
            "name": f"b{number}",
            "wire": {"mm2": 1.0, "length": 0.0, "contacts": wire_ohm},
            "lead": {"mm2": 1.0, "length": 0.0, "contacts": lead_ohm},
            "load": {kind: figure, "duty": on / period},
        }
        if output_v is not None:
            module = {"kind": "buck", "output": output_v, "efficiency": efficiency, "idle": idle_w}
            branch["converter"] = module
        stated.append(branch)
        again.append(Branch(kind, figure, period, on, wire_ohm, lead_ohm, output_v, efficiency, idle_w))
    rig = {"trigger": {"request": f"{volts:g}V", "resistance": "0ohm"}, "branch": stated}
    return Rig.model_validate(rig), again, volts, loop_ohm


@pytest.mark.parametrize("seed", range(24))
def test_hours_of_loads_that_come_and_go(seed: int) -> None:
    rig, again, volts, loop_ohm = random_case(seed)
    bank = Source("5V 3A, 9V 3A, 15V 3A", energy="37Wh", efficiency="87%", tolerance=0)
    found = hours_of(Case(rig, bank, Cable("C-C", loop=loop_ohm)))
    assert found is not None
    expected = stepped_hours(again, volts, loop_ohm, 37.0 * 0.87)
    assert found == pytest.approx((expected, expected, expected), rel=ENOUGH)


@pytest.mark.parametrize("seed", range(6))
def test_the_ends_are_those_of_the_source_voltage(seed: int) -> None:
    rig, again, volts, loop_ohm = random_case(seed)
    bank = Source("5V 3A, 9V 3A, 15V 3A", energy="37Wh", tolerance="5%")
    found = hours_of(Case(rig, bank, Cable("C-C", loop=loop_ohm)))
    assert found is not None
    ends = [volts * (1 + off) for off in (-0.05, 0.05)]
    # Below 1 W up to 0.15 W more count at the least hours, for the power bank itself.
    hours = [stepped_hours(again, each, loop_ohm, 37.0 * 0.80) for each in ends]
    watts = 37.0 * 0.80 / min(hours)
    least = 37.0 * 0.80 / (watts + 0.15 * max(0.0, 1.0 - watts))
    most = max(stepped_hours(again, each, loop_ohm, 37.0 * 0.92) for each in ends)
    assert (found.min, found.max) == pytest.approx((least, most), rel=ENOUGH)


@pytest.mark.parametrize("seed", range(6))
def test_an_average_is_integrated_as_it_is(seed: int) -> None:
    """With a steady average, by SciPy's own integrator with the empty cells as its event."""
    rng = random.Random(seed)
    average, loop_ohm, efficiency = rng.uniform(1.0, 9.0), rng.uniform(0.05, 0.3), rng.uniform(0.8, 0.95)
    load = {"power": 18.0, "average": average, "peak": 24.0}
    rig = Rig(trigger={"request": "9V", "resistance": "0ohm"}, branch=[{"name": "pump", "load": load}])
    bank = Source("5V 3A, 9V 3A", energy="50Wh", efficiency=efficiency, tolerance=0)
    branch = Branch("power", average, 1, 1, 0.0, 1e-9, None, 1.0, 0.0)
    watts = source_w([branch], 9.0, loop_ohm, 0) / efficiency

    def empty(_: float, left: list[float]) -> float:
        return left[0]

    empty.terminal = True  # type: ignore[attr-defined]
    solved = integrate.solve_ivp(lambda _, left: [-watts / 3600.0], (0.0, 1e6), [50.0], events=empty)
    [seconds] = solved.t_events[0]
    found = hours_of(Case(rig, bank, Cable("C-C", loop=loop_ohm)))
    assert found is not None
    assert found.typ == pytest.approx(seconds / 3600.0, rel=ENOUGH)


@pytest.mark.parametrize("seed", range(8))
def test_shares_add_up_to_what_leaves_the_cells(seed: int) -> None:
    rig, again, volts, loop_ohm = random_case(seed)
    bank = Source("5V 3A, 9V 3A, 15V 3A", energy="37Wh", efficiency="87%", tolerance=0)
    found = run_time(rig, bank, Cable("C-C", loop=loop_ohm))
    assert found is not None and found.hours is not None
    turn = prod(PERIODS[: len(again)])
    mean = sum(source_w(again, volts, loop_ohm, second) for second in range(turn)) / turn
    assert sum(each.power_w for each in found.shares) == pytest.approx(mean / 0.87, rel=ENOUGH)
    assert sum(each.share for each in found.shares) == pytest.approx(1.0)
    assert found.hours.typ * sum(each.power_w for each in found.shares) == pytest.approx(37.0)
