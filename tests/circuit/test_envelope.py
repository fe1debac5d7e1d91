"""The envelope against brute force: the same limit found by trying current after current."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec, network_at, spec_corners
from pdcheck.circuit.envelope import Limits, envelope
from pdcheck.circuit.network import ConstantCurrent, ConstantPower, Converter, EfficiencyTable, Network, Resistance
from pdcheck.circuit.operating import operating_point
from pdcheck.errors import InputError
from pdcheck.quantities import Triple

LADDER = [1e-2 * 1.4**rung for rung in range(25)]


def carries(network: Network, limits: Limits, nominal_v: float) -> bool:
    point = operating_point(network)
    if isinstance(point, Collapse) or any(flag.node.startswith("box") for flag in point.flags):
        return False
    total, own, out = (point.nodes[name].current_a for name in ("source", "box/in", "box/out"))
    asked = (
        (total, limits.source_a),
        (total * nominal_v, limits.source_w),
        (total, limits.cable_a),
        (total, limits.trigger_a),
        (own, limits.wire_a),
        (out, limits.lead_a),
    )
    return all(limit is None or value <= limit * (1 + 1e-9) for value, limit in asked)


def delivers(network: Network, limits: Limits, output_v: float, nominal_v: float, amps: float) -> bool:
    box = network.branches[0]
    assert box.converter is not None
    tried = box._replace(load=ConstantCurrent(amps), converter=box.converter._replace(output_v=output_v))
    return carries(network._replace(branches=(tried, *network.branches[1:])), limits, nominal_v)


@settings(max_examples=25, deadline=None)
@given(
    source_v=st.sampled_from((5.0, 9.0, 15.0, 20.0, 28.0)),
    output_v=st.floats(3.0, 24.0),
    kind=st.sampled_from(("buck", "boost", "buck-boost")),
    cable=st.floats(0.0, 0.4),
    wire=st.floats(0.0, 0.5),
    efficiency=st.one_of(
        st.floats(0.7, 0.98),
        st.just(EfficiencyTable((5.0, 12.0, 24.0), (0.2, 3.0), ((0.8, 0.85), (0.9, 0.94), (0.88, 0.92)))),
    ),
    limits=st.builds(
        Limits,
        st.one_of(st.none(), st.floats(0.5, 5.0)),
        st.one_of(st.none(), st.floats(5.0, 100.0)),
        st.one_of(st.none(), st.just(3.0)),
        st.one_of(st.none(), st.just(3.0)),
        st.one_of(st.none(), st.floats(0.5, 6.0)),
        st.one_of(st.none(), st.floats(0.5, 6.0)),
    ),
    output_limit=st.one_of(st.none(), st.floats(0.5, 5.0)),
    input_min=st.one_of(st.none(), st.floats(3.0, 8.0)),
)
def test_points_agree_with_brute_force(
    source_v: float,
    output_v: float,
    kind: str,
    cable: float,
    wire: float,
    efficiency: float | EfficiencyTable,
    limits: Limits,
    output_limit: float | None,
    input_min: float | None,
) -> None:
    converter = Converter(
        kind,  # type: ignore[arg-type]
        12.0,
        efficiency,
        0.1,
        0.5,
        input_min_v=input_min,
        output_limit_a=output_limit,
    )
    box = BranchSpec("box", ConstantPower(0.0), converter, Conductor(wire))
    side = BranchSpec("side", Resistance(60.0), None, Conductor(0.1))
    spec = NetworkSpec(Triple(source_v * 0.95, source_v, source_v * 1.05), (box, side), cable=Triple.exact(cable))
    [point] = envelope(spec, "box", limits, [output_v])
    corners = [network_at(spec, corner) for corner in spec_corners(spec)]

    def all_deliver(amps: float) -> list[bool]:
        # An output counts only if it holds without load too: a boost does not where its input is above it.
        return [all(delivers(corner, limits, output_v, source_v, tried) for tried in (0.0, amps)) for corner in corners]

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
    box = BranchSpec("box", ConstantPower(0.0), converter, Conductor(0.1), Conductor(0.05))
    spec = NetworkSpec(Triple.exact(20.0), (box,), cable=Triple.exact(0.2), trigger=Triple.exact(0.05))
    return spec._replace(**changes)  # type: ignore[arg-type]


PLAIN = Converter("buck-boost", 12.0, 0.9)


@pytest.mark.parametrize(
    ("limits", "converter", "part"),
    [
        (Limits(source_a=3.0), PLAIN, "source"),
        (Limits(source_a=5.0, source_w=60.0), PLAIN, "source"),
        (Limits(source_a=5.0, cable_a=3.0), PLAIN, "cable"),
        (Limits(source_a=5.0, cable_a=5.0, trigger_a=3.0), PLAIN, "trigger"),
        (Limits(source_a=5.0, wire_a=2.0), PLAIN, "wire"),
        (Limits(source_a=5.0), PLAIN._replace(input_limit_a=2.0), "converter input"),
        (Limits(source_a=5.0), PLAIN._replace(input_limit_w=30.0), "converter input"),
        (Limits(source_a=5.0), PLAIN._replace(input_min_v=19.5), "converter input"),
        (Limits(source_a=5.0), PLAIN._replace(output_limit_a=2.0), "converter output"),
        (Limits(source_a=5.0), PLAIN._replace(output_limit_w=20.0), "converter output"),
        (Limits(source_a=5.0, lead_a=1.0), PLAIN, "lead"),
        (Limits(), PLAIN, "collapse"),
    ],
)
def test_the_limiting_part_is_named(limits: Limits, converter: Converter, part: str) -> None:
    [point] = envelope(box_spec(converter), "box", limits, [12.0])
    assert (point.limited_by, point.limited_by_typ) == (part, part)
    assert point.current_a.min > 0.0
    assert math.isclose(point.power_w.typ, 12.0 * point.current_a.typ)


def test_collapse_is_the_maximum_power_transfer() -> None:
    [point] = envelope(box_spec(PLAIN), "box", Limits(), [12.0])
    # 20 V through 0.35 ohm gives 285.7 W at most, 257.1 W of it at 12 V; 21.4 A are far below 12 V / (2 x 0.05 ohm).
    assert math.isclose(point.current_a.typ, 20.0**2 / (4 * 0.35) * 0.9 / 12.0, rel_tol=1e-6)


def test_an_output_out_of_reach_gives_nothing() -> None:
    down, up = (Converter(kind, 12.0, 0.9) for kind in ("buck", "boost"))
    assert envelope(box_spec(down), "box", Limits(source_a=3.0), [24.0])[0].current_a.max == 0.0
    assert envelope(box_spec(up), "box", Limits(source_a=3.0), [12.0])[0].limited_by == "converter input"


def test_other_branches_take_their_share() -> None:
    pump = BranchSpec("pump", ConstantPower(20.0))
    alone = envelope(box_spec(PLAIN), "box", Limits(source_a=3.0), [12.0])[0]
    spec = box_spec(PLAIN)._replace(branches=(*box_spec(PLAIN).branches, pump))
    shared = envelope(spec, "box", Limits(source_a=3.0), [12.0])[0]
    assert shared.current_a.typ < alone.current_a.typ - 1.0
    off = envelope(spec, "box", Limits(source_a=3.0), [12.0], frozenset({"pump"}))[0]
    assert off.current_a == alone.current_a


def test_a_branch_without_converter_has_one_point() -> None:
    spec = NetworkSpec(Triple.exact(10.0), (BranchSpec("a", ConstantPower(0.0)),), cable=Triple.exact(1.0))
    [point] = envelope(spec, "a", Limits(source_a=4.0), [])
    assert math.isclose(point.current_a.typ, 4.0, rel_tol=1e-6)
    assert math.isclose(point.load_w.typ, 24.0, rel_tol=1e-6)
    assert math.isclose(point.output_v, 6.0, rel_tol=1e-6)


def test_an_unknown_branch_is_refused() -> None:
    with pytest.raises(InputError):
        envelope(box_spec(PLAIN), "nobody", Limits(), [12.0])


@settings(max_examples=40, deadline=None)
@given(st.floats(0.0, 0.5), st.floats(5.0, 30.0), st.floats(1.0, 5.0), st.floats(0.0, 0.3), st.floats(1.0, 1.3))
def test_more_resistance_less_source_or_less_limit_never_gives_more(
    cable: float, source_v: float, source_a: float, extra: float, factor: float
) -> None:
    spec = box_spec(PLAIN, source_v=Triple.exact(source_v), cable=Triple.exact(cable))
    [point] = envelope(spec, "box", Limits(source_a=source_a), [12.0])
    for worse in (
        envelope(spec._replace(cable=Triple.exact(cable + extra)), "box", Limits(source_a=source_a), [12.0]),
        envelope(spec._replace(source_v=Triple.exact(source_v / factor)), "box", Limits(source_a=source_a), [12.0]),
        envelope(spec, "box", Limits(source_a=source_a / factor), [12.0]),
    ):
        assert worse[0].current_a.typ <= point.current_a.typ * (1 + 1e-7)
