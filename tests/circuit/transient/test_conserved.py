"""Properties over random builds: no joule is lost, times run forward, extremes and samples agree."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.transient.result import Result
from pdcheck.circuit.transient.run import run
from tests.outside.random_builds import END_S, random_build

SEEDS = st.integers(0, 10**9)


def check(result: Result) -> None:
    energies = result.energies
    assert abs(energies.missing_j) <= 1e-3 * abs(energies.source_j)
    assert all(joules >= -1e-6 * energies.source_j for joules in energies.loads_j.values())
    assert all(joules >= -1e-5 * energies.source_j for joules in energies.losses_j.values())
    times = result.samples.time_s
    assert all(sooner <= later for sooner, later in pairwise(times))
    assert all(len(volts) == len(times) for volts in result.samples.nodes.values())
    moments = [moment.time_s for moment in result.moments]
    assert moments == sorted(moments) and moments[-1] <= result.end_s + 1e-9
    for row in result.extremes:
        assert (row.min_v is None) == (row.max_v is None) == (row.max_a is None)
        if row.min_v is not None and row.max_v is not None:
            assert row.min_v <= row.max_v <= row.peak_v + 1e-9
        assert max(result.samples.nodes[row.node]) <= row.peak_v + 1e-9


@settings(max_examples=12, deadline=None)
@given(SEEDS)
def test_energy_is_conserved_and_results_hold_together(seed: int) -> None:
    circuit, events = random_build(seed)
    check(run(circuit, events, END_S))


@settings(max_examples=3, deadline=None)
@given(SEEDS)
def test_the_same_build_twice_is_the_same(seed: int) -> None:
    circuit, events = random_build(seed)
    assert run(circuit, events, END_S / 2) == run(circuit, events, END_S / 2)
