"""More resistance, less source or more load never lifts a node and never turns a collapse into a solution."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.network import Branch, Network
from pdcheck.physics.ports import LinearPort
from tests.circuit.making import changed
from tests.circuit.operating import operating_point

more = st.floats(1.0, 2.0)
extra = st.floats(0.0, 1.0)


def assert_no_better(worse: Network, better: Network, *, tolerance: float = 1e-7) -> None:
    low, high = operating_point(worse), operating_point(better)
    if isinstance(high, Collapse):
        assert isinstance(low, Collapse)
    if isinstance(low, Collapse) or isinstance(high, Collapse):
        return
    assert low.nodes["bus"].voltage_v <= high.nodes["bus"].voltage_v * (1.0 + tolerance)
    for branch in worse.branches:
        here = low.nodes[f"{branch.name}/in"].voltage_v
        assert here <= high.nodes[f"{branch.name}/in"].voltage_v * (1.0 + tolerance)


@settings(deadline=None)
@given(st.from_type(Network), extra)
def test_more_series_resistance(network: Network, ohm: float) -> None:
    assert_no_better(network._replace(series=(*network.series, ("more", ohm))), network)


@settings(deadline=None)
@given(st.from_type(Network), more)
def test_less_source(network: Network, factor: float) -> None:
    source = network.source._replace(open_v=network.source.open_v / factor)
    assert_no_better(network._replace(source=source), network)


@settings(deadline=None)
@given(st.from_type(Network), st.floats(1.0, 1.5))
def test_more_load(network: Network, factor: float) -> None:
    # Loads behind an efficiency that rises steeply with current might draw less for more; a number cannot.
    fixed = tuple(_with_plain_efficiency(branch) for branch in network.branches)
    heavier = tuple(branch._replace(load=branch.load.tolerance(factor)) for branch in fixed)
    assert_no_better(network._replace(branches=heavier), network._replace(branches=fixed))


@settings(deadline=None)
@given(st.from_type(Network), extra)
def test_more_wire_before_anything_that_does_not_yield(network: Network, ohm: float) -> None:
    # A longer wire to a resistive load relieves the bus; to a load that holds its power or current it does not.
    # (Nor does it where an efficiency falls so steeply with input voltage that a sagging converter draws less.)
    firm = tuple(
        _with_plain_efficiency(branch)
        for branch in network.branches
        if branch.converter is not None or not isinstance(branch.load.port(0.0), LinearPort)
    )
    longer = tuple(branch._replace(wire_ohm=branch.wire_ohm + ohm) for branch in firm)
    assert_no_better(network._replace(branches=longer), network._replace(branches=firm))


def _with_plain_efficiency(branch: Branch) -> Branch:
    if branch.converter is None or isinstance(branch.converter.efficiency, float):
        return branch
    return branch._replace(converter=changed(branch.converter, efficiency=0.9))
