"""The operating point: Kirchhoff's laws and energy on random networks, the upper solution, flags, branches off."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse, scaled
from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    LedDriver,
    LedString,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.operating import operating_point
from pdcheck.circuit.point import OperatingPoint
from pdcheck.errors import InputError


def solved(network: Network, off: frozenset[str] = frozenset()) -> OperatingPoint:
    point = operating_point(network, off)
    assert isinstance(point, OperatingPoint)
    return point


def collapsed(network: Network) -> Collapse:
    collapse = operating_point(network)
    assert isinstance(collapse, Collapse)
    return collapse


def kinds(point: OperatingPoint) -> set[tuple[str, str]]:
    return {(flag.node, flag.kind) for flag in point.flags}


@settings(deadline=None)
@given(st.from_type(Network))
def test_laws_hold_at_every_node(network: Network) -> None:
    point = operating_point(network)
    if isinstance(point, Collapse):
        assert 0.0 <= point.scale < 1.0
        return
    nodes = point.nodes
    source, bus = nodes["source"], nodes["bus"]
    entering = sum(nodes[f"{branch.name}/in"].current_a for branch in network.branches) + network.bus_a
    assert math.isclose(bus.current_a, entering, rel_tol=1e-9, abs_tol=1e-12)
    drop = network.series_ohm * source.current_a
    assert math.isclose(source.voltage_v - drop, bus.voltage_v, rel_tol=1e-9)
    for branch in network.branches:
        entry, exit_, load = (nodes[f"{branch.name}/{end}"] for end in ("in", "out", "load"))
        assert math.isclose(bus.voltage_v - branch.wire_ohm * entry.current_a, entry.voltage_v, rel_tol=1e-9)
        drop = branch.lead_ohm * exit_.current_a
        assert math.isclose(exit_.voltage_v - drop, load.voltage_v, rel_tol=1e-9, abs_tol=1e-9)
        if branch.converter is not None:
            efficiency = branch.converter.efficiency
            if not isinstance(efficiency, float):
                efficiency = efficiency.at(entry.voltage_v, exit_.current_a)
            wanted = exit_.voltage_v * exit_.current_a / efficiency + branch.converter.idle_w
            assert math.isclose(entry.voltage_v * entry.current_a, wanted, rel_tol=1e-6, abs_tol=1e-9)
        else:
            assert entry == exit_
        match branch.load:
            case ConstantPower(power_w):
                assert math.isclose(load.voltage_v * load.current_a, power_w, rel_tol=1e-6, abs_tol=1e-9)
            case ConstantCurrent(current_a):
                assert load.current_a == current_a
            case Resistance(ohm):
                assert math.isclose(load.voltage_v, ohm * load.current_a, rel_tol=1e-9)
            case LedString() as string:
                above = max(load.voltage_v - string.string_v, 0.0)
                assert math.isclose(above, string.resistor_ohm * load.current_a, rel_tol=1e-6, abs_tol=1e-9)
            case LedDriver() as driver:
                assert math.isclose(load.voltage_v * load.current_a, driver.power_w, rel_tol=1e-6, abs_tol=1e-9)


@settings(deadline=None)
@given(st.from_type(Network))
def test_energy_is_kept(network: Network) -> None:
    point = operating_point(network)
    if isinstance(point, OperatingPoint):
        used = sum(point.losses.values()) + sum(point.loads.values())
        assert math.isclose(point.source_w, used, rel_tol=1e-8, abs_tol=1e-9)
        assert all(loss >= -1e-9 for loss in point.losses.values())


@settings(deadline=None)
@given(st.from_type(Network), st.data())
def test_a_branch_that_is_off_is_as_good_as_gone(network: Network, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from([branch.name for branch in network.branches]))
    without = network._replace(branches=tuple(b for b in network.branches if b.name != name))
    left, gone = operating_point(network, frozenset({name})), operating_point(without)
    if isinstance(gone, Collapse):
        assert isinstance(left, Collapse)
        return
    assert isinstance(left, OperatingPoint)
    assert left.nodes["bus"] == gone.nodes["bus"]
    assert left.nodes[f"{name}/in"].current_a == 0.0
    assert left.nodes[f"{name}/load"].voltage_v == 0.0


def test_the_higher_of_two_solutions_is_taken() -> None:
    # 10 V behind 1 ohm at 24 W sits at 6 V or at 4 V.
    point = solved(Network(Source(10.0), (Branch("a", ConstantPower(24.0)),), 0.75, 0.25))
    assert math.isclose(point.nodes["bus"].voltage_v, 6.0)


@pytest.mark.parametrize("off_by", [1e-6, 1e-8])
def test_maximum_power_transfer_is_decided_exactly(off_by: float) -> None:
    for series, wire, lead in ((1.0, 0.0, 0.0), (0.0, 0.7, 0.3), (0.2, 0.5, 0.3), (1e-4, 0.9999, 0.0)):
        rig = Network(Source(20.0), (Branch("a", ConstantPower(100.0), None, wire, lead),), series)
        at_limit = solved(rig).nodes["a/load"]
        assert math.isclose(at_limit.voltage_v, 10.0, rel_tol=1e-4)
        for share, expected in ((1.0 - off_by, OperatingPoint), (1.0 + off_by, Collapse)):
            branch = rig.branches[0]._replace(load=ConstantPower(100.0 * share))
            assert isinstance(operating_point(rig._replace(branches=(branch,))), expected)


def test_a_lead_that_cannot_carry_the_load_is_named_with_its_watts() -> None:
    buck = Converter("buck", 5.0, 0.9)
    collapse = collapsed(Network(Source(20.0), (Branch("strip", ConstantPower(30.0), buck, 0.01, 0.25),), 0.1))
    assert collapse.element == "strip/lead"
    assert (collapse.wanted_w, collapse.greatest_w) == (30.0, 25.0)
    assert math.isclose(collapse.scale, 25.0 / 30.0, rel_tol=1e-9)


def test_a_wire_that_cannot_even_on_a_stiff_bus_is_named() -> None:
    buck = Converter("buck", 5.0, 0.8, idle_w=1.0)
    collapse = collapsed(Network(Source(10.0), (Branch("pump", ConstantPower(32.0), buck, 1.0),), 0.0))
    assert collapse.element == "pump/wire"
    assert math.isclose(collapse.wanted_w, 41.0)
    assert math.isclose(collapse.greatest_w, 25.0)
    assert math.isclose(collapse.scale, (25.0 - 1.0) * 0.8 / 32.0, rel_tol=1e-9)
    assert math.isclose(collapse.load_w, 19.2, rel_tol=1e-6)


def test_the_bus_is_named_with_the_watts_at_which_it_goes() -> None:
    boost = Converter("boost", 24.0, 0.9)
    collapse = collapsed(Network(Source(9.0), (Branch("m", ConstantPower(90.0), boost),), 0.2, 0.05))
    assert collapse.element == "bus"
    assert math.isclose(collapse.greatest_w, 81.0, rel_tol=1e-6)
    assert math.isclose(collapse.load_w, 72.9, rel_tol=1e-6)
    assert math.isclose(collapse.wanted_w, 100.0, rel_tol=1e-9)


@settings(deadline=None)
@given(st.from_type(Network))
def test_the_scale_of_a_collapse_is_where_it_happens(network: Network) -> None:
    collapse = operating_point(network)
    if isinstance(collapse, OperatingPoint) or collapse.scale == 0.0:
        return

    def at(factor: float) -> OperatingPoint | Collapse:
        return operating_point(
            network._replace(branches=tuple(b._replace(load=scaled(b.load, factor)) for b in network.branches))
        )

    assert isinstance(at(collapse.scale * (1.0 - 1e-6)), OperatingPoint)
    assert isinstance(at(collapse.scale * (1.0 + 1e-6)), Collapse)


def test_constant_current_source_lets_a_resistance_sag_but_not_a_converter_run() -> None:
    source = Source(9.0, 2.0, "pps")
    point = solved(Network(source, (Branch("heater", Resistance(3.0)),), 0.5))
    assert point.constant_current
    assert math.isclose(point.nodes["bus"].voltage_v, 6.0)
    assert math.isclose(point.nodes["source"].voltage_v, 7.0)
    assert kinds(point) == {("source", "constant-current")}
    collapse = collapsed(Network(source, (Branch("box", ConstantPower(20.0)),), 0.5))
    assert collapse.element == "source"
    assert math.isclose(collapse.greatest_w, 16.0, rel_tol=1e-6)


def test_a_fixed_supply_past_its_limit_is_flagged_and_the_limit_itself_is_not() -> None:
    for amps, flagged in ((3.0, set()), (3.01, {("source", "source-current")})):
        point = solved(Network(Source(20.0, 3.0), (Branch("a", ConstantCurrent(amps)),), 0.1))
        assert kinds(point) == flagged


@pytest.mark.parametrize(
    ("converter", "expected"),
    [
        (Converter("buck-boost", 12.0, 0.9, input_min_v=15.0), set()),
        (Converter("buck-boost", 12.0, 0.9, input_min_v=15.1), {("a/in", "input-low")}),
        (Converter("buck-boost", 12.0, 0.9, input_max_v=14.0), {("a/in", "input-high")}),
        (Converter("buck-boost", 12.0, 0.9, start_v=16.0), {("a/in", "start-low")}),
        (Converter("buck", 12.0, 0.9, dropout_v=3.0), set()),
        (Converter("buck", 12.0, 0.9, dropout_v=3.1), {("a/in", "dropout")}),
        (Converter("boost", 12.0, 0.9), {("a/in", "output-below-input")}),
        (Converter("boost", 15.0, 0.9), set()),
        (Converter("buck-boost", 12.0, 0.9, input_limit_a=1.7), {("a/in", "input-current")}),
        (Converter("buck-boost", 12.0, 0.9, input_limit_w=26.0), {("a/in", "input-power")}),
        (Converter("buck-boost", 12.0, 0.9, output_limit_a=2.0), set()),
        (Converter("buck-boost", 12.0, 0.9, output_limit_a=1.99), {("a/out", "output-current")}),
        (Converter("buck-boost", 12.0, 0.9, output_limit_w=23.9), {("a/out", "output-power")}),
    ],
)
def test_converter_limits_are_flagged(converter: Converter, expected: set[tuple[str, str]]) -> None:
    load = ConstantPower(2.0 * converter.output_v)
    assert kinds(solved(Network(Source(15.0), (Branch("a", load, converter),)))) == expected


def test_a_dark_string_and_a_driver_without_headroom_are_flagged() -> None:
    string = Branch("strip", LedString(3, 3.4, 20.0))
    driver = Branch("spot", LedDriver(3, 3.4, 0.25, headroom_v=1.0))
    assert kinds(solved(Network(Source(9.0), (string, driver)))) == {
        ("strip/load", "led-dark"),
        ("spot/load", "led-headroom"),
    }
    assert kinds(solved(Network(Source(12.0), (string, driver)))) == set()


def test_a_short_is_refused() -> None:
    with pytest.raises(InputError):
        operating_point(Network(Source(5.0), (Branch("a", LedString(1, 3.0, 0.0)),)))


def test_the_bus_draws_of_its_own() -> None:
    point = solved(Network(Source(20.0), (), 1.0, 0.0, 0.5))
    assert point.nodes["bus"].voltage_v == 19.5
    assert point.losses["bus"] == 9.75
