"""Pieces of an efficiency table worked out by hand: joints, turning points, lines left out, a jump."""

from __future__ import annotations

import math

import pytest

from pdcheck.circuit.formulas import power_current
from pdcheck.circuit.table_port import TablePiece, TablePort, table_pieces
from tests.circuit.nearly import same

INF = math.inf


def of(watts: float, ohm: float, idle: float = 0.0) -> tuple[float, float, float]:
    return ohm, watts, idle


@pytest.mark.parametrize(
    ("axis", "values", "load", "expected"),
    [
        # Without a wire the bus is the input, and each line a piece.
        (
            (10.0, 20.0),
            (0.8, 0.9),
            of(18.0, 0.0, 1.0),
            [
                TablePiece(20.0, INF, 20.0, INF, 0.0, 18.0, 1.0, 0.9, 0.0),
                TablePiece(10.0, 20.0, 10.0, 20.0, 0.0, 18.0, 1.0, 0.7, 0.01),
                TablePiece(1e-6, 10.0, 1e-6, 10.0, 0.0, 18.0, 1.0, 0.8, 0.0),
            ],
        ),
        # 20 W at 20 V and 22.5 W at 10 V through half an ohm; the last turns at (0.5 x 22.5)^0.5 V.
        (
            (10.0, 20.0),
            (0.8, 0.9),
            of(18.0, 0.5),
            [
                TablePiece(20.5, INF, 20.0, INF, 0.5, 18.0, 0.0, 0.9, 0.0),
                TablePiece(11.125, 20.5, 10.0, 20.0, 0.5, 18.0, 0.0, 0.7, 0.01),
                TablePiece(45.0**0.5, 11.125, 11.25**0.5, 10.0, 0.5, 18.0, 0.0, 0.8, 0.0),
            ],
        ),
        # Every point of a longer table is a joint.
        (
            (10.0, 20.0, 40.0),
            (0.5, 0.9, 0.75),
            of(9.0, 0.0),
            [
                TablePiece(40.0, INF, 40.0, INF, 0.0, 9.0, 0.0, 0.75, 0.0),
                TablePiece(20.0, 40.0, 20.0, 40.0, 0.0, 9.0, 0.0, 1.05, -0.0075),
                TablePiece(10.0, 20.0, 10.0, 20.0, 0.0, 9.0, 0.0, 0.1, 0.04),
                TablePiece(1e-6, 10.0, 1e-6, 10.0, 0.0, 9.0, 0.0, 0.5, 0.0),
            ],
        ),
        # 100 W through 9 ohm turn at 30 V, far above the one point of the table: what lies below has no part in it.
        ((20.0,), (0.8,), of(80.0, 9.0), [TablePiece(60.0, INF, 30.0, INF, 9.0, 80.0, 0.0, 0.8, 0.0)]),
        # The steep line between falls too fast to sit on, and the bus jumps from 10.5 V at the input to 7.4 V.
        (
            (10.0, 10.5),
            (0.3, 0.9),
            of(9.0, 1.0),
            [
                TablePiece(10.5 + 10.0 / 10.5, INF, 10.5, INF, 1.0, 9.0, 0.0, 0.9, 0.0),
                TablePiece(
                    120.0**0.5,
                    10.5 + 10.0 / 10.5,
                    30.0**0.5,
                    0.5 * (10.5 + 10.0 / 10.5 + ((10.5 + 10.0 / 10.5) ** 2 - 120.0) ** 0.5),
                    *(1.0, 9.0, 0.0, 0.3, 0.0),
                ),
            ],
        ),
        # With 36 W below, which need 12 V, there is nothing to jump to.
        (
            (10.0, 10.5),
            (0.25, 0.9),
            of(9.0, 1.0),
            [TablePiece(10.5 + 10.0 / 10.5, INF, 10.5, INF, 1.0, 9.0, 0.0, 0.9, 0.0)],
        ),
    ],
)
def test_pieces(
    axis: tuple[float, ...], values: tuple[float, ...], load: tuple[float, float, float], expected: list[TablePiece]
) -> None:
    ohm, watts, idle = load
    found = table_pieces(axis, values, watts, idle, ohm)
    # A turning point is level: its voltage is exact where its place is known to half the digits.
    assert same(list(found), expected, rel=1e-7)
    assert same([piece.low_v for piece in found], [piece.low_v for piece in expected], rel=1e-12)
    assert [piece.least_v for piece in found] == [piece.low_v for piece in found]
    assert TablePort(found).least_v == found[-1].low_v


def test_a_turn_within_a_line() -> None:
    pieces = table_pieces((10.0, 20.0), (0.5, 0.9), 90.0, 0.0, 1.0)
    top, sloped = pieces
    assert same((top.low_v, sloped.high_v, sloped.high_x), (25.0, 25.0, 20.0))

    def bus_v(x: float) -> float:
        return x + 90.0 / ((0.1 + 0.04 * x) * x)

    # Of all inputs along the line none needs less of a bus.
    least = min(bus_v(10.0 + step / 1000) for step in range(10001))
    assert same(sloped.low_v, least, rel=1e-7)
    assert same(bus_v(sloped.low_x), sloped.low_v)
    assert sloped.low_v <= least


FLAT = table_pieces((10.0,), (0.8,), 16.0, 2.0, 0.5)


def test_a_flat_table_is_a_constant_power() -> None:
    top, low = FLAT
    for piece, volts in ((top, 12.0), (top, 40.0), (low, 8.0), (low, 6.7)):
        assert same(piece.current(volts), power_current(volts, 0.5, 22.0), rel=1e-12)
        x = piece.input_v(volts)
        assert same(x, volts - 0.5 * power_current(volts, 0.5, 22.0)[0], rel=1e-12)
        assert same(piece.bus_v(x), (volts, 1.0 - 0.5 * 22.0 / x / x), rel=1e-12)
    assert same(top.low_v, 11.1)
    # Below its least voltage a piece stays at its end, and pulls as hard as it ever does.
    assert top.input_v(11.0) == 10.0
    assert same(low.current(1.0)[0], 22.0 / 11.0**0.5, rel=1e-7)
    assert low.current(1.0)[1] < -1e6
    assert top.input_v(top.low_v) == pytest.approx(10.0, rel=1e-12)


def test_a_port_takes_the_piece_above_at_a_joint() -> None:
    port = TablePort(FLAT)
    assert port.least_v == FLAT[1].low_v == pytest.approx(44.0**0.5)
    assert [FLAT.index(port.piece(volts)) for volts in (40.0, 11.2, FLAT[0].low_v, 11.0, 7.0, 6.0, 0.5)] == [
        *(0, 0, 0),
        *(1, 1, 1, 1),
    ]
    for volts in (12.0, 8.0):
        assert same(port.current(volts), power_current(volts, 0.5, 22.0), rel=1e-12)


def test_along_a_slope_the_input_and_its_current_fit() -> None:
    [_, sloped, _] = table_pieces((10.0, 20.0), (0.8, 0.9), 18.0, 1.0, 0.5)
    for x in (10.5, 15.0, 19.5):
        amps = (18.0 / (0.7 + 0.01 * x) + 1.0) / x
        volts = x + 0.5 * amps
        assert same(sloped.input_v(volts), x, rel=1e-12)
        found, slope = sloped.current(volts)
        assert same(found, amps, rel=1e-12)
        assert slope == pytest.approx((sloped.current(volts + 1e-5)[0] - amps) / 1e-5, rel=1e-4)
