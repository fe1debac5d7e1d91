"""The integrator: its order, its dense output, and the one-pass solution of the circuit's own linear systems."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from pdcheck.circuit.transient.equations import Equations, Mode
from pdcheck.circuit.transient.machine import Machine
from pdcheck.circuit.transient.rosenbrock import take_step
from tests.outside.random_builds import random_build


class Known:
    """Circle, stiff forced decay and a growth that time drives: (sin t, cos t, cos t, exp(sin t))."""

    def slopes(self, time_s: float, y: list[float]) -> list[float]:
        return [y[1], -y[0], -50.0 * (y[2] - math.cos(time_s)) - math.sin(time_s), y[3] * math.cos(time_s)]

    def linearize(self, time_s: float, y: list[float]) -> list[float]:
        change = math.cos(time_s)
        self._jacobian = np.array([[0, 1, 0, 0], [-1, 0, 0, 0], [0, 0, -50, 0], [0, 0, 0, change]])
        return [0.0, 0.0, -50.0 * math.sin(time_s) - change, -y[3] * math.sin(time_s)]

    def factor(self, diagonal: float) -> None:
        self._matrix = diagonal * np.eye(4) - self._jacobian

    def solve(self, right: list[float]) -> list[float]:
        return [float(value) for value in np.linalg.solve(self._matrix, right)]


def errors(steps: int) -> tuple[float, float]:
    """At the end of 2 s, and of the dense output on the way."""
    known, y, time_s, between = Known(), [0.0, 1.0, 1.0, 1.0], 0.0, 0.0
    length = 2.0 / steps
    for _ in range(steps):
        drift = known.linearize(time_s, y)
        step = take_step(known, time_s, y, known.slopes(time_s, y), drift, length)
        at = time_s + 0.3 * length
        true = (math.sin(at), math.cos(at), math.cos(at), math.exp(math.sin(at)))
        between = max(between, *(abs(a - b) for a, b in zip(step.at(0.3), true, strict=True)))
        y, time_s = step.end, time_s + length
    true = (math.sin(2.0), math.cos(2.0), math.cos(2.0), math.exp(math.sin(2.0)))
    return max(abs(a - b) for a, b in zip(y, true, strict=True)), between


def test_order_four_at_the_end_and_three_between() -> None:
    ends, betweens = zip(*(errors(steps) for steps in (40, 80, 160)), strict=True)
    assert ends[2] < 2e-9
    for coarse, fine in ((ends[0], ends[1]), (ends[1], ends[2])):
        assert coarse / fine > 2**3.6
    assert betweens[1] / betweens[2] > 2**2.6


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(list(Mode)), st.floats(1e3, 1e9), st.randoms(use_true_random=False))
def test_one_pass_solves_the_linear_system(seed: int, mode: Mode, diagonal: float, rng) -> None:  # type: ignore[no-untyped-def]
    circuit, events = random_build(seed)
    machine = Machine(circuit, events)
    for port in machine.ports:
        port.joined = rng.random() < 0.9
        if port.converter is not None and rng.random() < 0.7:
            port.switch_converter(True, 0.0)
        port.live = True
    equations: Equations = machine.equations
    equations.mode = mode
    equations.refresh(1e-3)
    state = [rng.uniform(0.0, 3.0), rng.uniform(4.0, 20.0)]
    for _ in machine.ports:
        state += [rng.uniform(-1.0, 3.0), rng.uniform(4.0, 20.0)]
    for port in machine.ports:
        if not port.moving or not port.joined:
            state[2 + 2 * port.index] = state[3 + 2 * port.index] = 0.0
    equations.linearize(1e-3, state)
    jacobian = np.array(equations.jacobian())
    for column, value in enumerate(state):
        step = 1e-6 * (1.0 + abs(value))
        up, down = list(state), list(state)
        up[column] += step
        down[column] -= step
        slope = (np.array(equations.slopes(1e-3, up)) - np.array(equations.slopes(1e-3, down))) / (2 * step)
        assert jacobian[:, column] == pytest.approx(slope, rel=2e-4, abs=1e-4 * (1.0 + abs(jacobian).max() * 1e-4))
    equations.factor(diagonal)
    answer = np.array([rng.uniform(-1.0, 1.0) for _ in state])
    for place in range(2, len(state)):
        if not any(row[0] in (place, place - 1) for row in equations._moving):
            answer[place] = 0.0
    if mode in (Mode.OPEN, Mode.CURRENT):
        answer[0] = 0.0
    right = diagonal * answer - jacobian @ answer
    assert equations.solve([float(value) for value in right]) == pytest.approx(answer, rel=1e-6, abs=1e-7)


def test_a_ring_against_scipy() -> None:
    """20 V onto 1 uH, 140 mOhm and 4 uF: SciPy's LSODA on the same two equations."""
    from pdcheck.circuit.transient.given import Event
    from pdcheck.circuit.transient.run import run
    from tests.circuit.transient.benches import filtered, stiff

    branch = filtered(10.0, 0.140, 1e-6, 4e-6, stop_v=90.0)._replace(joined=False)
    result = run(stiff(20.0, branch), (Event(50e-3, "join", "module"),), until_s=50.1e-3)
    times = [time - 50e-3 for time in result.samples.time_s if time > 50e-3]
    own = [
        volt
        for time, volt in zip(result.samples.time_s, result.samples.nodes["module/in"], strict=True)
        if time > 50e-3
    ]
    solved = solve_ivp(
        lambda _, y: [(20.0 - 0.141 * y[0] - y[1]) / 1e-6, y[0] / 4e-6],
        (0.0, 1.1e-4),
        (0.0, 0.0),
        method="LSODA",
        rtol=1e-9,
        atol=1e-9,
        dense_output=True,
    )
    worst = max(abs(volt - solved.sol(time)[1]) for time, volt in zip(times, own, strict=True))
    assert len(times) > 20
    assert worst < 0.25  # 10 mF bus falls by 10 mV; the line resistance differs by 1 mOhm
