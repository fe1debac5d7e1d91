"""Adjustable supplies: the step, the range, the current, and that the bus comes out where it was wanted."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.programmed import programmed_voltage
from tests.circuit.making import of_power, of_resistance
from tests.circuit.operating import operating_point

LAMP = Network(Source(0.0), (Branch("lamp", of_power(24.0)),), series=(("cable", 0.2),))
pps = partial(programmed_voltage, step_v=0.02, min_v=3.3, max_v=21.0, limit_a=3.0)


@settings(deadline=None)
@given(st.from_type(Network), st.floats(3.3, 20.0), st.sampled_from((0.02, 0.1)))
def test_the_bus_is_at_least_what_is_wanted_and_one_step_less_is_not(
    network: Network, wanted_v: float, step_v: float
) -> None:
    found = programmed_voltage(wanted_v, network, step_v=step_v, min_v=3.3, max_v=60.0, limit_a=None)
    if found.voltage_v is None:
        assert found.refusal in ("collapse", "above-range", "below-range")
        return
    steps = found.voltage_v / step_v
    assert math.isclose(steps, round(steps), rel_tol=1e-9)
    at = operating_point(network._replace(source=Source(found.voltage_v)))
    assert not isinstance(at, Collapse)
    assert math.isclose(at.nodes["bus"].voltage_v, found.bus_v, rel_tol=1e-9)
    assert found.bus_v >= wanted_v * (1 - 1e-6)
    below = operating_point(network._replace(source=Source(found.voltage_v - step_v)))
    assert isinstance(below, Collapse) or below.nodes["bus"].voltage_v < wanted_v * (1 + 1e-6)


def test_steps_of_pps_and_avs() -> None:
    assert pps(12.0, LAMP).voltage_v == 12.4
    assert pps(12.01, LAMP).voltage_v == 12.42
    assert pps(12.005, LAMP, rounding="nearest").voltage_v == 12.4
    avs = programmed_voltage(12.01, LAMP, step_v=0.1, min_v=9.0, max_v=20.0, limit_a=3.0)
    assert avs.voltage_v == 12.5
    assert avs.bus_v >= 12.01


@pytest.mark.parametrize(
    ("wanted_v", "changes", "refusal"),
    [
        (20.8, {}, "above-range"),
        (3.0, {"min_v": 9.0}, "below-range"),
        (9.0, {"limit_a": 2.5}, "over-current"),
        (2.0, {}, "collapse"),
    ],
)
def test_reasons_why_not(wanted_v: float, changes: dict[str, Any], refusal: str) -> None:
    found = pps(wanted_v, LAMP, **changes)
    assert found.voltage_v is None
    assert found.refusal == refusal


def test_the_top_of_the_range_itself_can_be_programmed() -> None:
    heater = Network(Source(0.0), (Branch("h", of_resistance(20.0)),), series=(("cable", 1.0),))
    assert pps(20.0, heater).voltage_v == 21.0
    assert pps(20.001, heater).refusal == "above-range"


def test_the_current_limit_itself_is_within() -> None:
    heater = Network(Source(0.0), (Branch("h", of_resistance(4.0)),))
    assert pps(12.0, heater).voltage_v == 12.0
    assert pps(12.02, heater).refusal == "over-current"
