"""A described operating point, complete: every node, loss, load and flag, with values and limits."""

from __future__ import annotations

import pytest

from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    LedDriver,
    LedString,
    Network,
    Resistance,
    Source,
)
from pdcheck.circuit.operating import operating_point
from pdcheck.circuit.point import Flag, Node, OperatingPoint, describe
from pdcheck.circuit.solve import BusSolution
from tests.circuit.nearly import same

BOX = Converter("buck-boost", 12.0, 0.8, idle_w=0.5)


def test_a_whole_network() -> None:
    branches = (
        Branch("box", ConstantCurrent(1.0), BOX, 0.5, 0.25),
        Branch("strip", LedString(3, 3.0, 4.0), None, 0.5, 0.5),
        Branch("spot", LedDriver(3, 3.0, 1.0, 1.0, 0.75), None, 0.0, 0.0),
        Branch("fan", ConstantCurrent(0.5)),
    )
    network = Network(Source(20.0, 3.0), branches, 1.0, 2.0, 0.25)
    # The bus as if solved, with figures that come out even.
    solution = BusSolution(14.0, 20.0, 4.0, False, (2.0, 1.0, 0.75, 0.0, 0.25))
    assert same(
        describe(network, solution, frozenset({"fan"})),
        OperatingPoint(
            nodes={
                "source": Node(20.0, 4.0),
                "bus": Node(14.0, 4.0),
                "box/in": Node(13.0, 2.0),
                "box/out": Node(12.0, 1.0),
                "box/load": Node(11.75, 1.0),
                "strip/in": Node(13.5, 1.0),
                "strip/out": Node(13.5, 1.0),
                "strip/load": Node(13.0, 1.0),
                "spot/in": Node(14.0, 0.75),
                "spot/out": Node(14.0, 0.75),
                "spot/load": Node(14.0, 0.75),
                "fan/in": Node(14.0, 0.0),
                "fan/out": Node(0.0, 0.0),
                "fan/load": Node(0.0, 0.0),
            },
            losses={
                "cable": 16.0,
                "trigger": 32.0,
                "bus": 3.5,
                "box/wire": 2.0,
                "box/converter": 14.0,
                "box/lead": 0.25,
                "strip/wire": 0.5,
                "strip/lead": 0.5,
                "strip/resistor": 4.0,
                "spot/wire": 0.0,
                "spot/lead": 0.0,
                "spot/driver": 2.625,
            },
            loads={"box": 11.75, "strip": 9.0, "spot": 7.875},
            source_w=80.0,
            constant_current=False,
            flags=(Flag("source", "source-current", 4.0, 3.0),),
        ),
    )


def test_a_bus_that_draws_nothing_has_no_loss_of_its_own() -> None:
    point = describe(Network(Source(20.0), ()), BusSolution(20.0, 20.0, 0.0, False, ()))
    nothing = Node(20.0, 0.0)
    assert point == ({"source": nothing, "bus": nothing}, {"cable": 0.0, "trigger": 0.0}, {}, 0.0, False, ())


def flags(network: Network) -> tuple[Flag, ...]:
    point = operating_point(network)
    assert isinstance(point, OperatingPoint)
    return point.flags


def of_box(load_w: float = 24.0, source_v: float = 15.0, **changes: object) -> tuple[Flag, ...]:
    converter = Converter("buck-boost", 12.0, 0.8)._replace(**changes)  # type: ignore[arg-type]
    return flags(Network(Source(source_v), (Branch("a", ConstantPower(load_w), converter),)))


A_LITTLE = 1e-8  # relative: past any rounding, and past what still counts as on the limit
CRUMB = 5e-10  # counts as on it


