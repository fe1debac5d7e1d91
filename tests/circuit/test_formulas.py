"""The formulas of the bus against figures worked out by hand, for floats and for arrays."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pdcheck.physics.formulas import greatest_power, least_voltage, linear_current, power_current, table_current
from tests.circuit.making import a_table


def test_maximum_power_transfer_both_ways() -> None:
    assert greatest_power(12.0, 0.5) == 72.0
    assert least_voltage(0.5, 72.0) == 12.0
    assert least_voltage(0.0, 72.0) == least_voltage(0.5, 0.0) == 0.0


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
    assert power_current(volts, ohm, watts) == pytest.approx((amps, slope), rel=1e-12)
    many, slopes = power_current(np.array([volts, volts]), ohm, watts)
    assert many.tolist() == pytest.approx([amps] * 2, rel=1e-12)
    assert slopes.tolist() == pytest.approx([slope] * 2, rel=1e-12)


def test_the_slope_at_maximum_power_transfer_is_a_pole_and_still_a_number() -> None:
    amps, slope = power_current(20.0, 1.0, 100.0)
    assert amps == 10.0
    assert -math.inf < slope < -1e300
    # A crumb past it counts as on it.
    assert power_current(20.0, 1.0, 100.0 * (1.0 + 1e-15))[0] == pytest.approx(10.0, rel=1e-12)


@pytest.mark.parametrize(
    ("volts", "threshold", "amps", "slope"),
    [(12.0, 9.0, 0.5, 1.0 / 6.0), (9.5, 9.0, 1.0 / 12.0, 1.0 / 6.0), (9.0, 9.0, 0.0, 0.0), (8.0, 9.0, 0.0, 0.0)],
)
def test_a_resistance_above_a_threshold(volts: float, threshold: float, amps: float, slope: float) -> None:
    assert linear_current(volts, 6.0, threshold) == pytest.approx((amps, slope), rel=1e-12)
    assert math.copysign(1.0, linear_current(volts, 6.0, threshold)[0]) == 1.0


def test_a_converter_on_one_line_of_its_table() -> None:
    # 45 W at 0.8 + 0.01 x 10 = 90 % are 50 W, and 5 W idle; a step of 1e-6 V tells the slope.
    amps, slope = table_current(10.0, 45.0, 5.0, 0.8, 0.01)
    assert amps == 5.5
    assert slope == pytest.approx(-(5.5 + 45.0 * 0.01 / 0.81) / 10.0, rel=1e-12)
    near = table_current(10.0 + 1e-6, 45.0, 5.0, 0.8, 0.01)[0]
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
