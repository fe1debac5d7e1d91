"""The bus solved on edges: no source, no current, exactly at a limit, touching, and every branch as one piece."""

from __future__ import annotations

import pytest

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.physics.bus import BusSolution
from pdcheck.physics.ports import CurrentPort, LinearPort, PowerPort
from tests.circuit.making import highest_root, of_current, of_power, of_resistance, solve_bus, solve_network
from tests.circuit.nearly import same


def test_nothing_on_the_bus_leaves_the_source_as_it_is() -> None:
    assert solve_bus([], 20.0, 0.5) == BusSolution(20.0, 20.0, 0.0, False, ())
    assert solve_bus([], 0.5, 0.0) == BusSolution(0.5, 0.5, 0.0, False, ())
    assert solve_bus([], 0.0, 0.5) is None
    assert solve_bus([], -1.0, 0.5) is None


def test_currents_are_told_port_by_port() -> None:
    ports = [CurrentPort(0.0, 1.0), LinearPort(10.0, 0.0)]
    # 20 - 2.5 (1 + V / 10) = V
    found = solve_bus(ports, 20.0, 2.5)
    assert found is not None
    assert (found.bus_v, found.source_v, found.current_a) == pytest.approx((14.0, 20.0, 2.4))
    assert found.port_a == pytest.approx((1.0, 1.4))
    assert not found.constant_current


@pytest.mark.parametrize(("limit_a", "held"), [(2.0, False), (2.0 * (1 - 0.9e-9), False), (2.0 * (1 - 2e-9), True)])
def test_the_limit_itself_is_no_constant_current(limit_a: float, held: bool) -> None:
    found = solve_bus([LinearPort(9.0, 0.0)], 20.0, 1.0, limit_a)
    assert same(found, BusSolution(18.0, 20.0, 2.0, held, (2.0,)), rel=1e-7)


def test_a_held_current_lets_bus_and_source_fall() -> None:
    ports = [LinearPort(4.0, 0.0), CurrentPort(0.0, 0.5)]
    assert same(solve_bus(ports, 20.0, 1.0, 2.0), BusSolution(6.0, 8.0, 2.0, True, (1.5, 0.5)))
    assert solve_bus([CurrentPort(0.0, 2.5)], 20.0, 1.0, 2.0) is None
    assert same(solve_bus([LinearPort(0.25, 0.0)], 2.0, 1.0, 1.5), BusSolution(0.375, 1.875, 1.5, True, (1.5,)))
    assert solve_bus([LinearPort(0.25, 0.0)], 2.0, 1.0, 0.0) is None


def test_only_an_adjustable_supply_holds_its_current() -> None:
    heater = Branch("heater", of_resistance(4.0))
    trip, pps = (solve_network(Network(Source(20.0, holds), (heater,))) for holds in (None, 2.0))
    assert trip == BusSolution(20.0, 20.0, 5.0, False, (5.0,))
    assert same(pps, BusSolution(8.0, 8.0, 2.0, True, (2.0,)))


def test_a_network_is_solved_without_what_is_off_and_with_what_the_bus_draws() -> None:
    branches = (Branch("fan", of_current(1.0)), Branch("heater", of_resistance(18.0)))
    network = Network(Source(20.0), branches, (("cable", 1.0), ("trigger", 1.0)), 0.5)
    whole = solve_network(network)
    # 20 - 2 (1.5 + V / 18) = V
    assert same(whole, BusSolution(15.3, 20.0, 2.35, False, (1.0, 0.85, 0.5)))
    left = solve_network(network, frozenset({"heater"}))
    assert left == BusSolution(17.0, 20.0, 1.5, False, (1.0, 0.0, 0.5))


@pytest.mark.parametrize(("past", "solved"), [(0.0, True), (5e-11, True), (1e-9, False)])
def test_touching_counts_and_missing_does_not(past: float, solved: bool) -> None:
    found = solve_bus([PowerPort(0.0, 100.0 * (1.0 + past))], 20.0, 1.0)
    assert (found is not None) == solved
    if found:
        assert found.bus_v == pytest.approx(10.0, rel=1e-4)
    wire = solve_bus([PowerPort(1.0, 100.0 * (1.0 + past))], 20.0, 0.0)
    assert (wire is not None) == solved


def test_a_current_needs_more_than_nothing_at_its_terminals() -> None:
    assert solve_bus([CurrentPort(1.0, 10.0)], 20.0, 1.0) is None
    assert same(solve_bus([CurrentPort(1.0, 9.75)], 20.0, 1.0), BusSolution(10.25, 20.0, 9.75, False, (9.75,)))
    assert same(solve_bus([CurrentPort(1.0, 20.0)], 20.0, 0.0), BusSolution(20.0, 20.0, 20.0, False, (20.0,)))
    assert solve_bus([CurrentPort(1.0, 20.001)], 20.0, 0.0) is None


def test_the_root_at_its_very_start_and_below_the_domain() -> None:
    power = PowerPort(1.0, 25.0)
    assert highest_root([power], 0.0, 0.0, 0.0, 12.0) == 12.0
    assert highest_root([power], 10.0, 1.0, 0.0, 10.0) == 10.0
    assert highest_root([power], 9.9, 1.0, 0.0, 9.9) is None
    # 2 A of a resistance: given = sum of currents, from above.
    assert highest_root([LinearPort(3.0, 0.0)], 2.0, 0.0, 1.0, 20.0) == pytest.approx(6.0, rel=1e-12)
    # A string of LEDs that is dark below 9 V; the step from above lands on its knee and on.
    assert highest_root([LinearPort(3.0, 9.0)], 2.0, 0.0, 1.0, 20.0) == pytest.approx(15.0, rel=1e-12)


def test_a_constant_power_can_be_had_at_both_ends_of_a_wire() -> None:
    # 24 W behind 1 ohm on 10 V is 6 V at the load, whichever of the resistances is the cable's.
    for series, wire in ((1.0, 0.0), (0.25, 0.75), (0.0, 1.0)):
        found = solve_network(Network(Source(10.0), (Branch("a", of_power(24.0), None, wire),), (("cable", series),)))
        assert found is not None
        assert (found.bus_v - wire * found.current_a, found.current_a) == pytest.approx((6.0, 4.0), rel=1e-12)


@pytest.mark.parametrize("exponent", range(4, 11))
@pytest.mark.parametrize("threshold_v", [0.0, 2.75, 8.25, 8.314512])
def test_next_to_a_short_circuit_behind_a_voltage_it_is_solved(exponent: int, threshold_v: float) -> None:
    port_ohm = 10.0**-exponent
    found = solve_bus([LinearPort(port_ohm, threshold_v)], 8.55, 0.4)
    # Ohm's law for the whole loop; the current is as exact as the voltage that it is read off.
    amps = (8.55 - threshold_v) / (0.4 + port_ohm)
    assert found is not None
    assert found.current_a == pytest.approx(amps, rel=1e-9, abs=4e-15 / port_ohm)
