"""The envelope against brute force: the same limit found by trying current after current."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec, network_at, spec_corners
from pdcheck.circuit.envelope import envelope
from pdcheck.circuit.network import Network
from pdcheck.circuit.point import Bound
from pdcheck.errors import InputError
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, a_table, changed, of_current, of_power, of_resistance
from tests.circuit.operating import operating_point

LADDER = [1e-2 * 1.4**rung for rung in range(25)]


def carries(network: Network, bounds: Sequence[Bound]) -> bool:
    point = operating_point(network)
    if isinstance(point, Collapse):
        return False
    return all(bound.holds(bound.value(*point.nodes[bound.node])) for bound in bounds)


def delivers(network: Network, bounds: Sequence[Bound], output_v: float, amps: float) -> bool:
    box = network.branches[0]
    assert box.converter is not None
    tried = box._replace(load=of_current(amps), converter=changed(box.converter, output_v=output_v))
    return carries(network._replace(branches=(tried, *network.branches[1:])), bounds)


@settings(max_examples=25, deadline=None)
@given(
    source_v=st.sampled_from((5.0, 9.0, 15.0, 20.0, 28.0)),
    output_v=st.floats(3.0, 24.0),
    kind=st.sampled_from(("buck", "boost", "buck-boost")),
    cable=st.floats(0.0, 0.4),
    wire=st.floats(0.0, 0.5),
    efficiency=st.one_of(
        st.floats(0.7, 0.98),
        st.just(a_table((5.0, 12.0, 24.0), (0.2, 3.0), ((0.8, 0.85), (0.9, 0.94), (0.88, 0.92)))),
    ),
    source_a=st.one_of(st.none(), st.floats(0.5, 5.0)),
    wire_a=st.one_of(st.none(), st.floats(0.5, 6.0)),
    side_v=st.one_of(st.none(), st.floats(0.5, 0.99)),
    output_limit=st.one_of(st.none(), st.floats(0.5, 5.0)),
    output_w=st.one_of(st.none(), st.floats(5.0, 60.0)),
    input_min=st.one_of(st.none(), st.floats(3.0, 8.0)),
)
def test_points_agree_with_brute_force(
    source_v: float,
    output_v: float,
    kind: str,
    cable: float,
    wire: float,
    efficiency: float | EfficiencyTable,
    source_a: float | None,
    wire_a: float | None,
    side_v: float | None,
    output_limit: float | None,
    output_w: float | None,
    input_min: float | None,
) -> None:
    converter = a_converter(kind, 12.0, efficiency, 0.1, 0.5, input_min_v=input_min)

    def bounds_at(tried_v: float | None) -> list[Bound]:
        most_v = converter.maximum_input_v(tried_v)
        said = [
            Bound("source", "current", "at_most", source_a or 1e9),
            Bound("box/in", "current", "at_most", wire_a or 1e9),
            Bound("side/load", "voltage", "at_least", (side_v or 0.0) * source_v),
            Bound("box/in", "voltage", "at_least", converter.minimum_input_v(tried_v)),
            Bound("box/in", "voltage", "at_most", 1e9 if most_v is None else most_v),
            Bound("box/out", "current", "at_most", output_limit or 1e9),
            Bound("box/out", "power", "at_most", output_w or 1e9),
        ]
        return [bound for bound in said if bound.limit not in (0.0, 1e9)]

    bounds = bounds_at(output_v)
    box = BranchSpec("box", of_power(0.0), converter, Conductor(wire))
    side = BranchSpec("side", of_resistance(60.0), None, Conductor(0.1))
    spec = NetworkSpec(
        Triple(source_v * 0.95, source_v, source_v * 1.05), (box, side), series=(("cable", Triple.exact(cable)),)
    )
    [point] = envelope(spec, "box", bounds_at, [output_v])
    corners = [network_at(spec, corner) for corner in spec_corners(spec)]

    def all_deliver(amps: float) -> list[bool]:
        # An output counts only if it holds without load too: a boost does not where its input is above it.
        return [all(delivers(corner, bounds, output_v, tried) for tried in (0.0, amps)) for corner in corners]

    least, typical, most = point.current_a
    assert least <= typical <= most
    if most > 1e4:
        return
    for amps in (least * 0.999, least * 1.001, *LADDER):
        assert all(all_deliver(amps)) == (amps <= least) or amps < 1e-6
    for amps in (typical * 0.999, typical * 1.001, most * 0.999, most * 1.001):
        here = all_deliver(amps)
        assert here[0] == (amps <= typical) or amps < 1e-6
        assert any(here) == (amps <= most) or amps < 1e-6


def box_spec(converter: Converter, **changes: object) -> NetworkSpec:
    box = BranchSpec("box", of_power(0.0), converter, Conductor(0.1), Conductor(0.05))
    spec = NetworkSpec(
        Triple.exact(20.0), (box,), series=(("cable", Triple.exact(0.2)), ("trigger", Triple.exact(0.05)))
    )
    return spec._replace(**changes)  # type: ignore[arg-type]


PLAIN = a_converter("buck-boost", 12.0, 0.9)


SOURCE = Bound("source", "current", "at_most", 3.0)


def source(output_v: float | None) -> list[Bound]:
    return [SOURCE]


def nothing(output_v: float | None) -> list[Bound]:
    return []


def with_input(converter: Converter) -> Callable[[float | None], list[Bound]]:
    """The source's bound, and the least and the most voltage of a converter's input."""

    def bounds(output_v: float | None) -> list[Bound]:
        most_v = converter.maximum_input_v(output_v)
        low = Bound("box/in", "voltage", "at_least", converter.minimum_input_v(output_v))
        return [SOURCE, low, *([] if most_v is None else [Bound("box/in", "voltage", "at_most", most_v)])]

    return bounds


def test_collapse_is_the_maximum_power_transfer() -> None:
    [point] = envelope(box_spec(PLAIN), "box", nothing, [12.0])
    # 20 V through 0.35 ohm gives 285.7 W at most, 257.1 W of it at 12 V; 21.4 A are far below 12 V / (2 x 0.05 ohm).
    assert math.isclose(point.current_a.typ, 20.0**2 / (4 * 0.35) * 0.9 / 12.0, rel_tol=1e-6)


def test_an_output_out_of_reach_gives_nothing() -> None:
    down, up = (a_converter(kind, 12.0, 0.9) for kind in ("buck", "boost"))
    [low] = envelope(box_spec(down), "box", with_input(down), [24.0])
    [high] = envelope(box_spec(up), "box", with_input(up), [12.0])
    assert (low.current_a.max, low.first) == (0.0, Bound("box/in", "voltage", "at_least", 24.0))
    assert (high.current_a.max, high.first) == (0.0, Bound("box/in", "voltage", "at_most", 12.0))


def test_other_branches_take_their_share() -> None:
    pump = BranchSpec("pump", of_power(20.0))
    alone = envelope(box_spec(PLAIN), "box", source, [12.0])[0]
    spec = box_spec(PLAIN)._replace(branches=(*box_spec(PLAIN).branches, pump))
    shared = envelope(spec, "box", source, [12.0])[0]
    assert shared.current_a.typ < alone.current_a.typ - 1.0
    off = envelope(spec, "box", source, [12.0], frozenset({"pump"}))[0]
    assert off.current_a == alone.current_a


def test_a_branch_without_converter_has_one_point() -> None:
    spec = NetworkSpec(Triple.exact(10.0), (BranchSpec("a", of_power(0.0)),), series=(("cable", Triple.exact(1.0)),))
    [point] = envelope(spec, "a", lambda output_v: [Bound("source", "current", "at_most", 4.0)], [])
    assert math.isclose(point.current_a.typ, 4.0, rel_tol=1e-6)
    assert math.isclose(point.load_w.typ, 24.0, rel_tol=1e-6)
    assert math.isclose(point.output_v, 6.0, rel_tol=1e-6)


def test_an_unknown_branch_is_refused() -> None:
    with pytest.raises(InputError):
        envelope(box_spec(PLAIN), "nobody", nothing, [12.0])


@settings(max_examples=40, deadline=None)
@given(st.floats(0.0, 0.5), st.floats(5.0, 30.0), st.floats(1.0, 5.0), st.floats(0.0, 0.3), st.floats(1.0, 1.3))
def test_more_resistance_less_source_or_less_limit_never_gives_more(
    cable: float, source_v: float, source_a: float, extra: float, factor: float
) -> None:
    def at_most(amps: float) -> Callable[[float | None], list[Bound]]:
        return lambda output_v: [Bound("source", "current", "at_most", amps)]

    spec = box_spec(PLAIN, source_v=Triple.exact(source_v), series=(("cable", Triple.exact(cable)),))
    [point] = envelope(spec, "box", at_most(source_a), [12.0])
    for worse in (
        envelope(spec._replace(series=(("cable", Triple.exact(cable + extra)),)), "box", at_most(source_a), [12.0]),
        envelope(spec._replace(source_v=Triple.exact(source_v / factor)), "box", at_most(source_a), [12.0]),
        envelope(spec, "box", at_most(source_a / factor), [12.0]),
    ):
        assert worse[0].current_a.typ <= point.current_a.typ * (1 + 1e-7)
