"""Many cells over their corners, complete, worked out by hand: one that holds, one at its limit, some that collapse."""

from __future__ import annotations

import numpy as np

from pdcheck.circuit.cells import CellTriples, NodeArrays, cells_over_corners
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, of_power, of_resistance
from tests.circuit.nearly import same

NAN = float("nan")
HEATER = NetworkSpec(
    Triple.exact(0.0), (BranchSpec("h", of_resistance(8.0), None, Conductor(0.0, 0.5), Conductor(0.0, 0.5)),)
)


def on(
    spec: NetworkSpec, source_v: list[list[float]], cable: list[list[float]], holds_a: float | None = None
) -> NetworkSpec:
    held = None if holds_a is None else np.full(len(source_v), holds_a)
    return spec._replace(
        source_v=Triple(*np.array(source_v).T), series=(("cable", Triple(*np.array(cable).T)),), holds_a=held
    )


def rows(*values: float) -> np.ndarray:
    return np.array(values)[:, None]


def test_a_heater_over_its_sources() -> None:
    found = cells_over_corners(on(HEATER, [[15.0, 20.0, 30.0]], [[1.0] * 3]))
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
        most_w={"h/in": np.array([76.5]), "h/load": np.array([72.0])},
        drops={
            ("bus", "h/in"): (np.array([1.0]), np.array([18.0])),
            ("h/out", "h/load"): (np.array([1.0]), np.array([17.0])),
        },
        typical=(
            {
                "cable": np.array([4.0]),
                "h/wire": np.array([2.0]),
                "h/lead": np.array([2.0]),
            },
            {"h": np.array([32.0])},
        ),
    )
    # Each drop is the same share at every corner: which of them is told is left to the last digit.
    shares = {ends: drop / whole for ends, (drop, whole) in found.drops.items()}
    assert same(shares, {("bus", "h/in"): np.array([1 / 18]), ("h/out", "h/load"): np.array([1 / 17])})
    assert same(found._replace(drops={}), expected._replace(drops={}))


def test_a_limit_holds_some_corners_and_the_lowest_voltage_is_told() -> None:
    found = cells_over_corners(on(HEATER, [[15.0, 20.0, 30.0]], [[0.0, 1.0, 2.0]], 1.8))
    # 1.8 A on 9 ohm, and what the cable takes besides.
    assert same(found.held_v, [16.2])
    assert same(found.nodes["source"].current_a, rows(15.0 / 11.0, 1.8, 1.8))
    assert found.collapsed.tolist() == [False]


def test_collapse_at_a_corner_and_as_stated() -> None:
    lamp = NetworkSpec(Triple.exact(0.0), (BranchSpec("a", of_power(24.0)),))
    source = [[9.0, 10.0, 11.0], [8.0, 9.0, 11.0], [6.0, 7.0, 8.0]]
    found = cells_over_corners(on(lamp, source, [[1.0] * 3] * 3))
    assert found.collapsed.tolist() == [True, True, True]
    high = (11.0 + 25.0**0.5) / 2.0
    assert same(found.nodes["bus"].voltage_v, [[6.0, NAN, NAN], [6.0, NAN, NAN], [high, NAN, NAN]])
    assert same(found.most_w["a/in"], [24.0, 24.0, NAN])
    drop, whole = found.drops["bus", "a/in"]
    assert drop.tolist() == [0.0] * 3
    assert same(whole[2], np.float64(0.0))


def test_a_converter_and_what_is_off() -> None:
    box = BranchSpec("box", of_power(11.0), a_converter("buck", 12.0, 0.75), Conductor(0.5), Conductor(1.0))
    spec = NetworkSpec(Triple.exact(0.0), (*HEATER.branches, box))
    one, none = rows(1.0, 1.0, 1.0), rows(0.0, 0.0, 0.0)
    found = cells_over_corners(on(spec, [[20.0] * 3], [[0.0] * 3]), frozenset({"h"}))
    assert same(found.nodes["box/out"], NodeArrays(12.0 * one, one))
    assert same(found.nodes["box/load"], NodeArrays(11.0 * one, one))
    assert same(found.nodes["h/in"], NodeArrays(20.0 * one, none))
    assert same((found.nodes["h/out"], found.nodes["h/load"]), (NodeArrays(none, none), NodeArrays(none, none)))
    ends = {"h/in": 0.0, "h/load": 0.0, "box/in": 16.0, "box/load": 11.0}
    assert same(found.most_w, {end: np.array([watts]) for end, watts in ends.items()})
    assert same(found.drops["box/out", "box/load"], (np.array([1.0]), np.array([12.0])))