@pytest.mark.parametrize(
    ("limit", "value", "sign", "node", "kind"),
    [
        ("input_min_v", 15.0, 1, "a/in", "input-low"),
        ("input_max_v", 15.0, -1, "a/in", "input-high"),
        ("start_v", 15.0, 1, "a/in", "start-low"),
        ("input_limit_a", 2.0, -1, "a/in", "input-current"),
        ("input_limit_w", 30.0, -1, "a/in", "input-power"),
        ("output_limit_a", 2.0, -1, "a/out", "output-current"),
        ("output_limit_w", 24.0, -1, "a/out", "output-power"),
    ],
)
def test_each_limit_of_a_converter_on_it_and_past_it(limit: str, value: float, sign: int, node: str, kind: str) -> None:
    assert of_box(**{limit: value}) == ()
    assert of_box(**{limit: value * (1 + sign * CRUMB)}) == ()
    past = value * (1 + sign * A_LITTLE)
    assert same(of_box(**{limit: past}), (Flag(node, kind, value, past),))  # type: ignore[arg-type]
    assert same(of_box(**{limit: value * (1 + sign * 0.5)}), (Flag(node, kind, value, value * (1 + sign * 0.5)),))  # type: ignore[arg-type]


@pytest.mark.parametrize(("past", "flagged"), [(-A_LITTLE, False), (0.0, False), (CRUMB, False), (A_LITTLE, True)])
def test_dropout_of_a_buck_and_the_input_above_a_boost(past: float, flagged: bool) -> None:
    dropout = 3.0 + 15.0 * past
    expected = (Flag("a/in", "dropout", 15.0, 12.0 + dropout),) if flagged else ()
    assert same(of_box(kind="buck", dropout_v=dropout), expected)
    assert of_box(kind="boost", dropout_v=99.0, output_v=16.0) == ()
    output_v = 15.0 * (1.0 - past)
    expected = (Flag("a/in", "output-below-input", 15.0, output_v),) if flagged else ()
    assert same(of_box(kind="boost", output_v=output_v), expected)
    assert of_box(kind="buck-boost", output_v=output_v, dropout_v=99.0) == ()


def test_flags_come_in_order_from_input_to_output() -> None:
    found = of_box(input_min_v=16.0, start_v=17.0, input_limit_w=1.0, output_limit_w=1.0)
    assert [flag.kind for flag in found] == ["input-low", "start-low", "input-power", "output-power"]


@pytest.mark.parametrize(
    ("source_v", "expected"),
    [
        (9.0, Flag("s/load", "led-dark", 9.0, 9.0)),
        (8.0, Flag("s/load", "led-dark", 8.0, 9.0)),
        (9.001, None),
    ],
)
def test_a_string_is_dark_up_to_its_own_voltage(source_v: float, expected: Flag | None) -> None:
    found = flags(Network(Source(source_v), (Branch("s", LedString(3, 3.0, 20.0)),)))
    assert same(found, () if expected is None else (expected,))


@pytest.mark.parametrize(("source_v", "short"), [(10.0, False), (10.0 * (1 - CRUMB), False), (9.99, True)])
def test_a_driver_needs_its_headroom(source_v: float, short: bool) -> None:
    found = flags(Network(Source(source_v), (Branch("s", LedDriver(3, 3.0, 0.5, 1.0)),)))
    assert same(found, (Flag("s/load", "led-headroom", source_v, 10.0),) if short else ())


@pytest.mark.parametrize(
    ("limit_a", "flagged"), [(2.0, False), (2.0 * (1 - CRUMB), False), (2.0 * (1 - A_LITTLE), True)]
)
def test_a_fixed_supply_on_its_limit_and_past_it(limit_a: float, flagged: bool) -> None:
    found = flags(Network(Source(20.0, limit_a), (Branch("h", Resistance(10.0)),)))
    assert same(found, (Flag("source", "source-current", 2.0, limit_a),) if flagged else ())


def test_a_source_that_holds_its_current_is_flagged_with_both_voltages() -> None:
    network = Network(Source(20.0, 2.0, "pps"), (Branch("h", Resistance(4.0)),), 1.0)
    point = operating_point(network)
    assert isinstance(point, OperatingPoint)
    assert point.constant_current
    assert same(point.flags, (Flag("source", "constant-current", 10.0, 20.0),))
    assert same(point.source_w, 20.0)
