"""Tables in many cells at once: lines, joints and inputs worked out by hand, and the single branch's answers."""

from __future__ import annotations

import numpy as np
import pytest

from pdcheck.circuit.bulk_tables import Table, highest_with_tables
from pdcheck.circuit.network import EfficiencyTable
from pdcheck.circuit.ports import CurrentPort, Port, PowerPort
from pdcheck.circuit.solve import solve_bus
from pdcheck.circuit.table_port import TablePort, table_pieces
from tests.circuit.nearly import same

NAN = float("nan")
AXIS = (10.0, 20.0, 40.0)
# Two cells: one gets better and then worse with its input, the other the same all along.
ROWS = np.array([[0.5, 0.8], [0.9, 0.8], [0.75, 0.8]])
WATTS = np.array([9.0, 16.0])
BOTH = np.arange(2)


def table(wire_ohm: float = 0.5, idle_w: float = 1.0) -> Table:
    return Table(AXIS, ROWS, WATTS, idle_w, wire_ohm)


def port(cell: int, wire_ohm: float = 0.5, idle_w: float = 1.0) -> TablePort:
    # Flat rows are pieces like any others.
    return TablePort(table_pieces(AXIS, tuple(ROWS[:, cell].tolist()), float(WATTS[cell]), idle_w, wire_ohm))


def test_lines_of_a_table() -> None:
    found = table()
    assert found.low_v.tolist() == [1e-6, 10.0, 20.0, 40.0]
    assert same(found.gradient, [[0.0, 0.0], [0.04, 0.0], [-0.0075, 0.0], [0.0, 0.0]])
    assert same(found.offset, [[0.5, 0.8], [0.1, 0.8], [1.05, 0.8], [0.75, 0.8]])
    assert np.isnan(found.input_v).all()
    assert found.line.tolist() == [0, 0]


@pytest.mark.parametrize(
    ("volts", "line"), [(5.0, 0), (10.0, 0), (10.001, 1), (20.0, 1), (21.0, 2), (40.0, 2), (40.001, 3)]
)
def test_it_starts_at_the_bus_on_the_line_below(volts: float, line: int) -> None:
    found = table()
    bus_v = np.array([volts, 30.0])
    found.start(bus_v)
    assert found.line.tolist() == [line, 2]
    assert found.input_v.tolist() == [volts, 30.0]
    found.input_v[0] = 0.0
    assert bus_v[0] == volts


DOWN = (60.0, 41.0, 40.0, 30.0, 20.6, 20.0, 15.0, 10.9, 10.0, 8.0, 6.5)


def test_going_down_it_is_the_single_branch_at_every_voltage() -> None:
    found, ports = table(), (port(0), port(1))
    found.start(np.full(2, DOWN[0]))
    for volts in DOWN:
        amps, slopes = found.settle(BOTH, np.full(2, volts))
        for cell in range(2):
            assert same(float(amps[cell]), ports[cell].current(volts)[0])
            assert same(float(slopes[cell]), ports[cell].current(volts)[1], rel=1e-6)
            assert same(float(found.input_v[cell]), volts - 0.5 * float(amps[cell]))
    # 21 W behind half an ohm have their last at 42^0.5 V.
    amps, _ = found.settle(BOTH, np.full(2, 6.4))
    assert same(amps, [port(0).current(6.4)[0], NAN])
    assert np.isnan(found.input_v).tolist() == [False, True]


def test_cells_go_down_each_alone() -> None:
    found = table()
    found.start(np.full(2, 60.0))
    amps, _ = found.settle(np.array([1]), np.array([15.0]))
    assert same(amps, [port(1).current(15.0)[0]])
    assert (float(found.input_v[0]), found.line.tolist()) == (60.0, [3, 1])
    amps, _ = found.settle(np.array([1, 0]), np.array([9.0, 30.0]))
    assert same(amps, [port(1).current(9.0)[0], port(0).current(30.0)[0]])
    assert found.line.tolist() == [2, 0]


@pytest.mark.parametrize(("wire_ohm", "idle_w"), [(0.0, 0.0), (0.5, 1.0)])
def test_joints_are_where_each_line_ends(wire_ohm: float, idle_w: float) -> None:
    found = table(wire_ohm, idle_w)
    found.start(np.full(2, 60.0))
    for line, (low, first) in {3: (40.0, 0.75), 2: (20.0, 0.9), 1: (10.0, 0.5)}.items():
        found.line[:] = line
        expected = [low + wire_ohm * (watts / share + idle_w) / low for watts, share in ((9.0, first), (16.0, 0.8))]
        assert same(found.joint_v(BOTH), expected)
        assert same(found.joint_v(np.array([1])), expected[1:])


