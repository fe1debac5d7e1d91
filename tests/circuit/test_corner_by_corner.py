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
    loaded,
    network_at,
    networks,
    spec_corners,
    with_efficiency,
)
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
from pdcheck.circuit.point import Flag
from pdcheck.quantities import Triple
from tests.circuit.nearly import same

BUCK = Converter("buck", 12.0, 0.8, idle_w=0.5)
SPEC = NetworkSpec(
    Triple(19.0, 20.0, 22.0),
    (
        BranchSpec("box", ConstantPower(10.0), BUCK, Conductor(0.1, 0.02), Conductor(0.2, 0.04)),
        BranchSpec("fan", ConstantCurrent(2.0)),
    ),
    limit_a=3.0,
    limit_kind="pps",
    cable=Triple(0.0, 0.1, 0.3),
    trigger=Triple(0.05, 0.05, 0.05),
    bus_a=0.01,
    resistance=Triple(0.5, 1.0, 1.5),
    efficiency=Triple(0.75, 1.0, 1.125),
    load=Triple(0.5, 1.0, 1.25),
    copper=Triple(0.5, 1.0, 2.0),
)
STATED = Network(
    Source(20.0, 3.0, "pps"),
    (Branch("box", ConstantPower(10.0), BUCK, 0.12, 0.24), Branch("fan", ConstantCurrent(2.0))),
    0.1,
    0.05,
    0.01,
)


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
    assert Conductor() == (0.0, 0.0)
    assert BranchSpec("a", Resistance(1.0)) == ("a", Resistance(1.0), None, Conductor(), Conductor())
    nothing, one = Triple(0.0, 0.0, 0.0), Triple(1.0, 1.0, 1.0)
    assert NetworkSpec(one, ()) == (one, (), None, "trip", nothing, nothing, 0.0, one, one, one, one)


@pytest.mark.parametrize(
    ("corner", "expected"),
    [
        (Corner(source=-1), STATED._replace(source=Source(19.0, 3.0, "pps"))),
        (Corner(source=1), STATED._replace(source=Source(22.0, 3.0, "pps"))),
        (Corner(series=-1), STATED._replace(cable_ohm=0.0)),
        (Corner(series=1), STATED._replace(cable_ohm=0.3)),
        (Corner(resistance=-1), box(STATED, wire_ohm=0.06, lead_ohm=0.12)._replace(trigger_ohm=0.025)),
        (Corner(resistance=1), box(STATED, wire_ohm=0.18, lead_ohm=0.36)._replace(trigger_ohm=0.075)),
        (Corner(copper=-1), box(STATED, wire_ohm=0.07, lead_ohm=0.14)),
        (Corner(copper=1), box(STATED, wire_ohm=0.22, lead_ohm=0.44)),
        (Corner(resistance=1, copper=1), box(STATED, wire_ohm=0.33, lead_ohm=0.66)._replace(trigger_ohm=0.075)),
        (Corner(efficiency=-1), box(STATED, converter=BUCK._replace(efficiency=0.6))),
        (Corner(efficiency=1), box(STATED, converter=BUCK._replace(efficiency=0.9))),
        (
            Corner(load=-1),
            STATED._replace(
                branches=(STATED.branches[0]._replace(load=ConstantPower(5.0)), Branch("fan", ConstantCurrent(1.0)))
            ),
        ),
    ],
)
def test_each_end_alone(corner: Corner, expected: Network) -> None:
    assert same(network_at(SPEC, corner), expected)


def test_a_trigger_with_a_range_of_its_own_goes_with_the_cable() -> None:
    spec = SPEC._replace(trigger=Triple(0.02, 0.05, 0.09), cable=Triple.exact(0.1))
    for end, ohms in ((-1, (0.15, 0.02)), (0, (0.15, 0.05)), (1, (0.15, 0.09))):
        network = network_at(spec, Corner(series=end, resistance=1))
        assert same((network.cable_ohm, network.trigger_ohm), ohms)


@pytest.mark.parametrize(
    ("load", "more"),
    [
        (ConstantPower(24.0), ConstantPower(30.0)),
        (ConstantCurrent(2.0), ConstantCurrent(2.5)),
        (Resistance(8.0), Resistance(6.0)),
        (LedString(3, 3.0, 20.0), LedString(3, 3.0, 15.0)),
        (LedDriver(3, 3.0, 0.4, 1.0, 0.9), LedDriver(3, 3.0, 0.5, 1.0, 0.9)),
    ],
)
def test_a_quarter_more_of_each_load(load: Load, more: Load) -> None:
    assert loaded(load, 1.25) == more
    assert type(loaded(load, 1.25)) is type(more)
    assert loaded(load, 1.0) is load


