"""Many cells over all corners, and starting, give the answers of the single network."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.bulk_corners import Supplies, cells_over_corners
from pdcheck.circuit.bulk_startup import latching
from pdcheck.circuit.corners import WORST, BranchSpec, Conductor, NetworkSpec, corners, network_at
from pdcheck.circuit.network import Network
from pdcheck.circuit.startup import start_up
from pdcheck.quantities import Triple

either_way = st.sampled_from((0.0, 0.0, 0.02, 0.1)).map(lambda ratio: Triple(1 - ratio, 1.0, 1 + ratio))


@st.composite
def specs(draw: st.DrawFn) -> NetworkSpec:
    network = draw(st.from_type(Network))
    branches = tuple(
        BranchSpec(b.name, b.load, b.converter, Conductor(b.wire_ohm, 0.01), Conductor(b.lead_ohm, 0.0))
        for b in network.branches
    )
    trigger = draw(st.sampled_from((Triple.exact(0.02), Triple(0.0, 0.02, 0.05))))
    return NetworkSpec(
        source_v=Triple.exact(0.0),
        branches=branches,
        trigger=trigger,
        bus_a=network.bus_a,
        resistance=draw(either_way),
        efficiency=draw(either_way),
        load=draw(either_way),
        copper=draw(st.sampled_from((Triple.exact(1.0), Triple(0.9, 1.0, 1.2)))),
    )


@settings(max_examples=80, deadline=None)
@given(specs(), st.booleans(), st.booleans(), st.booleans(), st.integers(0, 2**32 - 1), st.data())
def test_cells_equal_single(
    spec: NetworkSpec, sure_source: bool, sure_cable: bool, limited: bool, seed: int, data: st.DataObject
) -> None:
    rng = np.random.default_rng(seed)
    count = 12
    volts, ohms = rng.uniform(4.0, 48.0, count), rng.uniform(0.0, 1.0, count)
    source = volts[:, None] * ([1.0, 1.0, 1.0] if sure_source else [0.95, 1.0, 1.05])
    cable = ohms[:, None] * ([1.0, 1.0, 1.0] if sure_cable else [0.0, 0.5, 1.0])
    limits = rng.uniform(0.2, 5.0, count) if limited else np.full(count, np.inf)
    off = frozenset(data.draw(st.sets(st.sampled_from([branch.name for branch in spec.branches]))))
    together = cells_over_corners(spec, Supplies(source, cable, limits), off)
    for cell in range(count):
        one = spec._replace(
            source_v=Triple(*source[cell].tolist()),
            cable=Triple(*cable[cell].tolist()),
            limit_a=float(limits[cell]) if limited else None,
            limit_kind="pps",
        )
        alone = corners(one, off)
        assert together.collapsed[cell] == bool(alone.collapsed)
        assert (not alone.nodes) == bool(np.isnan(together.nodes["bus"].voltage_v[0, cell]))
        for name, node in alone.nodes.items():
            for rows, triple in (
                (together.nodes[name].voltage_v, node.voltage_v),
                (together.nodes[name].current_a, node.current_a),
            ):
                for row, value in zip(rows[:, cell], triple, strict=True):
                    assert math.isclose(row, value, rel_tol=1e-8, abs_tol=1e-9)
        held = [flag.value for (_, kind), (flag, _) in alone.worst_flags().items() if kind == "constant-current"]
        assert bool(held) == (not math.isnan(together.held_v[cell]))
        for branch in spec.branches if alone.points else ():
            most = max(
                p.nodes[f"{branch.name}/in"].voltage_v * p.nodes[f"{branch.name}/in"].current_a
                for p in alone.points.values()
            )
            assert math.isclose(together.input_w[branch.name][cell], most, rel_tol=1e-7, abs_tol=1e-9)
            shares = [
                1 - p.nodes[f"{branch.name}/in"].voltage_v / p.nodes["bus"].voltage_v for p in alone.points.values()
            ]
            drop, whole = (values[cell] for values in together.drops["bus", f"{branch.name}/in"])
            assert math.isclose(drop / whole, max(shares), rel_tol=1e-7, abs_tol=1e-9)


@settings(max_examples=80, deadline=None)
@given(specs(), st.integers(0, 2**32 - 1))
def test_starting_equals_single(spec: NetworkSpec, seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = 12
    volts, ohms, limits = rng.uniform(4.0, 21.0, count), rng.uniform(0.0, 0.5, count), rng.uniform(0.2, 5.0, count)
    worst = network_at(spec, WORST)
    series = ohms + worst.trigger_ohm
    together = latching(worst.branches, volts, series, limits, spec.bus_a)
    for cell in range(count):
        one = worst._replace(
            source=worst.source._replace(open_v=float(volts[cell])), cable_ohm=float(series[cell]), trigger_ohm=0.0
        )
        assert together[cell] == bool(start_up(one, float(limits[cell])))
