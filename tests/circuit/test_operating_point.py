"""The operating point: Kirchhoff's laws and energy on random networks, the upper solution, branches off."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import OperatingPoint
from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.power import PowerLoad
from pdcheck.parts.loads.resistance import ResistanceLoad
from tests.circuit.making import a_converter, of_power, of_resistance
from tests.circuit.operating import operating_point


def solved(network: Network, off: frozenset[str] = frozenset()) -> OperatingPoint:
    point = operating_point(network, off)
    assert isinstance(point, OperatingPoint)
    return point


def collapsed(network: Network) -> Collapse:
    collapse = operating_point(network)
    assert isinstance(collapse, Collapse)
    return collapse


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
        taken, watts = branch.load, load.voltage_v * load.current_a
        if isinstance(taken, PowerLoad):
            assert math.isclose(watts, taken.power_w, rel_tol=1e-6, abs_tol=1e-9)
        elif isinstance(taken, CurrentLoad):
            assert load.current_a == taken.current_a
        elif isinstance(taken, ResistanceLoad):
            assert math.isclose(load.voltage_v, taken.resistance_ohm * load.current_a, rel_tol=1e-9)
        elif isinstance(taken, LedLoad) and taken.led.resistor_ohm is not None:
            above = max(load.voltage_v - taken.led.string_v, 0.0)
            assert math.isclose(above, taken.led.resistor_ohm * load.current_a, rel_tol=1e-6, abs_tol=1e-9)
        else:
            assert isinstance(taken, LedLoad)
            assert math.isclose(watts, taken.led.power_w / taken.led.efficiency, rel_tol=1e-6, abs_tol=1e-9)
            assert math.isclose(point.loads[branch.name], taken.led.power_w, rel_tol=1e-6, abs_tol=1e-9)


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
    point = solved(Network(Source(10.0), (Branch("a", of_power(24.0)),), (("cable", 0.75), ("trigger", 0.25))))
    assert math.isclose(point.nodes["bus"].voltage_v, 6.0)


@pytest.mark.parametrize("off_by", [1e-6, 1e-8])
def test_maximum_power_transfer_is_decided_exactly(off_by: float) -> None:
    for series, wire, lead in ((1.0, 0.0, 0.0), (0.0, 0.7, 0.3), (0.2, 0.5, 0.3), (1e-4, 0.9999, 0.0)):
        rig = Network(Source(20.0), (Branch("a", of_power(100.0), None, wire, lead),), (("cable", series),))
        at_limit = solved(rig).nodes["a/load"]
        assert math.isclose(at_limit.voltage_v, 10.0, rel_tol=1e-4)
        for share, expected in ((1.0 - off_by, OperatingPoint), (1.0 + off_by, Collapse)):
            branch = rig.branches[0]._replace(load=of_power(100.0 * share))
            assert isinstance(operating_point(rig._replace(branches=(branch,))), expected)


def test_a_lead_that_cannot_carry_the_load_is_named_with_its_watts() -> None:
    buck = a_converter("buck", 5.0, 0.9)
    collapse = collapsed(Network(Source(20.0), (Branch("strip", of_power(30.0), buck, 0.01, 0.25),), (("cable", 0.1),)))
    assert collapse.element == "strip/lead"
    assert (collapse.wanted_w, collapse.greatest_w) == (30.0, 25.0)
    assert math.isclose(collapse.scale, 25.0 / 30.0, rel_tol=1e-9)


def test_a_wire_that_cannot_even_on_a_stiff_bus_is_named() -> None:
    buck = a_converter("buck", 5.0, 0.8, idle_w=1.0)
    collapse = collapsed(Network(Source(10.0), (Branch("pump", of_power(32.0), buck, 1.0),), (("cable", 0.0),)))
    assert collapse.element == "pump/wire"
    assert math.isclose(collapse.wanted_w, 41.0)
    assert math.isclose(collapse.greatest_w, 25.0)
    assert math.isclose(collapse.scale, (25.0 - 1.0) * 0.8 / 32.0, rel_tol=1e-9)
    assert math.isclose(collapse.load_w, 19.2, rel_tol=1e-6)


def test_the_bus_is_named_with_the_watts_at_which_it_goes() -> None:
    boost = a_converter("boost", 24.0, 0.9)
    collapse = collapsed(
        Network(Source(9.0), (Branch("m", of_power(90.0), boost),), (("cable", 0.2), ("trigger", 0.05)))
    )
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
            network._replace(branches=tuple(b._replace(load=b.load.demand(factor)) for b in network.branches))
        )

    assert isinstance(at(collapse.scale * (1.0 - 1e-6)), OperatingPoint)
    assert isinstance(at(collapse.scale * (1.0 + 1e-6)), Collapse)


def test_constant_current_source_lets_a_resistance_sag_but_not_a_converter_run() -> None:
    source = Source(9.0, 2.0)
    point = solved(Network(source, (Branch("heater", of_resistance(3.0)),), (("cable", 0.5),)))
    assert point.constant_current
    assert math.isclose(point.nodes["bus"].voltage_v, 6.0)
    assert math.isclose(point.nodes["source"].voltage_v, 7.0)
    collapse = collapsed(Network(source, (Branch("box", of_power(20.0)),), (("cable", 0.5),)))
    assert collapse.element == "source"
    assert math.isclose(collapse.greatest_w, 16.0, rel_tol=1e-6)


def test_the_bus_draws_of_its_own() -> None:
    point = solved(Network(Source(20.0), (), (("cable", 1.0), ("trigger", 0.0)), 0.5))
    assert point.nodes["bus"].voltage_v == 19.5
    assert point.losses["bus"] == 9.75
