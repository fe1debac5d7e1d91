"""Loads scaled cell by cell: every cell's solution, and the greatest factor, are those of the single network."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.bulk_corners import Supplies
from pdcheck.circuit.bulk_loads import Bound, LoadedCells, greatest_factors, varies
from pdcheck.circuit.bulk_startup import latching
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.network import (
    ConstantCurrent,
    ConstantPower,
    LedDriver,
    LedString,
    Load,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.solve import solve_network
from pdcheck.circuit.startup import start_up
from pdcheck.quantities import Triple

COUNT = 20


def scaled(load: Load, factor: float) -> Load:
    match load:
        case ConstantPower(power_w):
            return ConstantPower(power_w * factor)
        case ConstantCurrent(current_a):
            return ConstantCurrent(current_a * factor)
        case Resistance(resistance_ohm):
            return Resistance(resistance_ohm / factor)
        case LedString():
            return load._replace(resistor_ohm=load.resistor_ohm / factor)
        case LedDriver():
            return load._replace(current_a=load.current_a * factor)


def one(network: Network, open_v: float, series_ohm: float, factor: float) -> Network:
    branches = tuple(branch._replace(load=scaled(branch.load, factor)) for branch in network.branches)
    return network._replace(source=Source(open_v), branches=branches, cable_ohm=series_ohm, trigger_ohm=0.0)


@settings(max_examples=120, deadline=None)
@given(st.from_type(Network), st.integers(0, 2**32 - 1))
def test_every_cell_is_the_single_network(network: Network, seed: int) -> None:
    rng = np.random.default_rng(seed)
    volts, ohms = rng.uniform(4.0, 48.0, COUNT), rng.choice([0.0, 1.0], COUNT, p=[0.1, 0.9]) * rng.uniform(0, 2, COUNT)
    factors = 10.0 ** rng.uniform(-2.0, 0.7, COUNT)
    cells = LoadedCells(network, volts, ohms, np.full(COUNT, np.inf), (), frozenset())
    together = cells.solve(np.arange(COUNT), factors)
    for at in range(COUNT):
        alone = solve_network(one(network, float(volts[at]), float(ohms[at]), float(factors[at])))
        assert math.isnan(together.bus_v[at]) == (alone is None)
        if alone is not None:
            assert math.isclose(together.bus_v[at], alone.bus_v, rel_tol=1e-8)
            for amperes, stated in zip(together.branch_a, alone.port_a, strict=False):
                assert math.isclose(amperes[at], stated, rel_tol=1e-6, abs_tol=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.from_type(Network), st.integers(0, 2**32 - 1))
def test_greatest_factor_is_on_the_edge(network: Network, seed: int) -> None:
    """What holds at the factor found does not hold a little above it."""
    rng = np.random.default_rng(seed)
    volts, ohms, most = rng.uniform(5.0, 48.0, COUNT), rng.uniform(0.0, 1.0, COUNT), rng.uniform(0.5, 5.0, COUNT)
    branches = tuple(
        BranchSpec(b.name, b.load, b.converter, Conductor(0.0, b.wire_ohm), Conductor(0.0, b.lead_ohm))
        for b in network.branches
    )
    spec = NetworkSpec(Triple.exact(0.0), branches, bus_a=network.bus_a)
    supplies = Supplies(volts[:, None].repeat(3, axis=1), ohms[:, None].repeat(3, axis=1), np.full(COUNT, np.inf))
    bound = Bound(f"{network.branches[0].name}/in", "voltage", 3.0)
    carried = greatest_factors(spec, supplies, most, [bound])

    def holds(at: int, factor: float) -> bool:
        scaled_one = one(network, float(volts[at]), float(ohms[at]), factor)
        found = solve_network(scaled_one)
        if found is None or found.current_a > most[at] * (1 + 1e-9):
            return False
        return found.bus_v - network.branches[0].wire_ohm * found.port_a[0] >= 3.0 * (1 - 1e-9)

    for at, factor in enumerate(carried.factor):
        if factor == 0.0:
            assert not holds(at, 1e-6)
        elif factor < 1e4:  # beyond it nothing on the bench is, and rounding decides
            assert holds(at, float(factor) * (1 - 1e-7))
            assert not holds(at, float(factor) * (1 + 3e-5))


@settings(max_examples=40, deadline=None)
@given(st.from_type(Network), st.integers(0, 2**32 - 1))
def test_starting_with_scaled_loads(network: Network, seed: int) -> None:
    if any(map(varies, network.branches)):
        return
    rng = np.random.default_rng(seed)
    volts, ohms, limits = rng.uniform(4.0, 21.0, COUNT), rng.uniform(0.0, 0.5, COUNT), rng.uniform(0.2, 5.0, COUNT)
    factors = 10.0 ** rng.uniform(-1.5, 0.5, COUNT)
    together = latching(network.branches, volts, ohms, limits, network.bus_a, factors)
    for at in range(COUNT):
        alone = one(network, float(volts[at]), float(ohms[at]), float(factors[at]))
        assert together[at] == bool(start_up(alone, float(limits[at])))
