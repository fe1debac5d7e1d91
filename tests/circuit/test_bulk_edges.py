"""Many cells at once on edges made by hand: the single network's answers, shapes, and cells without any."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from pdcheck.circuit.bulk import BulkPoint, drawn, highest_roots, operating_points
from pdcheck.circuit.bulk_loads import varies
from pdcheck.circuit.bulk_startup import latching
from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    EfficiencyTable,
    LedDriver,
    LedString,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.ports import CurrentPort, LinearPort, Port, PowerPort
from pdcheck.circuit.solve import highest_root, solve_network
from pdcheck.circuit.startup import Latch, start_up
from pdcheck.circuit.table_port import TablePort, table_pieces
from tests.circuit.nearly import same
from tests.circuit.test_bulk_loads import scaled
from tests.circuit.test_latches import BOOST, BOX, ONE_BOX

NAN, INF = float("nan"), float("inf")
SLOPED = EfficiencyTable((10.0, 20.0), (1.0, 3.0), ((0.8, 0.7), (0.9, 0.85)))
STEEP = EfficiencyTable((10.0, 10.5), (1.0,), ((0.3,), (0.9,)))

SETS: dict[str, tuple[Branch, ...]] = {
    "nothing": (),
    "power": (Branch("a", ConstantPower(100.0)),),
    "power behind wire and lead": (Branch("a", ConstantPower(36.0), None, 0.25, 0.25),),
    "current": (Branch("a", ConstantCurrent(2.0), None, 0.5),),
    "resistance": (Branch("a", Resistance(9.0), None, 0.5, 0.5),),
    "string": (Branch("a", LedString(3, 3.0, 4.0), None, 0.5, 0.5),),
    "driver": (Branch("a", LedDriver(3, 3.0, 1.0, 1.0, 0.75), None, 0.5),),
    "converter": (Branch("a", ConstantCurrent(2.0), Converter("buck", 12.0, 0.8, 0.5), 0.25, 0.25),),
    "idle": (Branch("a", ConstantCurrent(0.0), Converter("buck", 12.0, SLOPED, 0.5), 0.25, 0.25),),
    "table": (Branch("a", ConstantPower(18.0), Converter("buck", 12.0, SLOPED, 0.5), 0.5, 0.1),),
    "table without wire": (Branch("a", ConstantPower(18.0), Converter("buck", 12.0, SLOPED)),),
    "steep table": (Branch("a", ConstantPower(9.0), Converter("boost", 12.0, STEEP), 1.0),),
    "all": (
        Branch("a", ConstantPower(10.0), Converter("buck", 12.0, SLOPED, 0.5), 0.5, 0.1),
        Branch("b", ConstantPower(5.0), Converter("boost", 24.0, STEEP), 0.2),
        Branch("c", LedString(3, 3.0, 50.0), None, 0.5, 0.5),
        Branch("d", ConstantCurrent(0.25)),
    ),
    "a lead that cannot": (Branch("a", ConstantPower(50.0), Converter("buck", 5.0, 0.9), 0.0, 0.25),),
}
# Voltages on strings, joints and least voltages; nothing at all; resistances of nothing and of just the most.
VOLTS = (-1.0, 0.0, 3.0, 9.0, 10.5, 11.452380952380953, 12.0, 16.5, 20.0, 40.0)
OHMS = (0.0, 1.0, 1.0 + 2e-9, 4.0)
LIMITS = (INF, 2.0, 0.0)
CELLS = np.array(list(itertools.product(VOLTS, OHMS, LIMITS)))


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize(("bus_a", "off"), [(0.0, ""), (0.125, "a")])
def test_every_cell_is_the_single_network(name: str, bus_a: float, off: str) -> None:
    branches, gone = SETS[name], frozenset(off)
    source_v, series_ohm, limit_a = CELLS.T
    found = operating_points(branches, source_v, series_ohm, limit_a=limit_a, bus_a=bus_a, off=gone)
    named = [branch.name for branch in branches] if name != "a lead that cannot" or off else []
    assert list(found.branch_a) == list(found.input_v) == named
    held = found.constant_current & ~found.collapsed
    for at, (volts, ohm, limit) in enumerate(CELLS.tolist()):
        network = Network(Source(volts, limit, "pps"), branches, ohm, 0.0, bus_a)
        alone = solve_network(network, gone)
        each = [float(amperes[at]) for amperes in found.branch_a.values()]
        told = [float(found.source_v[at]), float(found.bus_v[at]), float(found.current_a[at]), *each]
        expected = [NAN] * len(told)
        if alone is not None:
            expected = [alone.source_v, alone.bus_v, float(alone.current_a), *alone.port_a[: len(each)]]
        assert same(told, expected, rel=1e-8), (network, told, expected)
        assert bool(held[at]) == (alone is not None and alone.constant_current)
        for branch in branches if named else ():
            entry = found.bus_v[at] - branch.wire_ohm * found.branch_a[branch.name][at]
            assert same(float(found.input_v[branch.name][at]), float(entry))


def test_no_limit_is_none_and_scalars_are_a_shape_too() -> None:
    found = operating_points([Branch("h", Resistance(4.0), None, 1.0)], 20.0, 5.0)
    ten, two = np.array(10.0), np.array(2.0)
    expected = BulkPoint(np.array(20.0), ten, two, np.array(False), {"h": two}, {"h": np.array(8.0)})
    assert same(found, expected)
    assert found.bus_v.shape == found.branch_a["h"].shape == found.input_v["h"].shape == ()
    grid = operating_points([Branch("h", Resistance(4.0))], [[20.0], [10.0]], [0.0, 1.0, 4.0], limit_a=[[9.0]])
    assert same(grid.current_a, [[5.0, 4.0, 2.5], [2.5, 2.0, 1.25]])
    shapes = {each.shape for each in (*grid[:4], grid.branch_a["h"], grid.input_v["h"], grid.collapsed)}
    assert shapes == {(2, 3)}
    assert grid.collapsed.tolist() == [[False] * 3] * 2


def test_what_is_given_is_not_written_to() -> None:
    volts, ohms, limit = np.array([20.0]), np.array([1.0]), np.array([0.5])
    operating_points([Branch("h", Resistance(4.0))], volts, ohms, limit_a=limit)
    assert (volts.tolist(), ohms.tolist(), limit.tolist()) == ([20.0], [1.0], [0.5])


@pytest.mark.parametrize(("past", "held"), [(0.0, False), (-5e-10, False), (-5e-9, True)])
def test_on_the_limit_is_not_held(past: float, held: bool) -> None:
    found = operating_points([Branch("h", Resistance(9.0))], [20.0], [1.0], limit_a=[2.0 * (1.0 + past)])
    assert found.constant_current.tolist() == [held]


TABLE = TablePort(table_pieces((10.0, 20.0), (0.8, 0.9), 18.0, 0.0, 0.5))
PORTS: list[list[Port]] = [
    [],
    [LinearPort(3.0, 9.0)],
    [PowerPort(1.0, 25.0)],
    [CurrentPort(0.5, 4.0), LinearPort(3.0, 0.0)],
    [TABLE],
    [TABLE, PowerPort(0.25, 9.0)],
]


@pytest.mark.parametrize("ports", PORTS)
@pytest.mark.parametrize(("per_volt", "per_ampere"), [(1.0, 1.0), (1.0, 0.0), (0.0, 1.0)])
def test_roots_are_the_single_ones(ports: list[Port], per_volt: float, per_ampere: float) -> None:
    volts = np.array([-1.0, 0.0, 0.5, 4.0, 6.7, 9.0, 10.0, 11.125, 15.0, 20.0, 20.5, 40.0])
    given = volts.copy() if per_volt else np.full(volts.shape, 5.0)
    found = highest_roots(ports, given, per_volt, np.full(volts.shape, per_ampere), volts)
    for at, start_v in enumerate(volts.tolist()):
        root = highest_root(ports, float(given[at]), per_volt, per_ampere, start_v) if start_v > 0.0 else None
        assert same(float(found[at]), NAN if root is None else root, rel=1e-12)


def test_what_ports_draw_at_joints_and_beside_their_domain() -> None:
    joints = [piece.low_v for piece in TABLE.pieces]
    volts = [40.0, joints[0], 15.0, joints[1], 8.0, joints[2], 5.0, NAN]
    total, [tabled, power] = drawn([TABLE, PowerPort(0.25, 16.0)], np.array(volts))
    expected = [TABLE.current(each)[0] for each in volts[:6]]
    assert same(tabled, [*expected, NAN, NAN])
    beside = [PowerPort(0.25, 16.0).current(each)[0] for each in volts[:7]]
    assert same(power, [*beside, NAN])
    assert same(total, [*(one + other for one, other in zip(expected, beside, strict=False)), NAN, NAN])
    nothing, none = drawn([], np.array([20.0, NAN]))
    assert (same(nothing, [0.0, NAN]), none) == (True, [])


@pytest.mark.parametrize(("network", "limit_a", "expected"), ONE_BOX)
def test_latching_cells(network: Network, limit_a: float, expected: Latch | None) -> None:
    branches = network.branches
    volts, ohms, limits = (np.array([each]) for each in (network.source.open_v, network.series_ohm, limit_a))
    assert latching(branches, volts, ohms, limits, network.bus_a).tolist() == [expected is not None]
    factor = np.ones(1)
    assert latching(branches, volts, ohms, limits, network.bus_a, factor).tolist() == [expected is not None]


SLOW = Branch(
    "box", ConstantPower(12.0), BOOST._replace(efficiency=EfficiencyTable((3.0, 9.0), (1.0,), ((0.5,), (0.75,))))
)
BESIDE = {
    "alone": (BOX,),
    "fan": (BOX, Branch("fan", ConstantCurrent(1.0))),
    "driver": (Branch("d", LedDriver(2, 3.0, 1.0, 2.0), None, 0.25), BOX),
    "lamp": (BOX, Branch("lamp", ConstantPower(9.0))),
    "string": (BOX, Branch("s", LedString(2, 3.0, 6.0), None, 0.5)),
    "two": (BOX, Branch("two", ConstantPower(9.0), BOOST._replace(start_v=None, input_min_v=4.0), 1.0)),
    "silent": (BOX._replace(converter=BOOST._replace(start_v=None)), Branch("fan", ConstantCurrent(1.0))),
    "from nothing": (BOX._replace(converter=BOOST._replace(start_v=0.0)),),
    "table": (SLOW,),
    "table beside": (BOX, SLOW._replace(name="slow", wire_ohm=0.5)),
    "lead that cannot": (Branch("box", ConstantPower(50.0), Converter("buck", 5.0, 0.9, start_v=1.0), 0.0, 0.25),),
}


@pytest.mark.parametrize("name", BESIDE)
@pytest.mark.parametrize("factor", [None, 0.5, 1.5])
def test_starting_on_many_sources(name: str, factor: float | None) -> None:
    branches = BESIDE[name]
    if factor is not None and any(map(varies, branches)):
        return
    cells = np.array(list(itertools.product((0.0, 3.0, 5.0, 9.0), (0.0, 0.25, 1.0), (1.0, 4.0, 6.0, 7.0))))
    volts, ohms, limits = (column.copy() for column in cells.T)
    share = None if factor is None else np.full(volts.shape, factor)
    found = latching(branches, volts, ohms, limits, 0.125, share)
    for at, (open_v, ohm, limit_a) in enumerate(cells.tolist()):
        loads = [each.load for each in branches]
        if factor is not None:
            loads = [scaled(load, factor) for load in loads]
        loaded = tuple(each._replace(load=load) for each, load in zip(branches, loads, strict=True))
        alone = start_up(Network(Source(open_v), loaded, ohm, 0.0, 0.125), limit_a)
        assert bool(found[at]) == bool(alone), (open_v, ohm, limit_a)


def test_more_cells_than_are_taken_together() -> None:
    limits = np.where(np.arange(2100) % 7 == 3, 4.0, 6.0)
    volts, ohms, factor = np.full(2100, 9.0), np.zeros(2100), np.where(np.arange(2100) % 2, 1.0, 0.5)
    assert latching([BOX], volts, ohms, limits).tolist() == (limits == 4.0).tolist()
    assert latching([BOX], volts, ohms, limits, 0.0, factor).tolist() == ((limits == 4.0) & (factor == 1.0)).tolist()
