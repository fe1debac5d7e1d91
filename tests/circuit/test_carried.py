"""How much many circuits carry, worked out by hand: each bound, each node, corners, tables."""

from __future__ import annotations

import numpy as np
import pytest

from pdcheck.circuit.carried import LoadedCells, greatest_factors
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec, network_at
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import Bound, Met, Quantity
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, of_current, of_power, of_resistance
from tests.circuit.nearly import same

NAN, INF = float("nan"), float("inf")
NEAR = 2e-7  # the search's own resolution, twice
BUCK = a_converter("buck", 12.0, 0.75, idle_w=0.5)
LAMP = BranchSpec("lamp", of_power(10.0), None, Conductor(0.1), Conductor(0.05))
BOX = BranchSpec("box", of_current(1.0), BUCK, Conductor(0.0, 0.5), Conductor(0.0, 0.25))


def on(
    *branches: BranchSpec, source_v: tuple[float, ...] = (20.0,), ohm: float = 0.05, holds_a: float | None = None
) -> NetworkSpec:
    source = Triple.exact(np.array(source_v))  # type: ignore[arg-type]
    held = None if holds_a is None else np.full(len(source_v), holds_a)
    return NetworkSpec(source, branches, held, series=(("cable", Triple.exact(ohm)),))


def most(node: str, limit: float, quantity: Quantity = "current") -> Bound:
    return Bound(node, quantity, "at_most", limit)


def least(node: str, limit: float) -> Bound:
    return Bound(node, "voltage", "at_least", limit)


def amps_of(watts: float, ohm: float, volts: float = 20.0) -> float:
    """The current [A] at which a power [W] comes out behind a resistance [ohm]."""
    return (volts - (volts * volts - 4.0 * ohm * watts) ** 0.5) / (2.0 * ohm)


@pytest.mark.parametrize(
    ("bounds", "holds_a", "amps", "first"),
    [
        ([most("source", 3.0)], None, 3.0, most("source", 3.0)),
        ([most("bus", 3.0)], None, 3.0, most("bus", 3.0)),
        ([most("source", 2.0)], 3.0, 2.0, most("source", 2.0)),
        # Maximum power transfer, at half the voltage.
        ([], None, 50.0, "collapse"),
        ([least("bus", 19.75)], None, 5.0, least("bus", 19.75)),
        ([least("lamp/in", 19.25)], None, 5.0, least("lamp/in", 19.25)),
        ([least("lamp/out", 19.25)], None, 5.0, least("lamp/out", 19.25)),
        ([least("lamp/load", 18.0)], None, 10.0, least("lamp/load", 18.0)),
        ([most("lamp/load", 2.0)], None, 2.0, most("lamp/load", 2.0)),
        ([most("source", 60.0, "power")], None, 3.0, most("source", 60.0, "power")),
        ([most("lamp/in", 45.0, "power")], None, amps_of(45.0, 0.15), most("lamp/in", 45.0, "power")),
        ([most("lamp/load", 45.0, "power")], None, amps_of(45.0, 0.2), most("lamp/load", 45.0, "power")),
        ([most("source", 3.0), most("lamp/out", 2.0), least("lamp/in", 1.0)], None, 2.0, most("lamp/out", 2.0)),
        ([most("lamp/out", 3.0), most("source", 3.0)], None, 3.0, most("lamp/out", 3.0)),
        ([most("source", 3.0), least("lamp/in", 20.1)], None, 0.0, least("lamp/in", 20.1)),
        ([most("lamp/in", 19.0, "voltage")], None, 0.0, most("lamp/in", 19.0, "voltage")),
        ([most("source", 0.0)], None, 0.0, most("source", 0.0)),
    ],
)
def test_a_lamp(bounds: list[Bound], holds_a: float | None, amps: float, first: Met) -> None:
    found = greatest_factors(on(LAMP, holds_a=holds_a), bounds)
    watts = (20.0 - 0.2 * amps) * amps
    assert same(found.factor, [watts / 10.0], rel=NEAR)
    assert same(found.load_w, [watts], rel=NEAR)
    assert found.first == [first]
    if amps > 0.0:
        # The factor found holds: it is not past the edge by its own resolution.
        cells = LoadedCells(network_at(on(LAMP)), bounds)
        assert cells.met(np.arange(1), found.factor)[0].tolist() == [-1]


def test_a_source_that_holds_its_current_is_bound_by_it() -> None:
    found = greatest_factors(on(LAMP, holds_a=3.0), [])
    assert same(found.factor, [5.82], rel=NEAR)
    [first] = found.first
    assert isinstance(first, Bound)
    assert (first.node, first.quantity) == ("source", "current")


@pytest.mark.parametrize(
    ("bound", "amps"),
    [
        (most("box/out", 2.0), 2.0),
        (most("box/load", 2.0), 2.0),
        (most("box/out", 36.0, "power"), 3.0),
        # (12 - I / 4) I = 35
        (most("box/load", 35.0, "power"), amps_of(35.0, 0.25, 12.0)),
        (least("box/load", 11.5), 2.0),
        # 12 I / 0.75 + 0.5 W into the box.
        (most("box/in", 32.5, "power"), 2.0),
        (most("box/in", 2.0), ((20.0 - 1.0 - 0.1) * 2.0 - 0.5) / 16.0),
        (least("box/in", 18.9), ((20.0 - 1.0 - 0.1) * 2.0 - 0.5) / 16.0),
        (least("box/out", 12.1), 0.0),
    ],
)
def test_a_box(bound: Bound, amps: float) -> None:
    found = greatest_factors(on(BOX), [bound])
    assert same(found.factor, [amps], rel=NEAR)
    assert same(found.load_w, [(12.0 - 0.25 * amps) * amps], rel=NEAR)
    assert found.first == [bound]


