"""Latching low: the textbook case, other loads in the way, sources that never can, and wires."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.startup import start_up
from tests.circuit.making import a_converter, a_table, led_driver, of_current, of_power

BOX = Branch("box", of_power(13.5), a_converter("boost", 12.0, 0.9, start_v=3.0))


@settings(deadline=None)
@given(st.floats(1.0, 4.9), st.floats(1.0, 40.0), st.floats(0.5, 6.0))
def test_it_latches_exactly_where_the_power_over_the_start_voltage_is_more_than_the_source_gives(
    start_v: float, power_w: float, limit_a: float
) -> None:
    box = Branch("box", of_power(power_w), a_converter("boost", 12.0, 1.0, start_v=start_v))
    latches = start_up(Network(Source(5.0), (box,)), limit_a)
    wanted = power_w / start_v
    if wanted > limit_a * 1.0001:
        assert latches[0].input_v == start_v
        assert math.isclose(latches[0].wanted_a, wanted)
        if power_w / 5.0 < limit_a * 0.98:
            assert latches[0].start_v is not None
            assert math.isclose(latches[0].start_v, power_w / limit_a, rel_tol=1e-6)
        elif power_w / 5.0 > limit_a * 1.0001:
            assert latches[0].start_v is None
    elif wanted < limit_a * 0.9999:
        assert latches == ()


def test_another_load_takes_what_the_start_would_need() -> None:
    assert start_up(Network(Source(9.0), (BOX,)), 5.1) == ()
    fan = Branch("fan", of_current(0.5))
    [latch] = start_up(Network(Source(9.0), (BOX, fan)), 5.1)
    assert math.isclose(latch.available_a, 4.6)


def test_what_the_bus_itself_draws_is_gone_too() -> None:
    [latch] = start_up(Network(Source(9.0), (BOX,), bus_a=0.2), 5.1)
    assert math.isclose(latch.available_a, 4.9)


def test_the_resistance_of_the_cable_counts() -> None:
    # At 3 V in, 6 V over 1.5 ohm bring 4 A; 15 W want 5.
    assert start_up(Network(Source(9.0), (BOX,)), 5.5) == ()
    assert [latch.branch for latch in start_up(Network(Source(9.0), (BOX,), (("cable", 1.25),)), 9.0)] == ["box"]


def test_a_late_start_helps() -> None:
    late = BOX._replace(converter=a_converter("boost", 12.0, 0.9, start_v=8.0))
    assert start_up(Network(Source(9.0), (late,)), 2.0) == ()


def test_the_least_input_voltage_stands_in_and_without_any_nothing_is_said() -> None:
    least = BOX._replace(converter=a_converter("boost", 12.0, 0.9, input_min_v=3.0))
    assert start_up(Network(Source(9.0), (least,)), 4.0)[0].input_v == 3.0
    silent = BOX._replace(converter=a_converter("boost", 12.0, 0.9))
    assert start_up(Network(Source(9.0), (silent,)), 4.0) == ()


def test_a_driver_beside_waits_for_its_string() -> None:
    spot = Branch("spot", led_driver(2, 3.0, 1.0, headroom_v=1.0))
    assert start_up(Network(Source(9.0), (BOX, spot)), 5.1) == ()


def test_a_table_is_followed() -> None:
    table = a_table((3.0, 9.0), (1.0,), ((0.5,), (0.95,)))
    box = Branch("box", of_power(13.5), a_converter("boost", 12.0, table, start_v=3.0))
    [latch] = start_up(Network(Source(9.0), (box,)), 8.0)
    assert math.isclose(latch.wanted_a, 9.0)


@pytest.mark.parametrize("ohm", [10.0, 0.0])
def test_what_collapses_or_has_nothing_to_start_is_not_reported_here(ohm: float) -> None:
    branches = (BOX,) if ohm else (Branch("fan", of_current(0.5)),)
    assert start_up(Network(Source(5.0), branches, (("cable", ohm),)), 0.1) == ()
