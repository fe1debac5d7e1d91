"""One circuit alone and the same among many: the same voltage, collapse, corners, starts and greatest load."""

from __future__ import annotations

import itertools
import math
import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.cells import cells_over_corners
from pdcheck.circuit.corners import WORST, BranchSpec, Conductor, NetworkSpec, corners, network_at
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.startup import Latch, latching, start_up
from pdcheck.physics import bus
from pdcheck.physics.ports import CurrentPort, LinearPort, Port, PowerPort
from pdcheck.physics.table import table_port
from pdcheck.quantities import Triple
from tests.bench.circuits import alone, demanding, differences, load_differences, random_network
from tests.circuit.making import (
    a_converter,
    a_table,
    changed,
    led_driver,
    led_string,
    of_current,
    of_power,
    of_resistance,
)
from tests.circuit.nearly import same
from tests.circuit.test_latches import BOOST, BOX, ONE_BOX

NAN, INF = float("nan"), float("inf")
COUNT = 20


def many(network: Network, seed: int, limited: bool) -> tuple[Network, np.ndarray]:
    """A network on random sources and cables, and a factor on the loads of each."""
    rng = np.random.default_rng(seed)
    volts, ohms = rng.uniform(4.0, 48.0, COUNT), rng.choice([0.0, 1.0], COUNT, p=[0.1, 0.9]) * rng.uniform(0, 2, COUNT)
    source = Source(volts, rng.uniform(0.1, 5.0, COUNT) if limited else None)
    return network._replace(source=source, series=(("cable", ohms), ("trigger", 0.0))), 10.0 ** rng.uniform(
        -2.0, 1.5, COUNT
    )


@settings(max_examples=150, deadline=None)
@given(st.from_type(Network), st.booleans(), st.integers(0, 2**32 - 1))
def test_every_circuit_is_the_one_alone(network: Network, limited: bool, seed: int) -> None:
    assert list(differences(*many(network, seed, limited))) == []


@settings(max_examples=25, deadline=None)
@given(st.from_type(Network), st.booleans(), st.integers(0, 2**32 - 1))
def test_greatest_loads_are_on_the_edge_of_the_one_alone(network: Network, limited: bool, seed: int) -> None:
    assert list(load_differences(many(network, seed, limited)[0])) == []


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_steep_tables_and_long_wires(seed: int) -> None:
    network, factor = random_network(random.Random(seed), COUNT)
    assert list(differences(network, factor)) == []
    assert list(load_differences(network)) == []


def test_a_table_so_steep_that_the_bus_must_not_jump_past_its_solution() -> None:
    # From 60.6 % at 34 V to 70.3 % at 35 V: a step that overlooks the turn of that line ends in a collapse.
    table = a_table((34.0, 35.0), (1.0,), ((0.606,), (0.703,)))
    box = Branch("box", of_power(2.467), a_converter("boost", 48.0, table), 1.55)
    factor = np.linspace(25.0, 32.0, 57)
    network = Network(Source(np.full(57, 40.08)), (box,), (("cable", np.full(57, 0.69)),))
    assert list(differences(network, factor)) == []
    assert not np.isnan(demanding(network, factor).solve().bus_v).any()
    one = alone(network, 0, 28.41).solve()
    assert (one.bus_v, one.current_a) == (pytest.approx(37.59, abs=0.01), pytest.approx(3.615, abs=0.01))


@pytest.mark.parametrize("resistor_ohm", [1.0, 10.0, 50.0, 99.0])
def test_a_string_of_which_hardly_any_resistor_is_left(resistor_ohm: float) -> None:
    # Its cable alone holds the current then, and rounding is not to be taken for a collapse.
    string = Branch("string", led_string(4, 3.4455243583305686, resistor_ohm))
    network = Network(
        Source(np.full(COUNT, 14.148538363645647)), (string,), (("cable", np.full(COUNT, 0.7154990770117041)),)
    )
    assert list(load_differences(network)) == []
    assert list(differences(network, np.logspace(5.0, 9.0, COUNT))) == []


