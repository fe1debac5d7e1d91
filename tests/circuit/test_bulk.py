"""Many cells at once give the answers of the single one."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.bulk import operating_points
from pdcheck.circuit.network import Network, Source
from pdcheck.circuit.solve import solve_network


@settings(max_examples=60, deadline=None)
@given(st.from_type(Network), st.booleans(), st.integers(0, 2**32 - 1))
def test_bulk_equals_single(network: Network, limited: bool, seed: int) -> None:
    rng = np.random.default_rng(seed)
    source_v = rng.uniform(3.0, 48.0, 40)
    series = rng.choice([0.0, 1.0], 40, p=[0.1, 0.9]) * rng.uniform(0.0, 3.0, 40)
    limits = rng.uniform(0.1, 5.0, 40) if limited else None
    bulk = operating_points(network.branches, source_v, series, limit_a=limits, bus_a=network.bus_a)
    for cell in range(40):
        limit = None if limits is None else float(limits[cell])
        source = Source(float(source_v[cell]), limit, "pps")
        single = solve_network(network._replace(source=source, cable_ohm=float(series[cell]), trigger_ohm=0.0))
        assert bulk.collapsed[cell] == (single is None)
        if single is not None:
            assert math.isclose(bulk.bus_v[cell], single.bus_v, rel_tol=1e-9)
            assert math.isclose(bulk.current_a[cell], single.current_a, rel_tol=1e-8, abs_tol=1e-12)
            assert math.isclose(bulk.source_v[cell], single.source_v, rel_tol=1e-9)
            assert bulk.constant_current[cell] == single.constant_current
            for branch, amperes in zip(network.branches, single.port_a, strict=False):
                assert math.isclose(bulk.branch_a[branch.name][cell], amperes, rel_tol=1e-8, abs_tol=1e-12)


def test_shapes_broadcast() -> None:
    bulk = operating_points([], np.full((3, 1), 20.0), np.zeros((1, 4)), bus_a=1.0)
    assert bulk.bus_v.shape == (3, 4)
    assert np.all(bulk.current_a == 1.0)
