"""Branches as the bus sees them, complete; what a network says of itself, and what it draws when left alone."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from pdcheck.circuit.network import Branch, Network, Source, position
from pdcheck.errors import InputError
from pdcheck.parts.loads import Load
from pdcheck.physics.ports import (
    NOTHING,
    CurrentPort,
    LinearPort,
    Port,
    PowerPort,
)
from pdcheck.physics.table import TablePort
from tests.circuit.making import (
    a_converter,
    a_table,
    changed,
    led_driver,
    led_string,
    of_current,
    of_power,
    of_resistance,
)

BUCK = a_converter("buck", 12.0, 0.9, idle_w=0.3)
DRIVER = led_driver(3, 3.5, 0.25, 1.0, 0.75)


@pytest.mark.parametrize(
    ("load", "port"),
    [
        (of_power(24.0), PowerPort(0.5, 24.0)),
        (DRIVER, PowerPort(0.5, 3.5)),
        (of_current(2.0), CurrentPort(0.5, 2.0)),
        (of_resistance(6.0), LinearPort(6.5, 0.0)),
        (led_string(3, 3.4, 20.0), LinearPort(20.5, 3 * 3.4)),
    ],
)
def test_each_load_behind_a_resistance(load: Load, port: Port) -> None:
    assert load.port(0.5) == port
    # On the bus itself wire and lead are one resistance; a converter has only the lead at its output.
    assert Branch("a", load, None, 0.375, 0.125).port() == port
    assert type(port) is type(load.port(0.5))
    assert Branch("a", load, BUCK, 0.375, 0.5).output_a() == port.current(12.0)[0]


def test_defaults_are_those_of_a_plain_part() -> None:
    assert Source(20.0) == (20.0, None)
    assert Branch("a", of_resistance(1.0)) == ("a", of_resistance(1.0), None, 0.0, 0.0, None, None, 0.0, None, None, ())
    assert Network(Source(20.0), ()) == (Source(20.0), (), (), 0.0, None)
    assert NOTHING.current(7.0) == (0.0, 0.0)
    assert NOTHING.least_v == 0.0


def test_least_voltages() -> None:
    assert PowerPort(0.25, 16.0).least_v == 4.0
    assert CurrentPort(0.25, 16.0).least_v == 4.0
    assert LinearPort(0.25, 16.0).least_v == 0.0


def test_a_current_is_the_same_at_any_voltage_even_none() -> None:
    assert CurrentPort(0.5, 2.0).current(0.0) == CurrentPort(0.5, 2.0).current(9.0) == (2.0, 0.0)
    amps, slope = CurrentPort(0.5, 2.0).current(np.array([0.0, 9.0, math.nan]))
    assert (amps.tolist()[:2], slope.tolist()[:2]) == ([2.0, 2.0], [0.0, 0.0])
    assert math.isnan(amps[2]) and math.isnan(slope[2])


def test_a_lead_at_its_maximum_delivers_and_past_it_does_not() -> None:
    # 12 V through 1 ohm: at most 36 W, at 6 A.
    def amps(watts: float) -> float | None:
        return Branch("a", of_power(watts), BUCK, 0.0, 1.0).output_a()

    assert amps(36.0) == pytest.approx(6.0)
    assert amps(36.0 * (1 + 1e-11)) == pytest.approx(6.0)
    assert math.isnan(amps(36.0 * (1 + 1e-9)) or 0.0)
    port = Branch("a", of_power(37.0), BUCK, 0.0, 1.0).port()
    assert isinstance(port, PowerPort)
    assert math.isnan(port.power_w)


def test_a_converter_on_its_wire() -> None:
    assert Branch("mount", of_power(27.0), BUCK, 0.1).port() == pytest.approx(PowerPort(0.1, 30.3))
    assert BUCK.port(0.1, 2.25) == pytest.approx((0.1, 30.3))
    assert BUCK.port(0.1, 0.0) == (0.1, 0.3)


SLOPED = a_table((10.0, 20.0), (1.0, 3.0), ((0.90, 0.80), (0.94, 0.80)))


def test_a_table_matters_only_where_its_rows_differ() -> None:
    sloped = changed(BUCK, efficiency=SLOPED)
    port = sloped.port(0.1, 1.0)
    assert isinstance(port, TablePort)
    assert (port.resistance_ohm, port.output_w, port.idle_w, port.lines[0].offset) == (0.1, 12.0, 0.3, 0.94)
    assert port.low_x[:2] == (20.0, 10.0)
    # At 3 A both rows say 80 %; without any output the table says nothing.
    for volts in (6.0, 15.0, 40.0):
        assert sloped.port(0.1, 3.0).current(volts) == pytest.approx(PowerPort(0.1, 45.3).current(volts))
        assert sloped.port(0.1, 0.0).current(volts) == pytest.approx(PowerPort(0.1, 0.3).current(volts))


@pytest.mark.parametrize(
    ("efficiency", "volts", "watts"),
    [(0.96, 15.0, 25.2), (SLOPED, 10.0, 24.0 / 0.85 + 0.2), (SLOPED, 15.0, 24.0 / 0.86 + 0.2)],
)
def test_input_power(efficiency: Any, volts: float, watts: float) -> None:
    assert a_converter("buck", 12.0, efficiency, idle_w=0.2).input_power_for(24.0, volts) == pytest.approx(watts)


FAN, LAMP = Branch("fan", of_current(0.5)), Branch("lamp", of_power(12.0), None, 0.1)


def test_ports_of_a_network_in_order_then_the_bus() -> None:
    network = Network(Source(20.0), (FAN, LAMP), (("cable", 0.25), ("trigger", 0.5)), 0.125)
    assert network.ports() == [CurrentPort(0.0, 0.5), PowerPort(0.1, 12.0), CurrentPort(0.0, 0.125)]
    assert network.ports(frozenset({"fan"})) == [NOTHING, PowerPort(0.1, 12.0), CurrentPort(0.0, 0.125)]
    assert network._replace(bus_a=0.0, branches=(FAN,)).ports() == [CurrentPort(0.0, 0.5)]
    broken = Branch("strip", of_power(37.0), BUCK, 0.0, 1.0)
    [_, lost, _] = network._replace(branches=(FAN, broken)).ports()
    assert math.isnan(lost.least_v)
    assert network._replace(branches=(broken,), bus_a=0.0).ports(frozenset({"strip"})) == [NOTHING]
    assert network.series_ohm == 0.75


@pytest.mark.parametrize(("branches", "known"), [((FAN, LAMP), "fan, lamp"), ((FAN,), "fan"), ((), "none at all")])
def test_a_branch_is_found_by_its_name(branches: tuple[Branch, ...], known: str) -> None:
    assert [position(branches, branch.name) for branch in branches] == list(range(len(branches)))
    with pytest.raises(InputError) as refused:
        position(branches, "pump")
    assert str(refused.value) == f"no branch named 'pump'; expected one of {known}"