SLOPED = a_table((10.0, 20.0), (1.0, 3.0), ((0.8, 0.7), (0.9, 0.85)))
STEEP = a_table((10.0, 10.5), (1.0,), ((0.3,), (0.9,)))
SETS: dict[str, tuple[Branch, ...]] = {
    "nothing": (),
    "power": (Branch("a", of_power(100.0)),),
    "power behind wire and lead": (Branch("a", of_power(36.0), None, 0.25, 0.25),),
    "current": (Branch("a", of_current(2.0), None, 0.5),),
    "resistance": (Branch("a", of_resistance(9.0), None, 0.5, 0.5),),
    "string": (Branch("a", led_string(3, 3.0, 4.0), None, 0.5, 0.5),),
    "driver": (Branch("a", led_driver(3, 3.0, 1.0, 1.0, 0.75), None, 0.5),),
    "converter": (Branch("a", of_current(2.0), a_converter("buck", 12.0, 0.8, 0.5), 0.25, 0.25),),
    "idle": (Branch("a", of_current(0.0), a_converter("buck", 12.0, SLOPED, 0.5), 0.25, 0.25),),
    "table": (Branch("a", of_power(18.0), a_converter("buck", 12.0, SLOPED, 0.5), 0.5, 0.1),),
    "table without wire": (Branch("a", of_power(18.0), a_converter("buck", 12.0, SLOPED)),),
    "steep table": (Branch("a", of_power(9.0), a_converter("boost", 12.0, STEEP), 1.0),),
    "all": (
        Branch("a", of_power(10.0), a_converter("buck", 12.0, SLOPED, 0.5), 0.5, 0.1),
        Branch("b", of_power(5.0), a_converter("boost", 24.0, STEEP), 0.2),
        Branch("c", led_string(3, 3.0, 50.0), None, 0.5, 0.5),
        Branch("d", of_current(0.25)),
    ),
    "a lead that cannot": (Branch("a", of_power(50.0), a_converter("buck", 5.0, 0.9), 0.0, 0.25),),
}
# Voltages on strings, joints and least voltages; nothing at all; resistances of nothing and of just the most.
VOLTS = (-1.0, 0.0, 3.0, 9.0, 10.5, 11.452380952380953, 12.0, 16.5, 20.0, 40.0)
CELLS = np.array(list(itertools.product(VOLTS, (0.0, 1.0, 1.0 + 2e-9, 4.0), (INF, 2.0, 0.0))))


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize(("bus_a", "off"), [(0.0, ""), (0.125, "a")])
def test_on_edges_made_by_hand(name: str, bus_a: float, off: str) -> None:
    volts, ohms, limits = (column.copy() for column in CELLS.T)
    together = Network(Source(volts, limits), SETS[name], (("cable", ohms), ("trigger", 0.0)), bus_a).solve(
        frozenset(off)
    )
    for at, (open_v, ohm, limit) in enumerate(CELLS.tolist()):
        one = Network(Source(open_v, limit), SETS[name], (("cable", ohm), ("trigger", 0.0)), bus_a).solve(
            frozenset(off)
        )
        told = [together.bus_v, together.source_v, together.current_a, *together.port_a]
        found = [float(np.broadcast_to(each, volts.shape)[at]) for each in told]
        assert same(found, [one.bus_v, one.source_v, one.current_a, *one.port_a], rel=1e-8), (open_v, ohm, limit)
        held = bool(np.broadcast_to(together.constant_current, volts.shape)[at])
        assert math.isnan(one.bus_v) or held == one.constant_current
    assert (volts.tolist(), ohms.tolist(), limits.tolist()) == tuple(CELLS.T.tolist()), (
        "what is given is not written to"
    )


