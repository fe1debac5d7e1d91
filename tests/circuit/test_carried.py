"""How much many cells carry, worked out by hand: each limit, each node, corners, tables, what is off."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from pdcheck.circuit.bulk_corners import Supplies
from pdcheck.circuit.bulk_loads import (
    Bound,
    LoadedCells,
    greatest_factors,
    highest_buses,
    input_power_w,
    least_voltages,
    scaled_port,
    varies,
)
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    EfficiencyTable,
    LedDriver,
    LedString,
    Load,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.ports import CurrentPort, LinearPort, PowerPort, input_power
from pdcheck.circuit.solve import solve_bus, solve_network
from pdcheck.quantities import Triple
from tests.circuit.nearly import same
from tests.circuit.test_bulk_edges import SETS, SLOPED
from tests.circuit.test_bulk_loads import one

NAN, INF = float("nan"), float("inf")
NEAR = 1.1e-5  # the search's own resolution
BUCK = Converter("buck", 12.0, 0.75, idle_w=0.5)
LAMP = NetworkSpec(Triple.exact(0.0), (BranchSpec("lamp", ConstantPower(10.0), None, Conductor(0.1), Conductor(0.05)),))
BOX = NetworkSpec(
    Triple.exact(0.0),
    (BranchSpec("box", ConstantCurrent(1.0), BUCK, Conductor(0.0, 0.5), Conductor(0.0, 0.25)),),
)


def supplies(source_v: float = 20.0, ohm: float = 0.05, limit_a: float = INF) -> Supplies:
    return Supplies(np.full((1, 3), source_v), np.full((1, 3), ohm), np.array([limit_a]))


def amps_of(watts: float, ohm: float, volts: float = 20.0) -> float:
    """The current [A] at which a power [W] comes out behind a resistance [ohm]."""
    return (volts - (volts * volts - 4.0 * ohm * watts) ** 0.5) / (2.0 * ohm)


@pytest.mark.parametrize(
    ("most_a", "limit_a", "bounds", "amps"),
    [
        (3.0, INF, [], 3.0),
        (INF, 3.0, [], 3.0),
        (2.0, 3.0, [], 2.0),
        # Maximum power transfer, at half the voltage.
        (INF, INF, [], 50.0),
        (INF, INF, [Bound("lamp/in", "voltage", 19.25)], 5.0),
        (INF, INF, [Bound("lamp/out", "voltage", 19.25)], 5.0),
        (INF, INF, [Bound("lamp/load", "voltage", 18.0)], 10.0),
        (INF, INF, [Bound("lamp/load", "current", 2.0)], 2.0),
        (INF, INF, [Bound("lamp/in", "power", 45.0)], amps_of(45.0, 0.15)),
        (INF, INF, [Bound("lamp/load", "power", 45.0)], amps_of(45.0, 0.2)),
        (3.0, INF, [Bound("lamp/out", "current", 2.0), Bound("lamp/in", "voltage", 1.0)], 2.0),
        (3.0, INF, [Bound("lamp/out", "current", 4.0), Bound("lamp/in", "voltage", 1.0)], 3.0),
        (3.0, INF, [Bound("lamp/in", "voltage", 20.1)], 0.0),
        (0.0, INF, [], 0.0),
    ],
)
def test_a_lamp(most_a: float, limit_a: float, bounds: list[Bound], amps: float) -> None:
    found = greatest_factors(LAMP, supplies(limit_a=limit_a), np.array([most_a]), bounds)
    watts = (20.0 - 0.2 * amps) * amps
    assert same(found.factor, [watts / 10.0], rel=NEAR)
    assert same(found.load_w, [watts], rel=NEAR)
    # The factor found holds: it is not past the edge by its own resolution.
    assert found.factor[0] <= watts / 10.0 * (1 + 1e-8)


@pytest.mark.parametrize(
    ("bound", "amps"),
    [
        (Bound("box/out", "current", 2.0), 2.0),
        (Bound("box/load", "current", 2.0), 2.0),
        (Bound("box/out", "power", 36.0), 3.0),
        # (12 - I / 4) I = 35
        (Bound("box/load", "power", 35.0), amps_of(35.0, 0.25, 12.0)),
        (Bound("box/load", "voltage", 11.5), 2.0),
        # 12 I / 0.75 + 0.5 W into the box.
        (Bound("box/in", "power", 32.5), 2.0),
        (Bound("box/in", "current", 2.0), ((20.0 - 1.0 - 0.1) * 2.0 - 0.5) / 16.0),
        (Bound("box/in", "voltage", 18.9), ((20.0 - 1.0 - 0.1) * 2.0 - 0.5) / 16.0),
        (Bound("box/out", "voltage", 12.1), 0.0),
    ],
)
def test_a_box(bound: Bound, amps: float) -> None:
    found = greatest_factors(BOX, supplies(), np.array([INF]), [bound])
    assert same(found.factor, [amps], rel=NEAR)
    assert same(found.load_w, [(12.0 - 0.25 * amps) * amps], rel=NEAR)


def test_cells_each_alone_and_something_beside_the_limits() -> None:
    ends = Supplies(
        np.array([[20.0] * 3, [20.0] * 3, [0.0] * 3, [10.0] * 3]), np.full((4, 3), 0.05), np.array([INF, 2.0, INF, INF])
    )

    def also(cells: np.ndarray, factor: np.ndarray) -> np.ndarray:
        return factor <= np.array([9.0, 9.0, 9.0, 1.5])[cells]

    found = greatest_factors(LAMP, ends, np.array([3.0, 3.0, 3.0, 3.0]), [], also=also)
    assert same(found.factor, [5.82, 3.92, 0.0, 1.5], rel=NEAR)
    assert same(found.load_w, [58.2, 39.2, 0.0, 15.0], rel=NEAR)
    none = greatest_factors(LAMP, ends, np.zeros(4), [])
    assert (none.factor.tolist(), none.load_w.tolist()) == ([0.0] * 4, [0.0] * 4)


def test_corners_of_source_cable_and_load() -> None:
    ends = Supplies(np.array([[18.0, 20.0, 22.0]]), np.array([[0.0, 0.1, 0.25]]), np.array([INF]))
    found = greatest_factors(LAMP._replace(load=Triple(0.8, 1.0, 1.25)), ends, np.array([3.0]), [])
    # At 18 V behind 0.4 ohm 3 A are 50.4 W, which may be 1.25 times what is stated; what is told is as stated.
    watts = (18.0 - 0.4 * 3.0) * 3.0 / 1.25
    assert same(found, (np.array([watts / 10.0]), np.array([watts])), rel=NEAR)
    heater = NetworkSpec(Triple.exact(0.0), (BranchSpec("h", Resistance(10.0)),))
    found = greatest_factors(heater, ends, np.array([4.0]), [])
    # Most is drawn from 22 V without a cable, 5.5 ohm at 4 A; least is had from 18 V behind 0.25 ohm.
    assert same(found.factor, [10.0 / 5.5], rel=NEAR)
    assert same(found.load_w, [(18.0 / 5.75) ** 2 * 5.5], rel=3 * NEAR)


def test_what_is_off_takes_nothing_and_its_limits_are_no_limits() -> None:
    both = NetworkSpec(Triple.exact(0.0), (*LAMP.branches, *BOX.branches), bus_a=0.5)
    bounds = [Bound("lamp/in", "current", 0.1), Bound("box/out", "current", 2.0)]
    found = greatest_factors(both, supplies(), np.array([INF]), bounds, frozenset({"lamp"}))
    assert same(found, (np.array([2.0]), np.array([23.0])), rel=NEAR)
    found = greatest_factors(both, supplies(), np.array([3.5]), [], frozenset({"box"}))
    # Half an ampere to the bus itself.
    watts = (20.0 - 0.05 * 3.5 - 0.15 * 3.0) * 3.0
    assert same(found, (np.array([watts / 10.0]), np.array([watts])), rel=NEAR)
    nothing = greatest_factors(both, supplies(), np.array([3.0]), [], frozenset({"lamp", "box"}))
    assert nothing.factor[0] > 1e8
    assert nothing.load_w.tolist() == [0.0]


def test_loads_of_many_branches_are_taken_together() -> None:
    both = NetworkSpec(Triple.exact(0.0), (*LAMP.branches, *BOX.branches))
    found = greatest_factors(both, supplies(), np.array([INF]), [Bound("box/out", "current", 2.0)])
    assert same(found, (np.array([2.0]), np.array([20.0 + 23.0])), rel=NEAR)


def cells_of(network: Network, count: int = 1, **changes: object) -> LoadedCells:
    given: dict[str, object] = {"most_a": np.full(count, INF), "bounds": (), "off": frozenset(), **changes}
    return LoadedCells(network, np.full(count, 20.0), np.full(count, 1.0), **given)  # type: ignore[arg-type]


HEATER = Network(Source(0.0), (Branch("h", Resistance(9.0), None, 0.5, 0.5),))
ONE, ALL = np.ones(1), np.arange(1)


@pytest.mark.parametrize("past", [-5e-9, -5e-10, 0.0, 5e-10, 5e-9])
def test_on_a_limit_holds(past: float) -> None:
    # 20 V on 11 ohm with a factor of 1: 20 / 11 A; 10 ohm of it from the bus on, 9.5 from the entry, 9 at the load.
    amps = 20.0 / 11.0
    most = cells_of(HEATER, most_a=np.array([amps * (1 + past)])).holds(ALL, ONE)
    assert most.tolist() == [past > -1e-9]
    for node, quantity, value in (
        ("h/in", "current", amps),
        ("h/in", "power", 9.5 * amps * amps),
        ("h/load", "power", 9.0 * amps * amps),
    ):
        bound = Bound(node, quantity, value * (1 + past))  # type: ignore[arg-type]
        assert cells_of(HEATER, bounds=[bound]).holds(ALL, ONE).tolist() == [past > -1e-9]
    for node, value in (("h/in", 9.5 * amps), ("h/load", 9.0 * amps)):
        bound = Bound(node, "voltage", value * (1 + past))
        assert cells_of(HEATER, bounds=[bound]).holds(ALL, ONE).tolist() == [past < 1e-9]
        fine = Bound("h/in", "current", 9.0)
        assert cells_of(HEATER, bounds=[bound, fine]).holds(ALL, ONE).tolist() == [past < 1e-9]


def test_a_cell_without_an_operating_point_does_not_hold_and_has_no_load() -> None:
    lamp = Network(Source(0.0), (Branch("a", ConstantPower(60.0)),))
    cells = cells_of(lamp, 3)
    factor = np.array([0.5, 2.0, 5.0 / 3.0])
    assert cells.holds(np.arange(3), factor).tolist() == [True, False, True]
    assert same(cells.load_w(np.arange(3), factor), [30.0, NAN, 100.0])
    assert same(cells.load_w(np.array([1]), np.array([1.0])), [60.0])
    assert cells_of(lamp, off=frozenset({"a"})).load_w(ALL, ONE).tolist() == [0.0]


@pytest.mark.parametrize("name", [name for name in SETS if SETS[name] and name != "steep table"])
@pytest.mark.parametrize(("bus_a", "off"), [(0.125, ""), (0.0, "a")])
def test_every_solution_is_the_single_one(name: str, bus_a: float, off: str) -> None:
    network = Network(Source(0.0), SETS[name], bus_a=bus_a)
    rows = np.array(list(itertools.product((0.0, 9.0, 11.5, 20.0, 40.0), (0.0, 1.0), (0.01, 0.5, 1.0, 3.0))))
    volts, ohms, factor = (column.copy() for column in rows.T)
    every = np.arange(len(rows))
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        found = LoadedCells(network, volts, ohms, np.full(len(rows), INF), (), frozenset(off)).solve(every, factor)
    for at, (open_v, ohm, times) in enumerate(rows.tolist()):
        alone = solve_network(one(network, open_v, ohm, times), frozenset(off))
        told = [float(found.bus_v[at]), *(float(np.broadcast_to(each, volts.shape)[at]) for each in found.branch_a)]
        if alone is None:
            assert np.isnan(told[0])
            continue
        assert same(told, [alone.bus_v, *alone.port_a[: len(network.branches)]], rel=1e-6)
        assert same(float(found.current_a[at]), float(alone.current_a), rel=1e-6)
    outputs = [each is not None for each in found.output_a]
    assert outputs == [branch.converter is not None and branch.name != off for branch in network.branches]


FACTORS = np.array([1.0, 2.0])


@pytest.mark.parametrize(
    ("load", "port"),
    [
        (ConstantPower(10.0), PowerPort(0.75, np.array([10.0, 20.0]))),  # type: ignore[arg-type]
        (LedDriver(2, 3.0, 0.5, 1.0, 0.75), PowerPort(0.75, np.array([4.0, 8.0]))),  # type: ignore[arg-type]
        (ConstantCurrent(2.0), CurrentPort(0.75, np.array([2.0, 4.0]))),  # type: ignore[arg-type]
        (Resistance(6.0), LinearPort(np.array([6.75, 3.75]), 0.0)),  # type: ignore[arg-type]
        (LedString(2, 3.0, 8.0), LinearPort(np.array([8.75, 4.75]), 6.0)),  # type: ignore[arg-type]
    ],
)
def test_ports_by_many_factors(load: Load, port: PowerPort | CurrentPort | LinearPort) -> None:
    found, output_a = scaled_port(Branch("a", load, None, 0.5, 0.25), FACTORS)
    assert output_a is None
    assert same(found, port)
    before = scaled_port(Branch("a", load, None, 0.0, 0.75), FACTORS)[0]
    # Behind a converter the lead alone is before the load.
    behind, output_a = scaled_port(Branch("a", load, BUCK, 0.5, 0.75), FACTORS)
    delivered = before.current(np.full(2, 12.0))[0]
    assert same(output_a, delivered)
    assert same(behind, PowerPort(0.5, 16.0 * delivered + 0.5))


def test_a_lead_on_its_edge_and_past_it() -> None:
    # 12 V through 1 ohm: 36 W at most.
    strip = Branch("a", ConstantPower(36.0), BUCK, 0.0, 1.0)
    port, output_a = scaled_port(strip, np.array([1.0, 1.0 + 1e-11, 1.0 + 1e-9]))
    assert same(output_a, [6.0, 6.0, NAN], rel=1e-5)
    assert same(port.power_w, [96.5, 96.5, NAN], rel=1e-5)  # type: ignore[union-attr]


def test_what_varies() -> None:
    flat = EfficiencyTable((10.0,), (1.0, 3.0), ((0.8, 0.6),))
    for efficiency, expected in ((0.9, False), (flat, False), (SLOPED, True)):
        assert varies(Branch("a", Resistance(1.0), BUCK._replace(efficiency=efficiency))) is expected  # type: ignore[arg-type]
    assert varies(Branch("a", Resistance(1.0))) is False


def test_input_power_of_many() -> None:
    flat = EfficiencyTable((10.0,), (1.0, 3.0), ((0.8, 0.6),))
    volts, amps = np.array([5.0, 10.0, 15.0, 30.0]), np.array([0.5, 1.0, 2.0, 9.0])
    for efficiency in (0.75, SLOPED, flat):
        converter = BUCK._replace(efficiency=efficiency)  # type: ignore[arg-type]
        found = input_power_w(converter, 2.0, volts)
        assert found.shape == (4,)
        assert same(found, [input_power(converter, each, 2.0) for each in volts.tolist()])
        if efficiency is not SLOPED:
            each = [input_power(converter, 10.0, ampere) for ampere in amps.tolist()]
            assert same(input_power_w(converter, amps, volts), each)


def test_least_voltages_of_one_and_of_many() -> None:
    assert same(least_voltages(PowerPort(0.25, np.array([16.0, 0.0]))), [4.0, 0.0])  # type: ignore[arg-type]
    assert same(least_voltages(CurrentPort(0.25, np.array([16.0, 0.0]))), [4.0, 0.0])  # type: ignore[arg-type]
    assert least_voltages(LinearPort(0.25, 16.0)) == 0.0


@pytest.mark.parametrize("bus_a", [0.0, 0.5])
def test_the_highest_bus_of_each_cell(bus_a: float) -> None:
    rows = np.array(list(itertools.product((-1.0, 0.0, 0.5, 8.0, 9.0, 10.0, 10.5, 20.0), (0.0, 0.25, 1.0, 1.0 + 2e-9))))
    volts, ohms = rows.T.copy()
    for ports in ([], [PowerPort(0.0, 100.0)], [PowerPort(1.0, 25.0), CurrentPort(0.5, 1.0)], [LinearPort(4.0, 9.0)]):
        found = highest_buses(ports, volts, ohms, bus_a)
        beside = [*ports, CurrentPort(0.0, bus_a)] if bus_a else ports
        for at, (open_v, ohm) in enumerate(rows.tolist()):
            alone = solve_bus(beside, open_v, ohm)
            assert same(float(found[at]), NAN if alone is None else alone.bus_v), (ports, open_v, ohm)
    assert (volts.tolist(), ohms.tolist()) == tuple(rows.T.tolist())
