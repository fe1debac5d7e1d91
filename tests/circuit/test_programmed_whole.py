"""Programmed voltages, complete: what is programmed or wanted, what it gives, and why not."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.programmed import ProgrammedVoltage, programmed_voltage
from tests.circuit.making import a_converter, of_current, of_power, of_resistance
from tests.circuit.nearly import same

HEATER = Network(Source(0.0), (Branch("h", of_resistance(8.0)),), (("cable", 1.5), ("trigger", 0.5)))
coarse = partial(programmed_voltage, step_v=0.5, min_v=5.0, max_v=20.0, limit_a=None)


@pytest.mark.parametrize(
    ("wanted_v", "changes", "expected"),
    [
        # 8 V on 8 ohm: 1 A, 2 V lost on the way.
        (8.0, {}, ProgrammedVoltage(10.0, 8.0, 1.0, 10.0, None)),
        (8.04, {}, ProgrammedVoltage(10.5, 8.4, 1.05, 10.05, None)),
        (8.04, {"rounding": "nearest"}, ProgrammedVoltage(10.0, 8.0, 1.0, 10.05, None)),
        (8.3, {"rounding": "nearest"}, ProgrammedVoltage(10.5, 8.4, 1.05, 10.375, None)),
        (8.0 * (1 + 1e-12), {}, ProgrammedVoltage(10.0, 8.0, 1.0, 10.0, None)),
        (16.0, {}, ProgrammedVoltage(20.0, 16.0, 2.0, 20.0, None)),
        (16.04, {}, ProgrammedVoltage(None, 16.04, 2.005, 20.05, "above-range")),
        (16.0, {"max_v": 20.4}, ProgrammedVoltage(20.0, 16.0, 2.0, 20.0, None)),
        (16.2, {"max_v": 20.4}, ProgrammedVoltage(None, 16.2, 2.025, 20.25, "above-range")),
        (4.0, {}, ProgrammedVoltage(5.0, 4.0, 0.5, 5.0, None)),
        (3.2, {}, ProgrammedVoltage(None, 3.2, 0.4, 4.0, "below-range")),
        (4.0, {"min_v": 5.1}, ProgrammedVoltage(None, 4.0, 0.5, 5.0, "below-range")),
        (4.3, {"min_v": 5.1}, ProgrammedVoltage(5.5, 4.4, 0.55, 5.375, None)),
        (8.0, {"limit_a": 1.0}, ProgrammedVoltage(10.0, 8.0, 1.0, 10.0, None)),
        (8.0, {"limit_a": 1.0 - 5e-10}, ProgrammedVoltage(10.0, 8.0, 1.0, 10.0, None)),
        (8.0, {"limit_a": 1.0 - 5e-9}, ProgrammedVoltage(None, 8.0, 1.0, 10.0, "over-current")),
        (8.04, {"limit_a": 1.02}, ProgrammedVoltage(None, 8.4, 1.05, 10.05, "over-current")),
    ],
)
def test_a_heater(wanted_v: float, changes: dict[str, Any], expected: ProgrammedVoltage) -> None:
    assert same(coarse(wanted_v, HEATER, **changes), expected)


def lamp(watts: float, cable: float, wire: float = 0.0) -> Network:
    return Network(Source(0.0), (Branch("lamp", of_power(watts), None, wire),), (("cable", cable),))


def test_the_lower_of_two_voltages_is_no_place_to_sit() -> None:
    # 24 W through 1 ohm on 10 V: 6 V or 4 V; on either side of the top, at 24^0.5 V.
    assert same(coarse(6.0, lamp(24.0, 1.0)), ProgrammedVoltage(10.0, 6.0, 4.0, 10.0, None))
    assert same(coarse(4.0, lamp(24.0, 1.0)), ProgrammedVoltage(None, 4.0, 6.0, 10.0, "collapse"))
    assert same(coarse(5.0, lamp(25.0, 1.0)), ProgrammedVoltage(None, 5.0, 5.0, 10.0, "collapse"))
    assert coarse(5.001, lamp(25.0, 1.0)).refusal is None
    # The two alike drawn by two branches together.
    double = Network(Source(0.0), (lamp(12.0, 1.0).branches[0], Branch("b", of_power(12.0))), (("cable", 1.0),))
    assert coarse(4.5, double).refusal == "collapse"
    assert same(coarse(6.0, double), ProgrammedVoltage(10.0, 6.0, 4.0, 10.0, None))


def test_what_cannot_be_had_at_all() -> None:
    assert coarse(7.9, lamp(64.0, 0.0, 0.25)) == ProgrammedVoltage(None, 7.9, 0.0, 7.9, "collapse")
    assert coarse(8.0, lamp(64.0, 0.0, 0.25)).refusal is None
    box = Branch("box", of_power(50.0), a_converter("buck", 5.0, 0.9), 0.0, 0.25)
    assert coarse(9.0, Network(Source(0.0), (box,))) == ProgrammedVoltage(None, 9.0, 0.0, 9.0, "collapse")


def test_nearest_may_come_down_on_a_collapse() -> None:
    # Just above the least source voltage of 10 V a step down finds nothing.
    found = coarse(5.0001, lamp(25.0, 1.0), rounding="nearest", step_v=0.7)
    assert same(found, ProgrammedVoltage(None, 5.0001, 25.0 / 5.0001, 5.0001 + 25.0 / 5.0001, "collapse"))


def test_a_fine_step_leaves_no_crumbs() -> None:
    fan = Network(Source(0.0), (Branch("fan", of_current(0.5)),), (("cable", 0.25),))
    found = programmed_voltage(9.0, fan, step_v=0.02, min_v=5.0, max_v=11.0, limit_a=3.0)
    assert found.voltage_v == 9.14
    assert same(found, ProgrammedVoltage(9.14, 9.015, 0.5, 9.125, None))