TABLE = table_port((10.0, 20.0), (0.8, 0.9), 18.0, 0.0, 0.5)
PORTS: list[list[Port]] = [
    [],
    [LinearPort(3.0, 9.0)],
    [PowerPort(1.0, 25.0)],
    [CurrentPort(0.5, 4.0), LinearPort(3.0, 0.0)],
    [TABLE],
    [TABLE, PowerPort(0.25, 9.0)],
]


@pytest.mark.parametrize("ports", PORTS)
@pytest.mark.parametrize(("per_volt", "per_ampere"), [(1.0, 1.0), (1.0, 0.0), (0.0, 1.0)])
def test_roots(ports: list[Port], per_volt: float, per_ampere: float) -> None:
    volts = np.array([-1.0, 0.0, 0.5, 4.0, 6.7, 9.0, 10.0, 11.125, 15.0, 20.0, 20.5, 40.0])
    given = volts.copy() if per_volt else np.full(volts.shape, 5.0)
    found = bus.highest_root(ports, given, per_volt, per_ampere, volts)
    each = [
        bus.highest_root(ports, one, per_volt, per_ampere, start_v)
        for one, start_v in zip(given.tolist(), volts.tolist(), strict=True)
    ]
    assert same(found, each, rel=1e-12)


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
        series=(("trigger", trigger),),
        bus_a=network.bus_a,
        resistance=draw(either_way),
        efficiency=draw(either_way),
        load=draw(either_way),
        copper=draw(st.sampled_from((Triple.exact(1.0), Triple(0.9, 1.0, 1.2)))),
    )


@settings(max_examples=40, deadline=None)
@given(specs(), st.booleans(), st.booleans(), st.booleans(), st.integers(0, 2**32 - 1), st.data())
def test_over_corners(
    spec: NetworkSpec, sure_source: bool, sure_cable: bool, limited: bool, seed: int, data: st.DataObject
) -> None:
    rng = np.random.default_rng(seed)
    count = 12
    volts, ohms = rng.uniform(4.0, 48.0, count), rng.uniform(0.0, 1.0, count)
    source = volts * np.array([[1.0], [1.0], [1.0]] if sure_source else [[0.95], [1.0], [1.05]])
    cable = ohms * np.array([[1.0], [1.0], [1.0]] if sure_cable else [[0.0], [0.5], [1.0]])
    limits = rng.uniform(0.2, 5.0, count) if limited else None
    off = frozenset(data.draw(st.sets(st.sampled_from([branch.name for branch in spec.branches]))))
    together = cells_over_corners(
        spec._replace(source_v=Triple(*source), series=(("cable", Triple(*cable)), *spec.series[1:]), holds_a=limits),
        off,
    )
    for cell in range(count):
        one = corners(
            spec._replace(
                source_v=Triple(*source[:, cell].tolist()),
                series=(("cable", Triple(*cable[:, cell].tolist())), *spec.series[1:]),
                holds_a=None if limits is None else float(limits[cell]),
            ),
            off,
        )
        assert together.collapsed[cell] == bool(one.collapsed)
        assert (not one.nodes) == bool(np.isnan(together.nodes["bus"].voltage_v[0, cell]))
        for name, node in one.nodes.items():
            arrays = together.nodes[name]
            assert same(arrays.voltage_v[:, cell].tolist(), list(node.voltage_v), rel=1e-8, within=1e-9)
            assert same(arrays.current_a[:, cell].tolist(), list(node.current_a), rel=1e-8, within=1e-9)
        assert same(float(together.held_v[cell]), NAN if one.held_v is None else one.held_v, rel=1e-8)
        for branch in spec.branches if one.points else ():
            for end in (f"{branch.name}/in", f"{branch.name}/load"):
                nodes = [point.nodes[end] for point in one.points.values()]
                most = max(node.voltage_v * node.current_a for node in nodes)
                assert same(float(together.most_w[end][cell]), most, rel=1e-7, within=1e-9)
            shares = [
                1 - p.nodes[f"{branch.name}/in"].voltage_v / p.nodes["bus"].voltage_v for p in one.points.values()
            ]
            drop, whole = (values[cell] for values in together.drops["bus", f"{branch.name}/in"])
            assert same(float(drop / whole), max(shares), rel=1e-7, within=1e-9)


