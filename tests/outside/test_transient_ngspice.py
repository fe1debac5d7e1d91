"""The solver in time against ngspice's .tran, the netlist written from the same build; skipped where there is none.

A handful of random builds here; ``python -m tests.bench.transient 100`` goes through as many as you like. Builds that
repeat are compared by fate alone: each try meets a ring at another phase, and no two programs agree on the widest one.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from pdcheck.circuit.transient.given import Circuit, Event, Level, Source
from pdcheck.circuit.transient.run import run
from tests.circuit.transient.benches import CABLE, TRIGGER, filtered, heater, module, source, stiff
from tests.outside.random_builds import random_build
from tests.outside.spice_transient import simulate
from tests.outside.transient_agreement import compare

NGSPICE = shutil.which("ngspice") or ""
pytestmark = pytest.mark.skipif(not NGSPICE, reason="ngspice is not installed (apt install ngspice)")


@pytest.mark.parametrize("seed", [5, 9, 15, 20])
def test_random_builds(seed: int, tmp_path: Path) -> None:
    circuit, events = random_build(seed)
    agreement = compare(NGSPICE, circuit, events, tmp_path)
    assert agreement is not None, "ngspice did not get to the end"
    assert not agreement.differences or agreement.near, agreement


def test_the_ring(tmp_path: Path) -> None:
    branch = filtered(5.0, 0.140, 1e-6, 4e-6, stop_v=90.0)._replace(joined=False)
    circuit, events = stiff(20.0, branch), (Event(8e-3, "join", "module"),)
    trace = simulate(NGSPICE, circuit, events, 8.2e-3, 5e-8, tmp_path)
    assert trace is not None
    after = trace.time_s > 8e-3 + 1e-9
    volts = trace.of["v(modulein)"][after]
    [own] = [row for row in run(circuit, events, 8.2e-3).extremes if row.node == "module/in"]
    assert volts.max() == pytest.approx(32.8, abs=0.1)
    assert own.peak_v == pytest.approx(volts.max(), rel=0.005)
    assert own.peak_s == pytest.approx(trace.time_s[after][volts.argmax()], abs=1e-7)


@pytest.mark.parametrize(("ohm", "settles"), [(0.425, False), (0.455, True)])
def test_the_filter_near_its_bound(ohm: float, settles: bool, tmp_path: Path) -> None:
    """25 W on 9 V, 2 uH, 2 uF: trapezoidal on both sides of 440 mOhm."""
    circuit = stiff(9.0, filtered(25.0, ohm, 2e-6, 2e-6))
    trace = simulate(NGSPICE, circuit, (), 14e-3, 2e-7, tmp_path)
    assert trace is not None
    on = trace.of["v(modulecv)"] > 0.5
    stops = int(np.count_nonzero(on[:-1] & ~on[1:]))
    assert (stops == 0) is settles
    [fate] = run(circuit, (), 14e-3).fates
    assert (fate.stops == 0) is settles


def test_the_heater_and_the_converter(tmp_path: Path) -> None:
    shorter = source(9.0)._replace(contract_s=5e-3)
    circuit = Circuit(
        shorter,
        CABLE._replace(resistance_ohm=0.245),
        TRIGGER._replace(restart_s=5e-3),
        (module(5.0, 8.6, 8.0), heater()),
    )
    trace = simulate(NGSPICE, circuit, (), 8e-3, 5e-7, tmp_path)
    assert trace is not None
    own = run(circuit, (), 8e-3)
    assert trace.of["v(bus)"][-1] == pytest.approx(8.50, abs=0.02)
    assert own.samples.nodes["bus"][-1] == pytest.approx(trace.of["v(bus)"][-1], rel=0.002)
    assert not (trace.of["v(modulecv)"] > 0.5).any() and [fate.fate for fate in own.fates] == ["hangs", "starts"]


def test_30_w_on_5_v(tmp_path: Path) -> None:
    """Cut off at 3.5 V, again and again: the first tries at the same times, the bus as deep."""
    circuit = Circuit(Source(Level(5.0, 3.0)), CABLE, TRIGGER, (module(30.0, 4.5, 3.5),))
    trace = simulate(NGSPICE, circuit, (), 12e-3, 2e-7, tmp_path)
    assert trace is not None
    on = trace.of["v(modulecv)"] > 0.5
    ups = trace.time_s[1:][on[1:] & ~on[:-1]]
    own = run(circuit, (), 12e-3)
    starts = [moment.time_s for moment in own.moments if moment.what == "converter starts"]
    assert len(ups) >= 4 and starts[:4] == pytest.approx(list(ups[:4]), rel=0.01)
    after = trace.time_s > 4e-3
    [bus] = [row for row in own.extremes if row.node == "bus"]
    assert bus.min_v == pytest.approx(trace.of["v(bus)"][after].min(), abs=0.05)
