"""Pieces of an efficiency table worked out by hand: joints, turning points, lines left out, a jump."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pdcheck.physics.ports import PowerPort
from pdcheck.physics.table import table_port
from tests.circuit.nearly import same

INF = math.inf
TIP = 10.5 + 10.0 / 10.5


@pytest.mark.parametrize(
    ("axis", "values", "load", "low_v", "low_x"),
    [
        # Without a wire the bus is the input, and each line a piece.
        ((10.0, 20.0), (0.8, 0.9), (18.0, 1.0, 0.0), (20.0, 10.0, 1e-6), (20.0, 10.0, 1e-6)),
        # 20 W at 20 V and 22.5 W at 10 V through half an ohm; the last turns at (0.5 x 22.5)^0.5 V.
        ((10.0, 20.0), (0.8, 0.9), (18.0, 0.0, 0.5), (20.5, 11.125, 45.0**0.5), (20.0, 10.0, 11.25**0.5)),
        # Every point of a longer table is a joint.
        ((10.0, 20.0, 40.0), (0.5, 0.9, 0.75), (9.0, 0.0, 0.0), (40.0, 20.0, 10.0, 1e-6), (40.0, 20.0, 10.0, 1e-6)),
        # 100 W through 9 ohm turn at 30 V, far above the one point of the table: what lies below has no part in it.
        ((20.0,), (0.8,), (80.0, 0.0, 9.0), (60.0, 60.0), (30.0, 30.0)),
        # The steep line between falls too fast to sit on, and the bus jumps from 10.5 V at the input to 7.4 V.
        ((10.0, 10.5), (0.3, 0.9), (9.0, 0.0, 1.0), (TIP, TIP, 120.0**0.5), (10.5, 10.5, 30.0**0.5)),
        # With 36 W below, which need 12 V, there is nothing to jump to.
        ((10.0, 10.5), (0.25, 0.9), (9.0, 0.0, 1.0), (TIP, TIP, TIP), (10.5, 10.5, 10.5)),
    ],
)
def test_pieces(
    axis: tuple[float, ...],
    values: tuple[float, ...],
    load: tuple[float, float, float],
    low_v: tuple[float, ...],
    low_x: tuple[float, ...],
) -> None:
    port = table_port(axis, values, *load)
    # A turning point is level: its voltage is exact where its place is known to half the digits.
    assert same(port.low_x, low_x, rel=1e-7)
    assert same(port.low_v, low_v, rel=1e-12)
    assert port.least_v == port.low_v[-1]
    # The same in many circuits, each with its own figures.
    output_w, idle_w, ohm = load
    rows = tuple(np.array([value, 1.0]) for value in values)
    many = table_port(axis, rows, np.array([output_w, 1.0]), idle_w, np.array([ohm, 0.0]))
    assert same([float(np.broadcast_to(each, 2)[0]) for each in many.low_v], list(low_v), rel=1e-12)


def test_lines_from_the_top_down() -> None:
    port = table_port((10.0, 20.0, 40.0), (0.5, 0.9, 0.75), 9.0, 0.0, 0.0)
    expected = [(40.0, INF, 0.75, 0.0), (20.0, 40.0, 1.05, -0.0075), (10.0, 20.0, 0.1, 0.04), (1e-6, 10.0, 0.5, 0.0)]
    assert same([tuple(line) for line in port.lines], expected)


def test_a_jump_and_what_lies_on_both_sides_of_it() -> None:
    port = table_port((10.0, 10.5), (0.3, 0.9), 9.0, 0.0, 1.0)
    below = 0.5 * (TIP + (TIP**2 - 120.0) ** 0.5)
    assert same([port.input_v(TIP + 1e-9), port.input_v(TIP)], [10.5, below], rel=1e-4)
    assert same(port.current(TIP)[0], 30.0 / below)
    assert (port.joint_v(20.0), port.joint_v(11.0)) == (port.low_v[0], port.least_v)


def test_a_turn_within_a_line() -> None:
    port = table_port((10.0, 20.0), (0.5, 0.9), 90.0, 0.0, 1.0)

    def bus_v(x: float) -> float:
        return x + 90.0 / ((0.1 + 0.04 * x) * x)

    # Of all inputs along the line none needs less of a bus.
    least = min(bus_v(10.0 + step / 1000) for step in range(10001))
    assert same(port.low_v[:2], (25.0, least), rel=1e-7)
    assert same(bus_v(port.low_x[1]), port.low_v[1])
    assert port.low_v[1] <= least


def test_a_flat_table_is_a_constant_power() -> None:
    port = table_port((10.0,), (0.8,), 16.0, 2.0, 0.5)
    assert same((port.low_v[0], port.least_v), (11.1, 44.0**0.5))
    for volts in (12.0, 40.0, 8.0, 6.7):
        assert same(port.current(volts), PowerPort(0.5, 22.0).current(volts), rel=1e-12)
        assert same(port.input_v(volts), volts - 0.5 * PowerPort(0.5, 22.0).current(volts)[0], rel=1e-12)
    # Below its least voltage a port stays at its end, and pulls as hard as it ever does.
    assert same(port.current(1.0)[0], 22.0 / 11.0**0.5, rel=1e-7)
    assert port.current(1.0)[1] < -1e6
    assert port.input_v(port.low_v[0]) == pytest.approx(10.0, rel=1e-12)


def test_along_a_slope_the_input_and_its_current_fit() -> None:
    port = table_port((10.0, 20.0), (0.8, 0.9), 18.0, 1.0, 0.5)
    for x in (10.5, 15.0, 19.5):
        amps = (18.0 / (0.7 + 0.01 * x) + 1.0) / x
        volts = x + 0.5 * amps
        assert same(port.input_v(volts), x, rel=1e-12)
        found, slope = port.current(volts)
        assert same(found, amps, rel=1e-12)
        assert slope == pytest.approx((port.current(volts + 1e-5)[0] - amps) / 1e-5, rel=1e-4)


def test_a_power_that_is_no_number_has_no_piece() -> None:
    assert table_port((10.0, 20.0), (0.8, 0.9), math.nan, 0.0, 0.5).least_v == INF
