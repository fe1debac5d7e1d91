"""Many cells over their corners, complete, worked out by hand: one that holds, one at its limit, some that collapse."""

from __future__ import annotations

import numpy as np

from pdcheck.circuit.bulk_corners import CellTriples, NodeArrays, Supplies, cells_over_corners
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.network import ConstantPower, Converter, Resistance
from pdcheck.quantities import Triple
from tests.circuit.nearly import same

NAN, INF = float("nan"), float("inf")
HEATER = NetworkSpec(
    Triple.exact(0.0), (BranchSpec("h", Resistance(8.0), None, Conductor(0.0, 0.5), Conductor(0.0, 0.5)),)
)


def rows(*values: float) -> np.ndarray:
    return np.array(values)[:, None]


def test_a_heater_over_its_sources() -> None:
    found = cells_over_corners(HEATER, Supplies(np.array([[15.0, 20.0, 30.0]]), np.full((1, 3), 1.0), np.array([INF])))
    amps = rows(1.5, 2.0, 3.0)
    expected = CellTriples(
        nodes={
            "source": NodeArrays(10.0 * amps, amps),
            "bus": NodeArrays(9.0 * amps, amps),
            "h/in": NodeArrays(8.5 * amps, amps),
            "h/out": NodeArrays(8.5 * amps, amps),
            "h/load": NodeArrays(8.0 * amps, amps),
        },
        collapsed=np.array([False]),
        held_v=np.array([NAN]),
        input_w={"h": np.array([76.5])},
        drops={
            ("bus", "h/in"): (np.array([1.0]), np.array([18.0])),
            ("h/out", "h/load"): (np.array([1.0]), np.array([17.0])),
        },
    )
    # Each drop is the same share at every corner: which of them is told is left to the last digit.
    shares = {ends: drop / whole for ends, (drop, whole) in found.drops.items()}
    assert same(shares, {("bus", "h/in"): np.array([1 / 18]), ("h/out", "h/load"): np.array([1 / 17])})
    assert same(found._replace(drops={}), expected._replace(drops={}))


def test_a_limit_holds_some_corners_and_the_lowest_voltage_is_told() -> None:
    found = cells_over_corners(
        HEATER, Supplies(np.array([[15.0, 20.0, 30.0]]), np.array([[0.0, 1.0, 2.0]]), np.array([1.8]))
    )
    # 1.8 A on 9 ohm, and what the cable takes besides.
    assert same(found.held_v, [16.2])
    assert same(found.nodes["source"].current_a, rows(15.0 / 11.0, 1.8, 1.8))
    assert found.collapsed.tolist() == [False]


def test_collapse_at_a_corner_and_as_stated() -> None:
    lamp = NetworkSpec(Triple.exact(0.0), (BranchSpec("a", ConstantPower(24.0)),))
    source = np.array([[9.0, 10.0, 11.0], [8.0, 9.0, 11.0], [6.0, 7.0, 8.0]])
    found = cells_over_corners(lamp, Supplies(source, np.ones((3, 3)), np.full(3, INF)))
    assert found.collapsed.tolist() == [True, True, True]
    high = (11.0 + 25.0**0.5) / 2.0
    assert same(found.nodes["bus"].voltage_v, [[6.0, NAN, NAN], [6.0, NAN, NAN], [high, NAN, NAN]])
    assert same(found.input_w["a"], [24.0, 24.0, NAN])
    drop, whole = found.drops["bus", "a/in"]
    assert drop.tolist() == [0.0] * 3
    assert same(whole[2], np.float64(0.0))


def test_a_converter_and_what_is_off() -> None:
    box = BranchSpec("box", ConstantPower(11.0), Converter("buck", 12.0, 0.75), Conductor(0.5), Conductor(1.0))
    spec = NetworkSpec(Triple.exact(0.0), (*HEATER.branches, box))
    ends = Supplies(np.full((1, 3), 20.0), np.zeros((1, 3)), np.array([INF]))
    one, none = rows(1.0, 1.0, 1.0), rows(0.0, 0.0, 0.0)
    on = cells_over_corners(spec, ends, frozenset({"h"}))
    assert same(on.nodes["box/out"], NodeArrays(12.0 * one, one))
    assert same(on.nodes["box/load"], NodeArrays(11.0 * one, one))
    assert same(on.nodes["h/in"], NodeArrays(20.0 * one, none))
    assert same((on.nodes["h/out"], on.nodes["h/load"]), (NodeArrays(none, none), NodeArrays(none, none)))
    assert same(on.input_w, {"h": np.array([0.0]), "box": np.array([16.0])})
    assert same(on.drops["box/out", "box/load"], (np.array([1.0]), np.array([12.0])))
