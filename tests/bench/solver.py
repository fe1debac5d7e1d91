"""The bus solved against SciPy's brentq on the same rigs: same ports, same bracket for both ends of the bus."""

from __future__ import annotations

import random
from collections.abc import Iterator
from math import isnan

from scipy.optimize import brentq

from pdcheck.circuit.corners import network_at
from pdcheck.circuit.from_rig import network_spec
from pdcheck.physics.bus import solve_bus
from pdcheck.physics.ports import Port
from tests.bench.matrix import random_rig
from tests.bench.row import Row, side_by_side, times

RIGS = 200


def rows(runs: int) -> Iterator[Row]:
    """One row: every rig solved once a run."""
    chance = random.Random(2)
    cases: list[tuple[list[Port], float, float, float]] = []
    while len(cases) < RIGS:
        network = network_at(network_spec(random_rig(chance), None, chance.choice((15.0, 20.0))))
        ports = network.ports()
        series = network.series_ohm + chance.uniform(0.1, 0.3)
        solution = solve_bus(ports, network.source.open_v, series)
        if not isnan(solution.bus_v):
            cases.append((ports, network.source.open_v, series, solution.bus_v))

    def ours() -> None:
        for ports, open_v, series, _ in cases:
            solve_bus(ports, open_v, series)

    def theirs() -> None:
        for ports, open_v, series, bus_v in cases:
            # It is given a bracket that holds the upper root alone, which it could not find by itself.
            low = max(0.5 * (bus_v + max(port.least_v for port in ports)), 0.9 * bus_v)

            def off(voltage: float, ports: list[Port] = ports, open_v: float = open_v, series: float = series) -> float:
                return open_v - voltage - series * sum(port.current(voltage)[0] for port in ports)

            brentq(off, low, open_v, xtol=1e-12, rtol=1e-14)

    for ports, open_v, series, bus_v in cases:
        drawn = sum(port.current(bus_v)[0] for port in ports)
        assert abs(open_v - bus_v - series * drawn) < 1e-9 * open_v
    one, other, ratio = side_by_side(ours, theirs, runs)
    told = f"{one / RIGS * 1e6:.1f} µs a bus, brentq {other / RIGS * 1e6:.1f} µs"
    yield Row("one bus solved", "SciPy's brentq, root bracketed", times(ratio), "", told)
