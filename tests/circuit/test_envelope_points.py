"""Envelope points worked out by hand: each limit, each corner, branches beside, outputs out of reach."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec, network_at
from pdcheck.circuit.envelope import EnvelopePoint, Reach, envelope, greatest_output
from pdcheck.circuit.network import Network
from pdcheck.circuit.point import Bound, Met, Quantity
from pdcheck.errors import InputError
from pdcheck.parts.converter import Converter
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, of_current, of_power, of_resistance
from tests.circuit.nearly import same

PLAIN = a_converter("buck-boost", 5.0, 0.9)
BOX = BranchSpec("box", of_power(7.0), PLAIN, Conductor(0.1), Conductor(0.05))
SPEC = NetworkSpec(Triple.exact(20.0), (BOX,), series=(("cable", Triple.exact(0.2)), ("trigger", Triple.exact(0.05))))
NEAR = 1e-6


def network(converter: Converter | None = PLAIN, **changes: Any) -> Network:
    return network_at(SPEC._replace(branches=(BOX._replace(converter=converter),), **changes))


def most(node: str, limit: float, quantity: Quantity = "current") -> Bound:
    return Bound(node, quantity, "at_most", limit)


def least(node: str, limit: float) -> Bound:
    return Bound(node, "voltage", "at_least", limit)


SOURCE, IN, OUT, LEAD = most("source", 3.0), most("box/in", 3.0), most("box/out", 2.0), most("box/load", 2.0)


def given(amps_in: float, output_v: float = 12.0) -> float:
    """What comes out [A] with this current [A] into the box: 0.35 ohm on the way, 90 %."""
    return (20.0 - 0.35 * amps_in) * amps_in * 0.9 / output_v


@pytest.mark.parametrize(
    ("bounds", "amps", "first"),
    [
        ([SOURCE], given(3.0), SOURCE),
        ([most("bus", 3.0)], given(3.0), most("bus", 3.0)),
        ([IN, most("source", 3.001)], given(3.0), IN),
        ([most("box/in", 30.0, "power")], 30.0 * 0.9 / 12.0, most("box/in", 30.0, "power")),
        ([least("box/in", 19.3)], given(2.0), least("box/in", 19.3)),
        ([least("bus", 19.25)], given(3.0), least("bus", 19.25)),
        ([OUT], 2.0, OUT),
        ([most("box/out", 24.0, "power")], 2.0, most("box/out", 24.0, "power")),
        ([LEAD], 2.0, LEAD),
        ([SOURCE, most("box/load", 0.25)], 0.25, most("box/load", 0.25)),
        # 20 V through 0.35 ohm: 285.7 W at most.
        ([], 400.0 / 1.4 * 0.9 / 12.0, "collapse"),
        # All at the same current: the first that is handed in is named.
        ([SOURCE, IN], given(3.0), SOURCE),
        ([IN, SOURCE], given(3.0), IN),
        ([LEAD, OUT], 2.0, LEAD),
        # Nothing holds without any load.
        ([least("box/in", 20.001)], 0.0, least("box/in", 20.001)),
        ([most("box/in", 19.999, "voltage")], 0.0, most("box/in", 19.999, "voltage")),
        ([most("box/in", 20.0 * (1 - 5e-10), "voltage"), SOURCE], given(3.0), SOURCE),
        ([least("box/in", 20.0 * (1 + 5e-10))], 0.0, least("box/in", 20.0 * (1 + 5e-10))),
    ],
)
def test_each_bound_at_one_output(bounds: list[Bound], amps: float, first: Met) -> None:
    load_w = (12.0 - 0.05 * amps) * amps
    expected = EnvelopePoint(12.0, Triple.exact(amps), Triple.exact(12.0 * amps), Triple.exact(load_w), first, first)
    assert same(envelope(SPEC, "box", lambda output_v: bounds, [12.0]), [expected], rel=NEAR, within=1e-6)


def test_a_source_that_holds_its_current_is_bound_by_it() -> None:
    for holds_a, amps, first in ((3.0, given(3.0), SOURCE), (None, 400.0 / 1.4 * 0.9 / 12.0, "collapse")):
        found = greatest_output(network(holds_a=holds_a), 0, [], 12.0)
        assert same((found.current_a, found.first), (amps, first), rel=NEAR)


def test_bounds_may_depend_on_the_output_that_is_tried() -> None:
    asked: list[float | None] = []

    def bounds(output_v: float | None) -> list[Bound]:
        asked.append(output_v)
        return [SOURCE, least("box/in", (output_v or 0.0) + 7.3)]

    low, high = envelope(SPEC, "box", bounds, [5.0, 12.0])
    assert asked == [5.0, 12.0]
    assert (low.first, high.first) == (SOURCE, least("box/in", 19.3))
    assert same((low.current_a.typ, high.current_a.typ), (given(3.0, 5.0), given(2.0)), rel=NEAR)


def test_a_bound_on_another_branch_counts_unless_that_is_off() -> None:
    heater = BranchSpec("heater", of_resistance(20.0))
    spec = SPEC._replace(branches=(BOX, heater))
    # The heater's bus may fall to 19 V: 4 A in all, of which it takes 0.95 A.
    bound = least("heater/load", 19.0)
    [point] = envelope(spec, "box", lambda output_v: [bound], [12.0])
    assert point.first == bound
    assert same(point.current_a.typ, (19.0 - 0.1 * 3.05) * 3.05 * 0.9 / 12.0, rel=NEAR)
    [alone] = envelope(spec, "box", lambda output_v: [bound, SOURCE], [12.0], frozenset({"heater"}))
    assert (alone.first, same(alone.current_a.typ, given(3.0), rel=NEAR)) == (SOURCE, True)


def test_the_lead_gives_most_at_half_the_voltage() -> None:
    found = greatest_output(network()._replace(series=(("cable", 0.0),)), 0, [], 1.0)
    assert same(found, Reach(1.0, 10.0, 5.0, "collapse"), rel=NEAR)


def test_where_nothing_limits_the_search_ends_far_out() -> None:
    bare = Network(network().source, (network().branches[0]._replace(wire_ohm=0.0, lead_ohm=0.0),))
    assert greatest_output(bare, 0, [], 12.0) == Reach(12.0, 65536.0, 12.0 * 65536.0, "nothing")


def test_a_branch_without_converter() -> None:
    # 3 A through 0.4 ohm in all: 18.8 V at the load.
    bare = network(None)
    assert same(greatest_output(bare, 0, [SOURCE], None), Reach(18.8, 3.0, 56.4, SOURCE), rel=NEAR)
    assert same(greatest_output(bare, 0, [LEAD], None), Reach(19.2, 2.0, 38.4, LEAD), rel=NEAR)
    best = greatest_output(bare, 0, [], None)
    assert same((best.load_w, best.first), (250.0, "collapse"), rel=NEAR)
    assert same((best.output_v, best.current_a), (10.0, 25.0), rel=1e-3)
    dead = bare._replace(source=bare.source._replace(open_v=0.0))
    assert greatest_output(dead, 0, [], None) == Reach(0.0, 0.0, 0.0, "collapse")
    spec = SPEC._replace(branches=(BOX._replace(converter=None),))
    [point] = envelope(spec, "box", lambda output_v: [SOURCE], [5.0, 12.0])
    amps, watts = Triple.exact(3.0), Triple.exact(56.4)
    assert same(point, EnvelopePoint(18.8, amps, watts, watts, SOURCE, SOURCE), rel=NEAR)


def test_branches_beside_take_their_share_unless_they_are_off() -> None:
    fan, lead = BranchSpec("fan", of_current(1.0)), Conductor(1.0)
    broken = BranchSpec("broken", of_power(50.0), PLAIN, Conductor(), lead)
    spec = SPEC._replace(branches=(fan, BOX), bus_a=0.5)
    # 3 A in all: 19.25 V at the bus, 19.1 V at the input of the box for its 1.5 A.
    [beside] = envelope(spec, "box", lambda output_v: [SOURCE], [12.0])
    assert same(beside.current_a.typ, 19.1 * 1.5 * 0.9 / 12.0, rel=NEAR)
    [alone] = envelope(spec._replace(bus_a=0.0), "box", lambda output_v: [SOURCE], [12.0], frozenset({"fan"}))
    assert same(alone.current_a.typ, given(3.0), rel=NEAR)
    [wire] = envelope(spec, "box", lambda output_v: [most("box/in", 2.0)], [12.0])
    assert same(wire.current_a.typ, (20.0 - 0.25 * 3.5 - 0.2) * 2.0 * 0.9 / 12.0, rel=NEAR)
    lost = network_at(SPEC._replace(branches=(BOX, broken)))
    assert greatest_output(lost, 0, [], 12.0) == Reach(12.0, 0.0, 0.0, "collapse")
    bare = lost._replace(branches=(network(None).branches[0], lost.branches[1]))
    assert greatest_output(bare, 0, [], None) == Reach(0.0, 0.0, 0.0, "collapse")
    freed = greatest_output(lost, 0, [SOURCE], 12.0, frozenset({"broken"}))
    assert same(freed.current_a, given(3.0), rel=NEAR)


def test_corners_give_min_typ_and_max_and_the_part_of_the_worst() -> None:
    spec = SPEC._replace(efficiency=Triple(0.5, 1.0, 1.1), branches=(BOX._replace(wire=Conductor(), lead=Conductor()),))
    spec = spec._replace(series=(("cable", Triple.exact(0.0)), ("trigger", Triple.exact(0.0))))
    # 54 W out of 60 W as stated; 27 W at the worst, and 59.4 W at the best, of which the lead takes 4.75 A.
    [point] = envelope(spec, "box", lambda output_v: [SOURCE, most("box/load", 4.25)], [12.0])
    amps = Triple(2.25, 4.25, 4.25)
    watts = Triple(27.0, 51.0, 51.0)
    assert same(point, EnvelopePoint(12.0, amps, watts, watts, SOURCE, most("box/load", 4.25)), rel=NEAR)
    points = envelope(spec, "box", lambda output_v: [SOURCE], [12.0, 6.0])
    assert same([each.output_v for each in points], [12.0, 6.0])
    assert same([each.current_a for each in points], [Triple(2.25, 4.5, 4.95), Triple(4.5, 9.0, 9.9)], rel=NEAR)


def test_an_unknown_branch_is_refused_with_those_there_are() -> None:
    spec = SPEC._replace(branches=(BOX, BranchSpec("fan", of_current(1.0))))
    with pytest.raises(InputError) as refused:
        envelope(spec, "pump", lambda output_v: [], [12.0])
    assert str(refused.value) == "no branch named 'pump'; expected one of box, fan"