def assert_starts_alike(network: Network, limits: np.ndarray, factor: np.ndarray) -> None:
    found = latching(demanding(network, factor), limits)
    for at, limit_a in enumerate(limits.tolist()):
        one = alone(network, at, float(factor[at]))
        assert bool(found[at]) == bool(start_up(one, limit_a)), (one, limit_a)


@settings(max_examples=40, deadline=None)
@given(specs(), st.booleans(), st.integers(0, 2**32 - 1))
def test_starting(spec: NetworkSpec, as_stated: bool, seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = 12
    volts, ohms, limits = rng.uniform(4.0, 21.0, count), rng.uniform(0.0, 0.5, count), rng.uniform(0.2, 5.0, count)
    worst = network_at(spec, WORST)
    worst = worst._replace(source=Source(volts), series=(("cable", ohms), *worst.series[1:]))
    assert_starts_alike(worst, limits, np.ones(count) if as_stated else 10.0 ** rng.uniform(-1.5, 0.5, count))


@pytest.mark.parametrize(("network", "limit_a", "expected"), ONE_BOX)
def test_latching(network: Network, limit_a: float, expected: Latch | None) -> None:
    source = Source(np.array([network.source.open_v]))
    assert latching(network._replace(source=source), np.array([limit_a])).tolist() == [expected is not None]


SLOW = Branch("box", of_power(12.0), changed(BOOST, efficiency=a_table((3.0, 9.0), (1.0,), ((0.5,), (0.75,)))))
BESIDE: dict[str, tuple[Branch, ...]] = {
    "alone": (BOX,),
    "fan": (BOX, Branch("fan", of_current(1.0))),
    "driver": (Branch("d", led_driver(2, 3.0, 1.0, 2.0), None, 0.25), BOX),
    "lamp": (BOX, Branch("lamp", of_power(9.0))),
    "string": (BOX, Branch("s", led_string(2, 3.0, 6.0), None, 0.5)),
    "two": (BOX, Branch("two", of_power(9.0), changed(BOOST, start_v=None, input_min_v=4.0), 1.0)),
    "silent": (BOX._replace(converter=changed(BOOST, start_v=None)), Branch("fan", of_current(1.0))),
    "from nothing": (BOX._replace(converter=changed(BOOST, start_v=0.0)),),
    "table": (SLOW,),
    "table beside": (BOX, SLOW._replace(name="slow", wire_ohm=0.5)),
    "lead that cannot": (Branch("box", of_power(50.0), a_converter("buck", 5.0, 0.9, start_v=1.0), 0.0, 0.25),),
}


@pytest.mark.parametrize("name", BESIDE)
@pytest.mark.parametrize("factor", [1.0, 0.5, 1.5])
def test_starting_on_many_sources(name: str, factor: float) -> None:
    cells = np.array(list(itertools.product((0.0, 3.0, 5.0, 9.0), (0.0, 0.25, 1.0), (1.0, 4.0, 6.0, 7.0))))
    volts, ohms, limits = (column.copy() for column in cells.T)
    network = Network(Source(volts), BESIDE[name], (("cable", ohms), ("trigger", 0.0)), 0.125)
    with np.errstate(all="ignore"):
        assert_starts_alike(network, limits, np.full(volts.shape, factor))


def test_more_circuits_than_are_taken_together() -> None:
    limits = np.where(np.arange(2100) % 7 == 3, 4.0, 6.0)
    factor = np.where(np.arange(2100) % 2, 1.0, 0.5)
    network: Any = Network(Source(np.full(2100, 9.0)), (BOX,))
    assert latching(network, limits).tolist() == (limits == 4.0).tolist()
    stuck = latching(demanding(network, factor), limits)
    assert stuck.tolist() == ((limits == 4.0) & (factor == 1.0)).tolist()
