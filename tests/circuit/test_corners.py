"""Tolerance: which corners are looked at, what each one does to the network, and min / typ / max over them."""

from __future__ import annotations

import math

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import (
    TYPICAL,
    WORST,
    BranchSpec,
    Conductor,
    Corner,
    NetworkSpec,
    corners,
    network_at,
    spec_corners,
)
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.loads.led import LedLoad
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, a_table, led_string, of_power, of_resistance
from tests.circuit.operating import operating_point

MOUNT = BranchSpec(
    "mount", of_power(24.0), a_converter("buck-boost", 12.0, 0.9, idle_w=0.3), Conductor(0.04, 0.01), Conductor(0.06)
)
STRIP = BranchSpec("strip", led_string(3, 3.4, 30.0), None, Conductor(0.02))
FULL = NetworkSpec(
    Triple(19.0, 20.0, 21.0),
    (MOUNT, STRIP),
    series=(("cable", Triple(0.0, 0.125, 0.25)), ("trigger", Triple.exact(0.02))),
    resistance=Triple(0.9, 1.0, 1.1),
    efficiency=Triple(0.95, 1.0, 1.05),
    load=Triple(0.9, 1.0, 1.1),
    copper=Triple(0.92, 1.0, 1.25),
)


def test_every_combination_is_looked_at_and_what_is_exact_is_not() -> None:
    assert len(spec_corners(FULL)) == 1 + 2**6
    assert len(set(spec_corners(FULL))) == 1 + 2**6
    plain = FULL._replace(resistance=Triple.exact(1.0), load=Triple.exact(1.0), series=())
    assert len(spec_corners(plain)) == 1 + 2**3
    assert spec_corners(NetworkSpec(Triple.exact(20.0), ())) == [TYPICAL]


def test_a_corner_reaches_each_part() -> None:
    network = network_at(FULL, WORST)
    assert network.source.open_v == 19.0
    assert network.series[0] == ("cable", 0.25)  # a range is its own tolerance
    assert math.isclose(network.series[1][1], 0.022)
    mount, strip = network.branches
    assert math.isclose(mount.wire_ohm, 0.04 * 1.1 * 1.25 + 0.01 * 1.1)
    assert mount.converter is not None
    assert math.isclose(mount.converter.efficiency, 0.855)  # type: ignore[arg-type]
    assert mount.load == of_power(24.0 * 1.1)
    assert isinstance(strip.load, LedLoad)
    assert math.isclose(strip.load.led.resistor_ohm or 0.0, 27.0)


def test_efficiency_stays_below_one() -> None:
    table = a_table((5.0,), (1.0,), ((0.99,),))
    spec = FULL._replace(branches=(MOUNT._replace(converter=a_converter("buck", 5.0, table)),))
    converter = network_at(spec, Corner(efficiency=1)).branches[0].converter
    assert converter is not None
    assert isinstance(converter.efficiency, EfficiencyTable)
    assert converter.efficiency.values == ((1.0,),)


def test_triples_are_the_extremes_of_the_corners() -> None:
    triple = corners(FULL)
    assert triple.collapse is None
    assert triple.collapsed == ()
    points = [operating_point(network_at(FULL, corner)) for corner in spec_corners(FULL)]
    for name, node in triple.nodes.items():
        volts = [point.nodes[name].voltage_v for point in points if not isinstance(point, Collapse)]
        amps = [point.nodes[name].current_a for point in points if not isinstance(point, Collapse)]
        assert node.voltage_v == Triple(min(volts), volts[0], max(volts))
        assert node.current_a == Triple(min(amps), amps[0], max(amps))
        assert node.voltage_v.min <= node.voltage_v.typ <= node.voltage_v.max
    for name, loss in triple.losses.items():
        assert loss.min <= loss.typ <= loss.max, name


def test_the_bus_is_highest_and_lowest_where_it_should_be() -> None:
    triple = corners(FULL._replace(branches=(MOUNT,)))
    assert math.isclose(triple.nodes["bus"].voltage_v.min, triple.points[WORST].nodes["bus"].voltage_v)
    best = Corner(*(-end for end in WORST))
    assert math.isclose(triple.nodes["bus"].voltage_v.max, triple.points[best].nodes["bus"].voltage_v)


def test_a_resistive_branch_draws_more_through_less_wire_so_both_ends_matter() -> None:
    heater = BranchSpec("heater", of_resistance(5.0), None, Conductor(0.5))
    spec = NetworkSpec(
        Triple.exact(20.0), (heater,), series=(("cable", Triple.exact(0.5)),), copper=Triple(0.8, 1.0, 1.2)
    )
    triple = corners(spec)
    assert math.isclose(triple.nodes["bus"].voltage_v.max, 20.0 * 5.6 / 6.1)
    assert math.isclose(triple.nodes["bus"].voltage_v.min, 20.0 * 5.4 / 5.9)


def test_corners_that_collapse_are_named_and_the_rest_still_counts() -> None:
    spec = NetworkSpec(
        Triple(9.0, 10.0, 11.0), (BranchSpec("a", of_power(24.0)),), series=(("cable", Triple.exact(1.0)),)
    )
    triple = corners(spec)
    assert triple.collapsed == (Corner(source=-1),)
    assert triple.collapse is not None
    assert math.isclose(triple.collapse.greatest_w, 81.0 / 4.0, rel_tol=1e-6)
    assert math.isclose(triple.nodes["bus"].voltage_v.typ, 6.0)
    typical_gone = corners(spec._replace(source_v=Triple(8.0, 9.0, 11.0)))
    assert typical_gone.typical is None
    assert typical_gone.nodes == {}
    assert typical_gone.source_w is None


def test_branches_can_be_off_in_every_corner() -> None:
    triple = corners(FULL, frozenset({"mount"}))
    assert triple.nodes["mount/in"].current_a == Triple(0.0, 0.0, 0.0)
    assert triple.nodes["strip/in"].current_a.min > 0.0
