"""Branches as the bus sees them, complete; what a network says of itself, and what it draws when left alone."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    EfficiencyTable,
    LedDriver,
    LedString,
    Load,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.ports import (
    NOTHING,
    CurrentPort,
    LinearPort,
    Port,
    PowerPort,
    branch_port,
    converter_port,
    input_power,
    load_port,
    output_current,
)
from pdcheck.circuit.solve import network_ports
from pdcheck.circuit.table_port import TablePort
from pdcheck.errors import InputError

BUCK = Converter("buck", 12.0, 0.9, idle_w=0.3)
DRIVER = LedDriver(3, 3.5, 0.25, 1.0, 0.75)


@pytest.mark.parametrize(
    ("load", "port"),
    [
        (ConstantPower(24.0), PowerPort(0.5, 24.0)),
        (DRIVER, PowerPort(0.5, 3.5)),
        (ConstantCurrent(2.0), CurrentPort(0.5, 2.0)),
        (Resistance(6.0), LinearPort(6.5, 0.0)),
        (LedString(3, 3.4, 20.0), LinearPort(20.5, 3 * 3.4)),
    ],
)
def test_each_load_behind_a_resistance(load: Load, port: Port) -> None:
    assert load_port(load, 0.5) == port
    # On the bus itself wire and lead are one resistance; a converter has only the lead at its output.
    assert branch_port(Branch("a", load, None, 0.375, 0.125)) == port
    assert type(port) is type(load_port(load, 0.5))
    assert output_current(BUCK, Branch("a", load, BUCK, 0.375, 0.5)) == port.current(12.0)[0]


@pytest.mark.parametrize("load", [Resistance(0.0), LedString(1, 3.0, 0.0), Resistance(-1.0)])
def test_a_resistive_load_without_resistance_is_refused(load: Load) -> None:
    with pytest.raises(InputError) as refused:
        load_port(load, 0.0)
    assert str(refused.value) == "a resistive load without any resistance; expected more than 0 ohm"


def test_a_little_resistance_in_the_wire_is_enough() -> None:
    assert load_port(Resistance(0.0), 0.25) == LinearPort(0.25, 0.0)


def test_defaults_are_those_of_a_plain_part() -> None:
    assert Converter("buck", 12.0, 0.9) == (
        *("buck", 12.0, 0.9, 0.0, 0.0),
        *(None, None, None, None, None, None, None),
    )
    assert Source(20.0) == (20.0, None, "trip")
    assert Branch("a", Resistance(1.0)) == ("a", Resistance(1.0), None, 0.0, 0.0)
    assert Network(Source(20.0), ()) == (Source(20.0), (), 0.0, 0.0, 0.0)
    assert LedDriver(3, 3.5, 0.25) == (3, 3.5, 0.25, 0.0, 1.0)
    assert NOTHING.current(7.0) == (0.0, 0.0)
    assert NOTHING.least_v == 0.0


def test_strings_and_drivers_know_their_voltage_and_power() -> None:
    assert (DRIVER.string_v, DRIVER.power_w) == (10.5, 3.5)
    assert LedString(3, 3.5, 20.0).string_v == 10.5


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
        return output_current(BUCK, Branch("a", ConstantPower(watts), BUCK, 0.0, 1.0))

    assert amps(36.0) == pytest.approx(6.0)
    assert amps(36.0 * (1 + 1e-11)) == pytest.approx(6.0)
    assert amps(36.0 * (1 + 1e-9)) is None
    assert branch_port(Branch("a", ConstantPower(37.0), BUCK, 0.0, 1.0)) is None


def test_a_converter_on_its_wire() -> None:
    assert branch_port(Branch("mount", ConstantPower(27.0), BUCK, 0.1)) == pytest.approx(PowerPort(0.1, 30.3))
    assert converter_port(BUCK, 0.1, 2.25) == pytest.approx((0.1, 30.3))
    assert converter_port(BUCK, 0.1, 0.0) == (0.1, 0.3)


SLOPED = EfficiencyTable((10.0, 20.0), (1.0, 3.0), ((0.90, 0.80), (0.94, 0.80)))


def test_a_table_matters_only_where_its_rows_differ() -> None:
    sloped = BUCK._replace(efficiency=SLOPED)
    port = converter_port(sloped, 0.1, 1.0)
    assert isinstance(port, TablePort)
    top = port.pieces[0]
    assert (top.resistance_ohm, top.output_w, top.idle_w, top.offset, top.gradient) == (0.1, 12.0, 0.3, 0.94, 0.0)
    assert [piece.low_x for piece in port.pieces[:2]] == [20.0, 10.0]
    # At 3 A both rows say 80 %; without any output the table says nothing.
    assert converter_port(sloped, 0.1, 3.0) == pytest.approx((0.1, 45.3))
    assert converter_port(sloped, 0.1, 0.0) == (0.1, 0.3)


@pytest.mark.parametrize(
    ("efficiency", "volts", "watts"),
    [(0.96, 15.0, 25.2), (SLOPED, 10.0, 24.0 / 0.85 + 0.2), (SLOPED, 15.0, 24.0 / 0.86 + 0.2)],
)
def test_input_power(efficiency: Any, volts: float, watts: float) -> None:
    assert input_power(Converter("buck", 12.0, efficiency, idle_w=0.2), volts, 2.0) == pytest.approx(watts)


FAN, LAMP = Branch("fan", ConstantCurrent(0.5)), Branch("lamp", ConstantPower(12.0), None, 0.1)


def test_ports_of_a_network_in_order_then_the_bus() -> None:
    network = Network(Source(20.0), (FAN, LAMP), 0.25, 0.5, 0.125)
    assert network_ports(network) == [CurrentPort(0.0, 0.5), PowerPort(0.1, 12.0), CurrentPort(0.0, 0.125)]
    assert network_ports(network, frozenset({"fan"})) == [NOTHING, PowerPort(0.1, 12.0), CurrentPort(0.0, 0.125)]
    assert network_ports(network._replace(bus_a=0.0, branches=(FAN,))) == [CurrentPort(0.0, 0.5)]
    broken = Branch("strip", ConstantPower(37.0), BUCK, 0.0, 1.0)
    assert network_ports(network._replace(branches=(FAN, broken))) is None
    assert network_ports(network._replace(branches=(broken,), bus_a=0.0), frozenset({"strip"})) == [NOTHING]
    assert network.series_ohm == 0.75


@pytest.mark.parametrize(("branches", "known"), [((FAN, LAMP), "fan, lamp"), ((FAN,), "fan"), ((), "none at all")])
def test_a_branch_is_found_by_its_name(branches: tuple[Branch, ...], known: str) -> None:
    network = Network(Source(20.0), branches)
    assert [network.branch(branch.name) for branch in branches] == list(branches)
    with pytest.raises(InputError) as refused:
        network.branch("pump")
    assert str(refused.value) == f"no branch named 'pump'; expected one of {known}"
