"""Sums that stand alone, complete: rows of LED strings, drops, wires, and what each refuses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pdcheck.circuit.drop import Drop, drop, loop_resistance_from_readings
from pdcheck.circuit.led import LedOnVoltage, on_driver, on_resistor, with_resistor
from pdcheck.circuit.wire import LeastWire, WireCost, least_area_mm2, least_cross_section, least_gauge, wire_cost
from pdcheck.errors import InputError
from pdcheck.parts.wire import Wire
from tests.circuit.nearly import same


def dark(supply_v: float, over_v: float) -> LedOnVoltage:
    return LedOnVoltage(supply_v, over_v, False, 0.0, None, 0.0, 0.0, 0.0, 0.0)


def test_rows_of_a_string_with_its_resistor() -> None:
    # 3 LEDs of 3 V at 0.5 A on 15 V: 6 V over, 12 ohm, 4.5 W of 7.5 W reach the LEDs.
    assert same(
        with_resistor(3, 3.0, 0.5, [5.0, 9.0, 15.0]),
        [dark(5.0, -4.0), dark(9.0, 0.0), LedOnVoltage(15.0, 6.0, True, 0.5, 12.0, 4.5, 3.0, 7.5, 0.4)],
    )
    assert with_resistor(1, 3.0, 0.5, []) == []


def test_rows_of_a_string_on_a_resistor_that_is_there() -> None:
    assert same(
        on_resistor(3, 3.0, 12.0, [5.0, 9.0, 15.0]),
        [
            LedOnVoltage(5.0, -4.0, False, 0.0, 12.0, 0.0, 0.0, 0.0, 0.0),
            LedOnVoltage(9.0, 0.0, False, 0.0, 12.0, 0.0, 0.0, 0.0, 0.0),
            LedOnVoltage(15.0, 6.0, True, 0.5, 12.0, 4.5, 3.0, 7.5, 0.4),
        ],
    )


def test_rows_of_a_string_on_a_driver() -> None:
    assert same(
        on_driver(3, 3.0, 0.5, [9.5, 10.0, 15.0], headroom_v=1.0, efficiency=0.75),
        [
            dark(9.5, -0.5),
            LedOnVoltage(10.0, 0.0, True, 0.5, None, 4.5, 1.5, 6.0, 0.25),
            LedOnVoltage(15.0, 5.0, True, 0.5, None, 4.5, 1.5, 6.0, 0.25),
        ],
    )
    # A driver of which nothing is said needs nothing and wastes nothing.
    assert same(on_driver(3, 3.0, 0.5, [9.0]), [LedOnVoltage(9.0, 0.0, True, 0.5, None, 4.5, 0.0, 4.5, 0.0)])


def test_one_led_at_little_is_a_string() -> None:
    assert with_resistor(1, 0.5, 0.5, [1.5])[0].resistor_ohm == 2.0
    assert on_resistor(1, 0.5, 0.5, [1.0])[0].current_a == 1.0
    assert on_driver(1, 0.5, 0.5, [1.0])[0].lights


def test_drops() -> None:
    assert drop(0.25, 3.0) == Drop(0.75, 2.25)
    assert loop_resistance_from_readings(20.0, 19.0, 0.5) == 2.0
    assert loop_resistance_from_readings(20.0, 20.0, 0.5) == 0.0


STRING = "expected at least one LED, a voltage and a current above 0"


@pytest.mark.parametrize(
    ("refused", "told"),
    [
        (lambda: with_resistor(0, 3.0, 0.5, [9.0]), f"0 LEDs of 3.0 V at 0.5 A; {STRING}"),
        (lambda: with_resistor(3, 0.0, 0.5, [9.0]), f"3 LEDs of 0.0 V at 0.5 A; {STRING}"),
        (lambda: with_resistor(3, 3.0, 0.0, [9.0]), f"3 LEDs of 3.0 V at 0.0 A; {STRING}"),
        (lambda: on_resistor(3, 0.0, 12.0, [9.0]), f"3 LEDs of 0.0 V at 1.0 A; {STRING}"),
        (lambda: on_resistor(3, 3.0, 0.0, [9.0]), "a series resistor of 0.0 ohm; expected more than 0 ohm"),
        (lambda: on_driver(3, 3.0, -0.5, [9.0]), f"3 LEDs of 3.0 V at -0.5 A; {STRING}"),
        (
            lambda: on_driver(3, 3.0, 0.5, [9.0], efficiency=0.0),
            "an efficiency of 0.0; expected above 0, at most 1",
        ),
        (
            lambda: on_driver(3, 3.0, 0.5, [9.0], efficiency=1.001),
            "an efficiency of 1.001; expected above 0, at most 1",
        ),
        (
            lambda: loop_resistance_from_readings(20.0, 19.0, 0.0),
            "a current of 0.0 A; expected more than 0 A, flowing while both voltages are read",
        ),
        (
            lambda: loop_resistance_from_readings(19.0, 20.0, 1.0),
            "20.0 V at the sink is above 19.0 V at the source;"
            " expected both meters read at the same current, the first at the source",
        ),
    ],
)
def test_what_makes_no_sense_is_refused_with_what_would(refused: Callable[[], Any], told: str) -> None:
    with pytest.raises(InputError) as error:
        refused()
    assert str(error.value) == told


def test_what_a_wire_costs() -> None:
    wire = Wire(mm2=1.0, length_m=5.0, contacts_ohm=0.005)
    assert same(wire_cost(wire, 2.0), WireCost(wire, 0.2, 0.4, 0.8, wire.ampacity_a()))
    assert same(wire_cost(wire, 2.0, 70.0).resistance_ohm, 0.195 * (1 + 0.00393 * 50) + 0.005)


def test_the_thinnest_metric_wire_by_drop_and_by_warmth() -> None:
    # 39, 26, 19.5, 13.3 and 7.98 ohm/km; over 5 m and back at 1 A.
    def least(drop_v: float, amps: float = 1.0, **others: Any) -> LeastWire | None:
        return least_cross_section(5.0, amps, drop_v, **others)

    for drop_v, mm2 in ((0.39, 0.5), (0.389, 0.75), (0.26, 0.75), (0.25, 1.0), (0.14, 1.5), (0.0798, 2.5)):
        found = least(drop_v)
        assert found is not None
        assert (found.cost.wire, found.decided_by) == (Wire(mm2=mm2, length_m=5.0), "drop")
    assert least(0.0797) is None
    assert least(0.39 * (1 - 5e-10)) == least(0.39)
    warm = least(9.0, 8.0)
    assert warm is not None
    assert warm.decided_by == "warmth"
    thinner = {0.75: 0.5, 1.0: 0.75, 1.5: 1.0, 2.5: 1.5}[warm.cost.wire.mm2 or 0.0]
    assert Wire(mm2=thinner, length_m=5.0).ampacity_a() < 8.0 <= warm.cost.ampacity_a
    with_contacts = least(0.27, contacts_ohm=0.01)
    assert with_contacts is not None
    assert with_contacts.cost.wire == Wire(mm2=0.75, length_m=5.0, contacts_ohm=0.01)
    assert least(0.39, temperature_c=21.0) == LeastWire(wire_cost(Wire(mm2=0.75, length_m=5.0), 1.0, 21.0), "drop")


def test_a_wire_just_at_its_ampacity_is_cool_enough() -> None:
    limit = Wire(mm2=0.5, length_m=0.5).ampacity_a()
    for amps, mm2 in ((limit, 0.5), (limit * (1 + 5e-10), 0.5), (limit * (1 + 1e-8), 0.75)):
        found = least_cross_section(0.5, amps, 9.0)
        assert found is not None
        assert found.cost.wire.mm2 == mm2


def test_the_thinnest_gauge_and_its_ends() -> None:
    finest = least_gauge(0.01, 0.001, 1.0)
    assert finest is not None
    assert (finest.cost.wire, finest.decided_by) == (Wire(awg=40, length_m=0.01), "drop")
    thickest = wire_cost(Wire(awg=0, length_m=100.0), 1.0)
    assert least_gauge(100.0, 1.0, thickest.drop_v) == LeastWire(thickest, "drop")
    assert least_gauge(100.0, 1.0, thickest.drop_v * 0.999) is None
    solid = Wire(awg=20, length_m=2.0, contacts_ohm=0.02)
    stranded = solid.model_copy(update={"stranded": True})
    for wire, amps, celsius in ((solid, 3.0, 20.0), (stranded, 3.0, 20.0), (stranded, 3.0, 60.0)):
        cost = wire_cost(wire, amps, celsius)
        found = least_gauge(2.0, amps, cost.drop_v, contacts_ohm=0.02, stranded=wire.stranded, temperature_c=celsius)
        assert found == LeastWire(cost, "drop")
    assert least_gauge(2.0, 3.0, wire_cost(solid, 3.0).drop_v, contacts_ohm=0.02).cost.wire == solid  # type: ignore[union-attr]


def test_the_copper_for_a_drop() -> None:
    # 2 rho l I / V with rho = 1 / 58 ohm mm2/m; the contacts' share of the drop is gone before.
    plain = 2 * 2.0 / 58.0 * 3.0 / 0.3
    assert same(least_area_mm2(2.0, 3.0, 0.3), plain)
    assert same(least_area_mm2(2.0, 3.0, 0.3, contacts_ohm=0.05), plain * 2.0)
    assert same(least_area_mm2(2.0, 3.0, 0.3, stranded=True), plain * 1.03)
    assert same(least_area_mm2(2.0, 3.0, 0.3, temperature_c=70.0), plain * (1 + 0.00393 * 50))
    assert least_area_mm2(2.0, 3.0, 0.75, contacts_ohm=0.25) is None
    assert least_area_mm2(2.0, 3.0, 0.7, contacts_ohm=0.25) is None
    assert same(least_area_mm2(2.0, 4.0, 3.0, contacts_ohm=0.25), 2 * 2.0 / 58.0 / 0.5)