def test_without_a_wire_the_input_is_the_bus_and_a_point_belongs_to_the_line_below() -> None:
    found = table(0.0, 0.0)
    found.start(np.full(2, 60.0))
    for volts, line in ((60.0, 3), (40.0, 2), (25.0, 2), (20.0, 1), (10.0, 0), (5.0, 0), (0.5, 0)):
        amps, _ = found.settle(BOTH, np.full(2, volts))
        assert same(found.input_v, [volts] * 2)
        assert found.line.tolist() == [line] * 2
        share = EfficiencyTable(AXIS, (1.0,), tuple((value,) for value in ROWS[:, 0].tolist())).at(volts, 1.0)
        assert same(amps, [9.0 / share / volts, 20.0 / volts])


BUSES = (-1.0, 0.0, 1.0, 5.0, 6.4, 6.5, 8.0, 10.0, 10.95, 12.0, 20.0, 20.25, 21.0, 30.0, 40.0, 41.0, 60.0)


@pytest.mark.parametrize("series_ohm", [0.0, 0.25, 1.0, 5.0])
@pytest.mark.parametrize(("wire_ohm", "fan_a"), [(0.5, 0.0), (0.0, 0.25), (2.0, 0.25)])
def test_the_bus_with_two_tables_is_the_single_one(series_ohm: float, wire_ohm: float, fan_a: float) -> None:
    volts = np.array(BUSES)
    count = len(BUSES)
    first = Table(AXIS, ROWS[:, :1].repeat(count, axis=1), np.full(count, 9.0), 1.0, wire_ohm)
    other = Table((10.0, 12.0), np.array([[0.6] * count, [0.9] * count]), np.full(count, 2.0), 0.0, 0.5)

    def beside(cells: np.ndarray, bus_v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.full(bus_v.shape, fan_a), np.zeros(bus_v.shape)

    least = np.full(count, 3.0 * fan_a)
    found = highest_with_tables([first, other], beside, least, volts, np.full(count, series_ohm))
    ports: list[Port] = [
        port(0, wire_ohm),
        TablePort(table_pieces((10.0, 12.0), (0.6, 0.9), 2.0, 0.0, 0.5)),
        CurrentPort(3.0, fan_a),
    ]
    for at, open_v in enumerate(BUSES):
        alone = solve_bus(ports, open_v, series_ohm)
        assert same(float(found[at]), NAN if alone is None else alone.bus_v), open_v
        if alone is not None and series_ohm == 0.0:
            assert same(float(first.input_v[at]), open_v - wire_ohm * alone.port_a[0])


def test_the_others_decide_too_how_low_the_bus_may_be() -> None:
    flat = Table((10.0,), np.array([[0.8, 0.8]]), np.array([8.0, 8.0]), 0.0, 0.0)

    def beside(cells: np.ndarray, bus_v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.zeros(bus_v.shape), np.zeros(bus_v.shape)

    # 10 W behind 1 ohm on 7 V sit at 5 V, where the others may need 4.9 V or 5.1 V.
    found = highest_with_tables([flat], beside, np.array([4.9, 5.1]), np.full(2, 7.0), np.ones(2))
    assert same(found, [5.0, NAN])
    edge = highest_with_tables([flat], beside, np.array([7.0, 7.0001]), np.full(2, 7.0), np.zeros(2))
    assert same(edge, [7.0, NAN])


def test_a_joint_below_what_the_others_need_is_no_place_to_stop() -> None:
    # 5 W behind 2 ohm need 6.32 V, and 6.4 V behind 0.3 ohm do not bring them; at 5.8 V the table has its one point.
    idle = Table((5.8,), np.array([[0.8]]), np.array([0.0]), 0.0, 0.0)
    lamp = PowerPort(2.0, 5.0)

    def beside(cells: np.ndarray, bus_v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return lamp.current(bus_v)

    found = highest_with_tables([idle], beside, np.array([lamp.least_v]), np.array([6.4]), np.array([0.3]))
    assert np.isnan(found).tolist() == [True]
    assert solve_bus([lamp], 6.4, 0.3) is None
