"""Sums that stand alone: drop, LED strings."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.circuit.drop import drop, loop_resistance_from_readings
from pdcheck.circuit.led import on_driver, on_resistor, with_resistor
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import OperatingPoint
from pdcheck.errors import InputError
from tests.circuit.making import led_string
from tests.circuit.operating import operating_point

positive = st.floats(1e-3, 1e3)


@given(positive, positive)
def test_readings_give_back_the_resistance(ohm: float, amps: float) -> None:
    source_v = 2.0 * ohm * amps
    read = loop_resistance_from_readings(source_v, source_v - drop(ohm, amps).drop_v, amps)
    assert math.isclose(read, ohm, rel_tol=1e-9)


@pytest.mark.parametrize("readings", [(20.0, 19.0, 0.0), (20.0, 19.0, -1.0), (19.0, 20.0, 1.0)])
def test_readings_that_make_no_sense_are_refused(readings: tuple[float, float, float]) -> None:
    with pytest.raises(InputError):
        loop_resistance_from_readings(*readings)


@given(st.integers(1, 10), st.floats(1.8, 3.6), st.floats(0.01, 1.0), st.floats(40.0, 60.0))
def test_the_chosen_resistor_gives_the_current_in_the_circuit_too(
    leds: int, vf_v: float, amps: float, supply_v: float
) -> None:
    [row] = with_resistor(leds, vf_v, amps, [supply_v])
    assert row.resistor_ohm is not None
    assert math.isclose(on_resistor(leds, vf_v, row.resistor_ohm, [supply_v])[0].current_a, amps)
    point = operating_point(Network(Source(supply_v), (Branch("s", led_string(leds, vf_v, row.resistor_ohm)),)))
    assert isinstance(point, OperatingPoint)
    assert math.isclose(point.nodes["s/load"].current_a, amps, rel_tol=1e-9)
    assert math.isclose(point.losses["s/resistor"], row.waste_w, rel_tol=1e-6)
    assert math.isclose(row.led_w + row.waste_w, row.supply_w)


def test_three_white_leds_on_the_usual_voltages() -> None:
    rows = on_driver(3, 3.4, 0.25, [5.0, 9.0, 11.2, 15.0, 20.0], headroom_v=1.0, efficiency=0.9)
    assert [row.lights for row in rows] == [False, False, True, True, True]
    assert math.isclose(rows[1].over_v, -2.2)
    assert math.isclose(rows[4].waste_share, 0.1)
    assert [row.lights for row in with_resistor(3, 3.4, 0.25, [9.0, 10.2, 15.0])] == [False, False, True]


def test_strings_that_are_none_are_refused() -> None:
    with pytest.raises(InputError):
        with_resistor(0, 3.4, 0.25, [9.0])
    with pytest.raises(InputError):
        on_resistor(3, 3.4, 0.0, [9.0])
    with pytest.raises(InputError):
        on_driver(3, 3.4, 0.0, [9.0])
    with pytest.raises(InputError):
        on_driver(3, 3.4, 0.25, [9.0], efficiency=1.2)