def test_circuits_each_alone_and_something_beside_the_bounds() -> None:
    spec = on(LAMP, source_v=(20.0, 20.0, 0.0, 10.0))

    def also(cells: np.ndarray, factor: np.ndarray) -> np.ndarray:
        return factor <= np.array([9.0, 9.0, 9.0, 1.5])[cells]

    each = Bound("source", "current", "at_most", np.array([3.0, 2.0, 3.0, 3.0]))  # type: ignore[arg-type]
    found = greatest_factors(spec, [each], also=also)
    assert same(found.factor, [5.82, 3.92, 0.0, 1.5], rel=NEAR)
    assert same(found.load_w, [58.2, 39.2, 0.0, 15.0], rel=NEAR)
    assert found.first[2:] == ["collapse", "also"]
    assert found.first[0] is found.first[1] is each
    none = greatest_factors(spec, [most("source", 0.0)])
    assert (none.factor.tolist(), none.load_w.tolist()) == ([0.0] * 4, [0.0] * 4)
    never = greatest_factors(on(LAMP), [], also=lambda cells, factor: np.zeros(cells.shape, dtype=np.bool_))
    assert (never.factor.tolist(), never.first) == ([0.0], ["also"])


def test_corners_of_source_cable_and_load() -> None:
    ranged = on(LAMP)._replace(
        source_v=Triple(*(np.array([volts]) for volts in (18.0, 20.0, 22.0))),  # type: ignore[arg-type]
        series=(("cable", Triple(0.0, 0.1, 0.25)),),
    )
    found = greatest_factors(ranged._replace(load=Triple(0.8, 1.0, 1.25)), [most("source", 3.0)])
    # At 18 V behind 0.4 ohm 3 A are 50.4 W, which may be 1.25 times what is stated; what is told is as stated.
    watts = (18.0 - 0.4 * 3.0) * 3.0 / 1.25
    assert same(found[:2], (np.array([watts / 10.0]), np.array([watts])), rel=NEAR)
    heater = ranged._replace(branches=(BranchSpec("h", of_resistance(10.0)),))
    found = greatest_factors(heater, [most("source", 4.0)])
    # Most is drawn from 22 V without a cable, 5.5 ohm at 4 A; least is had from 18 V behind 0.25 ohm.
    assert same(found.factor, [10.0 / 5.5], rel=NEAR)
    assert same(found.load_w, [(18.0 / 5.75) ** 2 * 5.5], rel=3 * NEAR)


def test_loads_of_many_branches_are_taken_together_and_one_branch_binds_all() -> None:
    found = greatest_factors(on(LAMP, BOX), [most("box/out", 2.0)])
    assert same(found[:2], (np.array([2.0]), np.array([20.0 + 23.0])), rel=NEAR)


HEATER = Network(Source(np.array([20.0])), (Branch("h", of_resistance(9.0), None, 0.5, 0.5),), (("cable", 1.0),))
ONE, ALL = np.ones(1), np.arange(1)


@pytest.mark.parametrize("past", [-5e-9, -5e-10, 0.0, 5e-10, 5e-9])
def test_on_a_limit_holds(past: float) -> None:
    # 20 V on 11 ohm with a factor of 1: 20 / 11 A; 10 ohm of it from the bus on, 9.5 from the entry, 9 at the load.
    amps = 20.0 / 11.0

    def held(*bounds: Bound) -> bool:
        return LoadedCells(HEATER, bounds).met(ALL, ONE)[0].tolist() == [-1]

    for node, quantity, value in (
        ("source", "current", amps),
        ("h/in", "current", amps),
        ("h/in", "power", 9.5 * amps * amps),
        ("h/load", "power", 9.0 * amps * amps),
    ):
        assert held(most(node, value * (1 + past), quantity)) == (past > -1e-9)  # type: ignore[arg-type]
    for node, value in (("h/in", 9.5 * amps), ("h/load", 9.0 * amps)):
        bound = least(node, value * (1 + past))
        assert held(bound) == held(bound, most("h/in", 9.0)) == (past < 1e-9)


def test_a_circuit_without_an_operating_point_meets_its_collapse_and_has_no_load() -> None:
    lamp = Network(Source(np.full(3, 20.0)), (Branch("a", of_power(60.0)),), (("cable", 1.0),))
    cells, factor = LoadedCells(lamp, [most("source", 20.0)]), np.array([0.5, 2.0, 5.0 / 3.0])
    met, margin = cells.met(np.arange(3), factor)
    assert met.tolist() == [-1, 1, -1]
    assert same(margin, [1.0 - amps_of(30.0, 1.0) / 20.0, NAN, 0.5], rel=1e-5)
    assert same(cells.load_w(np.arange(3), factor), [30.0, NAN, 100.0])
    assert same(cells.load_w(np.array([1]), np.array([1.0])), [60.0])
