"""Envelope points worked out by hand: each limit, each corner, branches beside, outputs out of reach."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec, network_at
from pdcheck.circuit.envelope import EnvelopePoint, Limits, Reach, envelope, greatest_output
from pdcheck.circuit.network import ConstantCurrent, ConstantPower, Converter, Network
from pdcheck.errors import InputError
from pdcheck.quantities import Triple
from tests.circuit.nearly import same

PLAIN = Converter("buck-boost", 5.0, 0.9)
BOX = BranchSpec("box", ConstantPower(7.0), PLAIN, Conductor(0.1), Conductor(0.05))
SPEC = NetworkSpec(Triple.exact(20.0), (BOX,), cable=Triple.exact(0.2), trigger=Triple.exact(0.05))
NEAR = 1e-6


def network(converter: Converter | None = PLAIN, **changes: Any) -> Network:
    return network_at(SPEC._replace(branches=(BOX._replace(converter=converter),), **changes))


def given(amps_in: float, output_v: float = 12.0) -> float:
    """What comes out [A] with this current [A] into the box: 0.35 ohm on the way, 90 %."""
    return (20.0 - 0.35 * amps_in) * amps_in * 0.9 / output_v


@pytest.mark.parametrize(
    ("limits", "changes", "amps", "part"),
    [
        (Limits(source_a=3.0), {}, given(3.0), "source"),
        (Limits(source_w=60.0), {}, given(3.0), "source"),
        (Limits(source_w=60.0, source_a=2.0), {}, given(2.0), "source"),
        (Limits(cable_a=3.0, source_a=3.001), {}, given(3.0), "cable"),
        (Limits(trigger_a=3.0, cable_a=3.001), {}, given(3.0), "trigger"),
        (Limits(wire_a=3.0, trigger_a=3.001), {}, given(3.0), "wire"),
        (Limits(wire_a=3.001), {"input_limit_a": 3.0}, given(3.0), "converter input"),
        (Limits(), {"input_limit_w": 30.0}, 30.0 * 0.9 / 12.0, "converter input"),
        (Limits(), {"input_min_v": 19.3}, given(2.0), "converter input"),
        (Limits(), {"kind": "buck", "dropout_v": 7.3}, given(2.0), "converter input"),
        (Limits(), {"kind": "buck", "dropout_v": 1.0, "input_min_v": 19.3}, given(2.0), "converter input"),
        (Limits(), {"output_limit_a": 2.0}, 2.0, "converter output"),
        (Limits(), {"output_limit_w": 24.0}, 2.0, "converter output"),
        (Limits(lead_a=2.0), {}, 2.0, "lead"),
        (Limits(lead_a=0.25, source_a=3.0), {}, 0.25, "lead"),
        # 20 V through 0.35 ohm: 285.7 W at most.
        (Limits(), {}, 400.0 / 1.4 * 0.9 / 12.0, "collapse"),
        # All at the same current: the first on the way is named.
        (Limits(3.0, 60.0, 3.0, 3.0, 3.0), {"input_limit_a": 3.0}, given(3.0), "source"),
        (Limits(cable_a=3.0, trigger_a=3.0, wire_a=3.0), {"input_limit_a": 3.0}, given(3.0), "cable"),
        (Limits(trigger_a=3.0, wire_a=3.0), {"input_limit_a": 3.0}, given(3.0), "trigger"),
        (Limits(wire_a=3.0), {"input_limit_a": 3.0}, given(3.0), "wire"),
        (Limits(lead_a=2.0), {"output_limit_a": 2.0}, 2.0, "converter output"),
    ],
)
def test_each_limit_at_one_output(limits: Limits, changes: dict[str, Any], amps: float, part: str) -> None:
    spec = SPEC._replace(branches=(BOX._replace(converter=PLAIN._replace(**changes)),))
    load_w = (12.0 - 0.05 * amps) * amps
    expected = EnvelopePoint(
        12.0,
        Triple.exact(amps),
        Triple.exact(12.0 * amps),
        Triple.exact(load_w),
        part,
        part,  # type: ignore[arg-type]
    )
    assert same(envelope(spec, "box", limits, [12.0]), [expected], rel=NEAR)


def test_a_source_that_holds_its_current_limits_and_one_that_trips_is_judged_by_the_limits_alone() -> None:
    for kind, amps, part in (("pps", given(3.0), "source"), ("trip", 400.0 / 1.4 * 0.9 / 12.0, "collapse")):
        found = greatest_output(network(limit_a=3.0, limit_kind=kind), 0, Limits(), 12.0, 20.0)
        assert same((found.current_a, found.limited_by), (amps, part), rel=NEAR)


def test_the_rating_is_of_the_nominal_voltage() -> None:
    found = greatest_output(network(), 0, Limits(source_w=60.0), 12.0, 15.0)
    assert same(found.current_a, given(4.0), rel=NEAR)


@pytest.mark.parametrize(
    ("changes", "reached"),
    [
        ({"kind": "buck", "dropout_v": 8.0}, True),
        ({"kind": "buck", "dropout_v": 8.0001}, False),
        ({"kind": "boost"}, False),
        ({"kind": "boost", "output_v": 20.0}, True),
        ({"kind": "boost", "output_v": 19.9999}, False),
        ({"kind": "boost", "output_v": 24.0, "input_max_v": 19.0}, False),
        ({"input_max_v": 20.0}, True),
        ({"input_max_v": 20.0 * (1 - 5e-10)}, True),
        ({"input_max_v": 19.9999}, False),
        ({"input_min_v": 20.0}, True),
        ({"input_min_v": 20.0 * (1 + 5e-10)}, True),
        ({"input_min_v": 20.0001}, False),
    ],
)
def test_what_is_held_without_load_is_within_reach(changes: dict[str, Any], reached: bool) -> None:
    converter = PLAIN._replace(**{"output_v": 12.0, **changes})
    stiff = Network(network().source, (network(converter).branches[0]._replace(wire_ohm=0.0, lead_ohm=0.0),))
    found = greatest_output(stiff, 0, Limits(source_a=3.0), converter.output_v, 20.0)
    if reached:
        assert same(found.current_a, 54.0 / converter.output_v, rel=NEAR)
        assert found.limited_by == "source"
    else:
        assert found == Reach(converter.output_v, 0.0, 0.0, "converter input")


def test_the_lead_gives_most_at_half_the_voltage() -> None:
    found = greatest_output(network()._replace(cable_ohm=0.0), 0, Limits(), 1.0, 20.0)
    assert same(found, Reach(1.0, 10.0, 5.0, "collapse"), rel=NEAR)


def test_where_nothing_limits_the_search_ends_far_out() -> None:
    bare = Network(network().source, (network().branches[0]._replace(wire_ohm=0.0, lead_ohm=0.0),))
    assert greatest_output(bare, 0, Limits(), 12.0, 20.0) == Reach(12.0, 65536.0, 12.0 * 65536.0, "nothing")


def test_a_branch_without_converter() -> None:
    # 3 A through 0.4 ohm in all: 18.8 V at the load.
    bare = network(None)
    assert same(greatest_output(bare, 0, Limits(source_a=3.0), None, 20.0), Reach(18.8, 3.0, 56.4, "source"), rel=NEAR)
    assert same(greatest_output(bare, 0, Limits(lead_a=2.0), None, 20.0), Reach(19.2, 2.0, 38.4, "lead"), rel=NEAR)
    most = greatest_output(bare, 0, Limits(), None, 20.0)
    assert same((most.load_w, most.limited_by), (250.0, "collapse"), rel=NEAR)
    assert same((most.output_v, most.current_a), (10.0, 25.0), rel=1e-3)
    dead = bare._replace(source=bare.source._replace(open_v=0.0))
    assert greatest_output(dead, 0, Limits(), None, 20.0) == Reach(0.0, 0.0, 0.0, "collapse")
    spec = SPEC._replace(branches=(BOX._replace(converter=None),))
    [point] = envelope(spec, "box", Limits(source_a=3.0), [5.0, 12.0])
    amps, watts = Triple.exact(3.0), Triple.exact(56.4)
    assert same(point, EnvelopePoint(18.8, amps, watts, watts, "source", "source"), rel=NEAR)


def test_branches_beside_take_their_share_unless_they_are_off() -> None:
    fan, lead = BranchSpec("fan", ConstantCurrent(1.0)), Conductor(1.0)
    broken = BranchSpec("broken", ConstantPower(50.0), PLAIN, Conductor(), lead)
    spec = SPEC._replace(branches=(fan, BOX), bus_a=0.5)
    # 3 A in all: 19.25 V at the bus, 19.1 V at the input of the box for its 1.5 A.
    [beside] = envelope(spec, "box", Limits(source_a=3.0), [12.0])
    assert same(beside.current_a.typ, 19.1 * 1.5 * 0.9 / 12.0, rel=NEAR)
    [alone] = envelope(spec._replace(bus_a=0.0), "box", Limits(source_a=3.0), [12.0], frozenset({"fan"}))
    assert same(alone.current_a.typ, given(3.0), rel=NEAR)
    [wire] = envelope(spec, "box", Limits(wire_a=2.0), [12.0])
    assert same(wire.current_a.typ, (20.0 - 0.25 * 3.5 - 0.2) * 2.0 * 0.9 / 12.0, rel=NEAR)
    lost = network_at(SPEC._replace(branches=(BOX, broken)))
    assert greatest_output(lost, 0, Limits(), 12.0, 20.0) == Reach(12.0, 0.0, 0.0, "collapse")
    bare = lost._replace(branches=(network(None).branches[0], lost.branches[1]))
    assert greatest_output(bare, 0, Limits(), None, 20.0) == Reach(0.0, 0.0, 0.0, "collapse")
    freed = greatest_output(lost, 0, Limits(source_a=3.0), 12.0, 20.0, frozenset({"broken"}))
    assert same(freed.current_a, given(3.0), rel=NEAR)


def test_corners_give_min_typ_and_max_and_the_part_of_the_worst() -> None:
    spec = SPEC._replace(efficiency=Triple(0.5, 1.0, 1.1), branches=(BOX._replace(wire=Conductor(), lead=Conductor()),))
    spec = spec._replace(cable=Triple.exact(0.0), trigger=Triple.exact(0.0))
    # 54 W out of 60 W as stated; 27 W at the worst, and 59.4 W at the best, of which the lead takes 4.75 A.
    [point] = envelope(spec, "box", Limits(source_a=3.0, lead_a=4.25), [12.0])
    amps = Triple(2.25, 4.25, 4.25)
    watts = Triple(27.0, 51.0, 51.0)
    assert same(point, EnvelopePoint(12.0, amps, watts, watts, "source", "lead"), rel=NEAR)
    points = envelope(spec, "box", Limits(source_a=3.0), [12.0, 6.0])
    assert same([each.output_v for each in points], [12.0, 6.0])
    assert same([each.current_a for each in points], [Triple(2.25, 4.5, 4.95), Triple(4.5, 9.0, 9.9)], rel=NEAR)


def test_an_unknown_branch_is_refused_with_those_there_are() -> None:
    spec = SPEC._replace(branches=(BOX, BranchSpec("fan", ConstantCurrent(1.0))))
    with pytest.raises(InputError) as refused:
        envelope(spec, "pump", Limits(), [12.0])
    assert str(refused.value) == "no branch named 'pump'; expected one of box, fan"
    assert Limits() == (None, None, None, None, None, None)
