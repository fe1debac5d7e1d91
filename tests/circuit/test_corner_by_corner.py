"""Every quantity at each of its ends, one at a time, and whole results over two corners worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import (
    EXACT,
    TYPICAL,
    WORST,
    BranchSpec,
    Conductor,
    Corner,
    NetworkSpec,
    NodeTriple,
    OperatingTriple,
    corners,
    end_of,
    network_at,
    networks,
    spec_corners,
)
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.parts.loads import Load
from pdcheck.quantities import Triple
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
from tests.circuit.nearly import same

BUCK = a_converter("buck", 12.0, 0.8, idle_w=0.5)
SPEC = NetworkSpec(
    Triple(19.0, 20.0, 22.0),
    (
        BranchSpec("box", of_power(10.0), BUCK, Conductor(0.1, 0.02), Conductor(0.2, 0.04)),
        BranchSpec("fan", of_current(2.0)),
    ),
    holds_a=3.0,
    series=(("cable", Triple(0.0, 0.1, 0.3)), ("trigger", Triple(0.05, 0.05, 0.05))),
    bus_a=0.01,
    resistance=Triple(0.5, 1.0, 1.5),
    efficiency=Triple(0.75, 1.0, 1.125),
    load=Triple(0.5, 1.0, 1.25),
    copper=Triple(0.5, 1.0, 2.0),
)
STATED = Network(
    Source(20.0, 3.0),
    (Branch("box", of_power(10.0), BUCK, 0.12, 0.24), Branch("fan", of_current(2.0))),
    (("cable", 0.1), ("trigger", 0.05)),
    0.01,
)


def in_series(cable: Any, trigger: Any) -> tuple[tuple[str, Any], tuple[str, Any]]:
    return ("cable", cable), ("trigger", trigger)


def box(network: Network, **changes: Any) -> Network:
    return network._replace(branches=(network.branches[0]._replace(**changes), network.branches[1]))


def test_as_stated() -> None:
    assert same(network_at(SPEC), STATED)
    assert same(network_at(SPEC, TYPICAL), STATED)
    assert Corner(0, 0, 0, 0, 0, 0) == TYPICAL
    assert Corner(-1, 1, 1, -1, 1, 1) == WORST
    assert Triple(1.0, 1.0, 1.0) == EXACT
    assert [end_of(Triple(1.0, 2.0, 3.0), end) for end in (-1, 0, 1)] == [1.0, 2.0, 3.0]


def test_parts_of_which_nothing_is_said() -> None:
    assert Conductor() == (0.0, 0.0, 0.0, None)
    nothing, one = Triple(0.0, 0.0, 0.0), Triple(1.0, 1.0, 1.0)
    assert NetworkSpec(one, ()) == (one, (), None, (), 0.0, one, one, one, one, None)
    assert BranchSpec("a", of_resistance(1.0)) == (
        "a", of_resistance(1.0), None, Conductor(), Conductor(), nothing, (), ()
    )  # fmt: skip


@pytest.mark.parametrize(
    ("corner", "expected"),
    [
        (Corner(source=-1), STATED._replace(source=Source(19.0, 3.0))),
        (Corner(source=1), STATED._replace(source=Source(22.0, 3.0))),
        (Corner(series=-1), STATED._replace(series=in_series(0.0, 0.05))),
        (Corner(series=1), STATED._replace(series=in_series(0.3, 0.05))),
        (Corner(resistance=-1), box(STATED, wire_ohm=0.06, lead_ohm=0.12)._replace(series=in_series(0.1, 0.025))),
        (Corner(resistance=1), box(STATED, wire_ohm=0.18, lead_ohm=0.36)._replace(series=in_series(0.1, 0.075))),
        (Corner(copper=-1), box(STATED, wire_ohm=0.07, lead_ohm=0.14)),
        (Corner(copper=1), box(STATED, wire_ohm=0.22, lead_ohm=0.44)),
        (
            Corner(resistance=1, copper=1),
            box(STATED, wire_ohm=0.33, lead_ohm=0.66)._replace(series=in_series(0.1, 0.075)),
        ),
        (Corner(efficiency=-1), box(STATED, converter=changed(BUCK, efficiency=0.6))),
        (Corner(efficiency=1), box(STATED, converter=changed(BUCK, efficiency=0.9))),
        (
            Corner(load=-1),
            STATED._replace(branches=(STATED.branches[0]._replace(load=of_power(5.0)), Branch("fan", of_current(1.0)))),
        ),
    ],
)
def test_each_end_alone(corner: Corner, expected: Network) -> None:
    assert same(network_at(SPEC, corner), expected)


def test_a_trigger_with_a_range_of_its_own_goes_with_the_cable() -> None:
    spec = SPEC._replace(series=in_series(Triple.exact(0.1), Triple(0.02, 0.05, 0.09)))
    for end, ohms in ((-1, (0.15, 0.02)), (0, (0.15, 0.05)), (1, (0.15, 0.09))):
        network = network_at(spec, Corner(series=end, resistance=1))
        assert same(network.series, in_series(*ohms))


@pytest.mark.parametrize(
    ("load", "more"),
    [
        (of_power(24.0), of_power(30.0)),
        (of_current(2.0), of_current(2.5)),
        (of_resistance(8.0), of_resistance(6.0)),
        (led_string(3, 3.0, 20.0), led_string(3, 3.0, 15.0)),
        (led_driver(3, 3.0, 0.4, 1.0, 0.9), led_driver(3, 3.0, 0.5, 1.0, 0.9)),
    ],
)
def test_a_quarter_more_of_each_load(load: Load, more: Load) -> None:
    assert load.tolerance(1.25) == more
    assert load.tolerance(1.0) == load


def test_efficiency_by_a_factor_and_never_above_one() -> None:
    assert BUCK.with_efficiency_times(1.0) is BUCK
    assert BUCK.with_efficiency_times(0.5) == changed(BUCK, efficiency=0.4)
    assert BUCK.with_efficiency_times(1.25) == BUCK.with_efficiency_times(9.0) == changed(BUCK, efficiency=1.0)
    table = a_table((5.0, 9.0), (1.0, 2.0), ((0.5, 0.75), (0.9, 0.8)))
    assert same(
        changed(BUCK, efficiency=table).with_efficiency_times(1.2).counted_efficiency.values,
        ((0.6, 0.9), (1.0, 0.96)),
    )


def test_corners_in_order() -> None:
    for changes, place in (
        ({"source_v": Triple(4.0, 5.0, 6.0)}, 0),
        ({"series": in_series(Triple(0.0, 0.1, 0.2), Triple.exact(0.0))}, 1),
        ({"series": in_series(Triple.exact(0.0), Triple(0.0, 0.1, 0.2))}, 1),
        ({"resistance": Triple(0.9, 1.0, 1.1)}, 2),
        ({"efficiency": Triple(0.9, 1.0, 1.1)}, 3),
        ({"load": Triple(0.9, 1.0, 1.1)}, 4),
        ({"copper": Triple(0.9, 1.0, 1.1)}, 5),
    ):
        spec = NetworkSpec(Triple.exact(20.0), ())._replace(**changes)  # type: ignore[arg-type]
        ends = [tuple(end if at == place else 0 for at in range(6)) for end in (0, -1, 1)]
        assert spec_corners(spec) == ends
        assert list(networks(spec)) == [(Corner(*end), network_at(spec, Corner(*end))) for end in ends]
    two = NetworkSpec(Triple(4.0, 5.0, 6.0), (), copper=Triple(0.9, 1.0, 1.1))
    assert [(corner.source, corner.copper) for corner in spec_corners(two)] == [
        (0, 0),
        *((-1, -1), (-1, 1), (1, -1), (1, 1)),
    ]


def test_a_whole_result_over_two_corners() -> None:
    heater = BranchSpec("heater", of_resistance(8.0), None, Conductor(0.0, 1.0))
    spec = NetworkSpec(Triple(15.0, 20.0, 30.0), (heater,), series=(("cable", Triple.exact(1.0)),))
    found = corners(spec)
    amps = Triple(1.5, 2.0, 3.0)
    whole, bus, load, one, nothing = (Triple(*(ohm * each for each in amps)) for ohm in (10.0, 9.0, 8.0, 1.0, 0.0))
    squared = Triple(*(each * each for each in amps))
    assert same(
        found._replace(points={}),
        OperatingTriple(
            nodes={
                "source": NodeTriple(whole, one),
                "bus": NodeTriple(bus, one),
                "heater/in": NodeTriple(load, one),
                "heater/out": NodeTriple(load, one),
                "heater/load": NodeTriple(load, one),
            },
            losses={"cable": squared, "heater/wire": squared, "heater/lead": nothing},
            loads={"heater": Triple(*(8.0 * each * each for each in amps))},
            source_w=Triple(*(10.0 * each * each for each in amps)),
            points={},
            collapsed=(),
            fallen=None,
        ),
    )
    assert list(found.points) == [TYPICAL, Corner(source=-1), Corner(source=1)]
    assert found.typical == found.points[TYPICAL]


def test_the_worst_of_the_corners_that_collapse_is_explained() -> None:
    lamp = BranchSpec("lamp", of_power(20.0))
    spec = NetworkSpec(
        Triple(8.0, 10.0, 12.0), (lamp,), series=(("cable", Triple.exact(1.0)),), load=Triple(0.5, 1.0, 2.0), bus_a=0.0
    )
    found = corners(spec)
    # 16, 25 and 36 W can be had; 10, 20 and 40 W are asked for.
    assert found.collapsed == (Corner(source=-1, load=1), Corner(source=1, load=1))
    assert same(found.collapse, Collapse("bus", 40.0, 16.0, 0.4, 16.0), rel=1e-5)
    assert list(found.points) == [TYPICAL, Corner(source=-1, load=-1), Corner(source=1, load=-1)]
    assert same(found.nodes["bus"].voltage_v.typ, 5.0 + 5.0**0.5)
    gone = corners(spec._replace(branches=(lamp._replace(load=of_power(26.0)),)))
    assert gone[:4] == ({}, {}, {}, None)
    assert gone.typical is None
    assert gone.collapsed == (TYPICAL, Corner(source=-1, load=1), Corner(source=1, load=1))
    assert len(gone.points) == 2
    off = corners(spec, frozenset({"lamp"}))
    assert off.collapsed == ()
    assert off.collapse is None
    assert off.nodes["bus"].voltage_v == (8.0, 10.0, 12.0)


def test_what_is_off_is_not_what_collapses() -> None:
    lamp, pump = BranchSpec("lamp", of_power(30.0)), BranchSpec("pump", of_power(9.0), None, Conductor(9.0))
    found = corners(
        NetworkSpec(Triple.exact(10.0), (pump, lamp), series=(("cable", Triple.exact(1.0)),)), frozenset({"pump"})
    )
    assert found.collapse is not None
    assert same(found.collapse.wanted_w, 30.0)
    assert found.collapse.element == "bus"


def test_the_lowest_voltage_to_which_a_source_that_holds_its_current_falls() -> None:
    heater = BranchSpec("heater", of_resistance(4.0))
    spec = NetworkSpec(Triple(9.0, 10.0, 11.0), (heater,), holds_a=2.4, load=Triple(0.75, 1.0, 1.25))
    # 2.4 A on 3 ohm, 4 ohm and 5 ohm; the last takes 1.8 to 2.2 A and lets no voltage fall.
    assert corners(spec).held_v == pytest.approx(7.2)
    assert corners(spec._replace(holds_a=None)).held_v is None