def test_efficiency_by_a_factor_and_never_above_one() -> None:
    assert with_efficiency(BUCK, 1.0) is BUCK
    assert with_efficiency(BUCK, 0.5) == BUCK._replace(efficiency=0.4)
    assert with_efficiency(BUCK, 1.25) == with_efficiency(BUCK, 9.0) == BUCK._replace(efficiency=1.0)
    table = EfficiencyTable((5.0, 9.0), (1.0, 2.0), ((0.5, 0.75), (0.9, 0.8)))
    assert same(
        with_efficiency(BUCK._replace(efficiency=table), 1.2),
        BUCK._replace(efficiency=table._replace(values=((0.6, 0.9), (1.0, 0.96)))),
    )


def test_corners_in_order() -> None:
    for changes, place in (
        ({"source_v": Triple(4.0, 5.0, 6.0)}, 0),
        ({"cable": Triple(0.0, 0.1, 0.2)}, 1),
        ({"trigger": Triple(0.0, 0.1, 0.2)}, 1),
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
    heater = BranchSpec("heater", Resistance(8.0), None, Conductor(0.0, 1.0))
    spec = NetworkSpec(Triple(15.0, 20.0, 30.0), (heater,), cable=Triple.exact(1.0))
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
            losses={"cable": squared, "trigger": nothing, "heater/wire": squared, "heater/lead": nothing},
            loads={"heater": Triple(*(8.0 * each * each for each in amps))},
            source_w=Triple(*(10.0 * each * each for each in amps)),
            points={},
            collapsed=(),
            collapse=None,
        ),
    )
    assert list(found.points) == [TYPICAL, Corner(source=-1), Corner(source=1)]
    assert found.typical == found.points[TYPICAL]


def test_the_worst_of_the_corners_that_collapse_is_explained() -> None:
    lamp = BranchSpec("lamp", ConstantPower(20.0))
    spec = NetworkSpec(Triple(8.0, 10.0, 12.0), (lamp,), cable=Triple.exact(1.0), load=Triple(0.5, 1.0, 2.0), bus_a=0.0)
    found = corners(spec)
    # 16, 25 and 36 W can be had; 10, 20 and 40 W are asked for.
    assert found.collapsed == (Corner(source=-1, load=1), Corner(source=1, load=1))
    assert same(found.collapse, Collapse("bus", 40.0, 16.0, 0.4, 16.0), rel=1e-5)
    assert list(found.points) == [TYPICAL, Corner(source=-1, load=-1), Corner(source=1, load=-1)]
    assert same(found.nodes["bus"].voltage_v.typ, 5.0 + 5.0**0.5)
    gone = corners(spec._replace(branches=(lamp._replace(load=ConstantPower(26.0)),)))
    assert gone[:4] == ({}, {}, {}, None)
    assert gone.typical is None
    assert gone.collapsed == (TYPICAL, Corner(source=-1, load=1), Corner(source=1, load=1))
    assert len(gone.points) == 2
    off = corners(spec, frozenset({"lamp"}))
    assert off.collapsed == ()
    assert off.collapse is None
    assert off.nodes["bus"].voltage_v == (8.0, 10.0, 12.0)


def test_what_is_off_is_not_what_collapses() -> None:
    lamp, pump = BranchSpec("lamp", ConstantPower(30.0)), BranchSpec("pump", ConstantPower(9.0), None, Conductor(9.0))
    found = corners(NetworkSpec(Triple.exact(10.0), (pump, lamp), cable=Triple.exact(1.0)), frozenset({"pump"}))
    assert found.collapse is not None
    assert same(found.collapse.wanted_w, 30.0)
    assert found.collapse.element == "bus"


def test_the_flag_furthest_out_is_kept_with_its_corner() -> None:
    converter = Converter("buck-boost", 12.0, 0.9, input_min_v=20.5, input_max_v=19.5)
    spec = NetworkSpec(Triple(19.0, 20.0, 23.0), (BranchSpec("a", ConstantCurrent(0.0), converter),))
    assert corners(spec).worst_flags() == {
        ("a/in", "input-low"): (Flag("a/in", "input-low", 19.0, 20.5), Corner(source=-1)),
        ("a/in", "input-high"): (Flag("a/in", "input-high", 23.0, 19.5), Corner(source=1)),
    }
    # Of two alike the first, which is the typical one, stands.
    level = NetworkSpec(
        Triple.exact(20.0), (BranchSpec("a", ConstantCurrent(0.0), converter),), load=Triple(0.9, 1.0, 1.1)
    )
    assert {corner for _, corner in corners(level).worst_flags().values()} == {TYPICAL}
