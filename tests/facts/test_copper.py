"""Copper against published tables: a university's wire table, a wire chart of rounded diameters, IEC 60228."""

from __future__ import annotations

import math

import pytest

from pdcheck.facts import copper

FOOT_M = 0.3048

# ohm per 1000 ft at 20 degrees C, unrounded diameters: a university's wire table [checked]
UNROUNDED = {18: 6.385, 20: 10.15, 22: 16.14, 24: 25.67, 26: 40.81, 28: 64.90}
# the same from diameters rounded to 0.1 mil: a published wire chart (AWG 18 to 26), 28 recomputed [checked]
ROUNDED = {18: 6.386, 20: 10.13, 22: 16.20, 24: 25.67, 26: 41.02, 28: 65.33}
# IEC 60228 class 5, plain, ohm/km at 20 degrees C: two suppliers' copies [checked]
CLASS_5 = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98}


@pytest.mark.parametrize(("awg", "ohm"), UNROUNDED.items())
def test_gauge_resistance_is_that_of_the_unrounded_table(awg: int, ohm: float) -> None:
    assert copper.awg_ohm_per_m(awg) * 1000 * FOOT_M == pytest.approx(ohm, rel=0.0005)


@pytest.mark.parametrize(("awg", "ohm"), ROUNDED.items())
def test_gauge_resistance_is_near_that_of_the_rounded_table(awg: int, ohm: float) -> None:
    assert copper.awg_ohm_per_m(awg) * 1000 * FOOT_M == pytest.approx(ohm, rel=0.007)


@pytest.mark.parametrize(("area", "ohm"), CLASS_5.items())
def test_metric_resistance_is_that_of_the_table(area: float, ohm: float) -> None:
    assert copper.metric_ohm_per_m(area) == pytest.approx(ohm / 1000, rel=1e-12)


def test_gauge_law_has_its_two_fixed_points() -> None:
    assert copper.awg_diameter_m(36) == pytest.approx(0.127e-3)
    assert copper.awg_diameter_m(-3) == pytest.approx(92 * 0.127e-3)  # AWG 0000 is 0.46 inch
    assert copper.awg_diameter_m(-3) == pytest.approx(0.46 * 0.0254, rel=1e-3)


def test_resistivity_is_that_of_the_standard() -> None:
    assert pytest.approx(0.017241e-6, abs=0.5e-12) == copper.RESISTIVITY.value


def test_a_size_between_two_of_the_table_is_never_taken_for_better_than_copper() -> None:
    for step in range(5, 1000):
        area = step / 100
        solid = copper.RESISTIVITY.value / (area * 1e-6)
        assert solid < copper.metric_ohm_per_m(area) < 1.2 * solid


def test_thinner_wire_resists_more_and_carries_less() -> None:
    ohm = [copper.awg_ohm_per_m(awg) for awg in range(41)]
    amps = [copper.ampacity_a(copper.awg_ohm_per_m(awg), copper.awg_diameter_m(awg)) for awg in range(41)]
    assert ohm == sorted(ohm)
    assert amps == sorted(amps, reverse=True)


def test_temperature_moves_resistance_by_its_coefficient() -> None:
    assert copper.awg_ohm_per_m(20, 30.0) / copper.awg_ohm_per_m(20) == pytest.approx(1.0393)
    assert copper.metric_ohm_per_m(1.0, 120.0) == pytest.approx(0.0195 * 1.393)


def test_ampacity_is_the_heat_balance() -> None:
    ohm, diameter, rise = copper.awg_ohm_per_m(22), copper.awg_diameter_m(22), 30.0
    current = copper.ampacity_a(ohm, diameter, rise)
    heat = current**2 * copper.awg_ohm_per_m(22, 20.0 + rise)
    assert heat == pytest.approx(10.0 * math.pi * diameter * rise)
