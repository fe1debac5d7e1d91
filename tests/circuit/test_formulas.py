"""The formulas of the bus against figures worked out by hand, for floats and for arrays."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pdcheck.circuit.collapse import greatest_power
from pdcheck.physics.ports import LinearPort, PowerPort
from pdcheck.physics.table import table_port
from tests.circuit.making import a_table


def test_maximum_power_transfer_both_ways() -> None:
    assert greatest_power(12.0, 0.5) == 72.0
    assert PowerPort(0.5, 72.0).least_v == 12.0
    assert PowerPort(0.0, 72.0).least_v == PowerPort(0.5, 0.0).least_v == 0.0


@pytest.mark.parametrize(
    ("volts", "ohm", "watts", "amps", "slope"),
    [
        (10.0, 1.0, 24.0, 4.0, -2.0),
        (20.0, 0.0, 36.0, 1.8, -0.09),
        (20.0, 2.0, 32.0, 2.0, -2.0 / 12.0),
        (20.0, 2.0, 0.0, 0.0, 0.0),
    ],
)
def test_a_power_behind_a_resistance(volts: float, ohm: float, watts: float, amps: float, slope: float) -> None:
    assert PowerPort(ohm, watts).current(volts) == pytest.approx((amps, slope), rel=1e-12)
    many, slopes = PowerPort(ohm, watts).current(np.array([volts, volts]))
    assert many.tolist() == pytest.approx([amps] * 2, rel=1e-12)
    assert slopes.tolist() == pytest.approx([slope] * 2, rel=1e-12)


def test_the_slope_at_maximum_power_transfer_is_a_pole_and_still_a_number() -> None:
    amps, slope = PowerPort(1.0, 100.0).current(20.0)
    assert amps == 10.0
    assert -math.inf < slope < -1e300
    # A crumb past it counts as on it.
    assert PowerPort(1.0, 100.0 * (1.0 + 1e-15)).current(20.0)[0] == pytest.approx(10.0, rel=1e-12)


@pytest.mark.parametrize(
    ("volts", "threshold", "amps", "slope"),
    [(12.0, 9.0, 0.5, 1.0 / 6.0), (9.5, 9.0, 1.0 / 12.0, 1.0 / 6.0), (9.0, 9.0, 0.0, 0.0), (8.0, 9.0, 0.0, 0.0)],
)
def test_a_resistance_above_a_threshold(volts: float, threshold: float, amps: float, slope: float) -> None:
    assert LinearPort(6.0, threshold).current(volts) == pytest.approx((amps, slope), rel=1e-12)
    assert math.copysign(1.0, LinearPort(6.0, threshold).current(volts)[0]) == 1.0


def test_a_converter_on_one_line_of_its_table() -> None:
    # 45 W at 0.8 + 0.01 x 10 = 90 % are 50 W, and 5 W idle; a step of 1e-6 V tells the slope.
    port = table_port((5.0, 20.0), (0.85, 1.0), 45.0, 5.0, 0.0)
    amps, slope = port.current(10.0)
    assert amps == pytest.approx(5.5, rel=1e-12)
    assert slope == pytest.approx(-(5.5 + 45.0 * 0.01 / 0.81) / 10.0, rel=1e-12)
    near = port.current(10.0 + 1e-6)[0]
    assert (near - amps) / 1e-6 == pytest.approx(slope, rel=1e-5)


TABLE = a_table((10.0, 20.0, 40.0), (1.0, 3.0), ((0.90, 0.80), (0.94, 0.88), (0.92, 0.84)))


@pytest.mark.parametrize(
    ("volts", "amps", "efficiency"),
    [
        (10.0, 1.0, 0.90),
        (20.0, 3.0, 0.88),
        (40.0, 3.0, 0.84),
        (12.5, 1.0, 0.91),
        (10.0, 1.5, 0.875),
        (15.0, 2.0, 0.88),
        (35.0, 1.0, 0.925),
        (5.0, 0.1, 0.90),
        (5.0, 9.0, 0.80),
        (90.0, 0.1, 0.92),
        (90.0, 9.0, 0.84),
    ],
)
def test_a_table_is_bilinear_between_its_points_and_held_beyond_them(
    volts: float, amps: float, efficiency: float
) -> None:
    assert TABLE.at(volts, amps) == pytest.approx(efficiency, rel=1e-12)


def test_a_table_over_its_input() -> None:
    assert TABLE.over_input(2.0) == pytest.approx((0.85, 0.91, 0.88), rel=1e-12)
    assert a_table((10.0,), (1.0,), ((0.9,),)).at(3.0, 3.0) == 0.9
