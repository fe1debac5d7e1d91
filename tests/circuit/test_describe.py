"""A described operating point, complete: every node, loss and load."""

from __future__ import annotations

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import Node, OperatingPoint, describe
from pdcheck.physics.bus import BusSolution
from tests.circuit.making import a_converter, led_driver, led_string, of_current, of_resistance
from tests.circuit.nearly import same
from tests.circuit.operating import operating_point

BOX = a_converter("buck-boost", 12.0, 0.8, idle_w=0.5)


def test_a_whole_network() -> None:
    branches = (
        Branch("box", of_current(1.0), BOX, 0.5, 0.25),
        Branch("strip", led_string(3, 3.0, 4.0), None, 0.5, 0.5),
        Branch("spot", led_driver(3, 3.0, 1.0, 1.0, 0.75), None, 0.0, 0.0),
        Branch("fan", of_current(0.5)),
    )
    network = Network(Source(20.0), branches, (("cable", 1.0), ("trigger", 2.0)), 0.25)
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
                "strip/string": Node(9.0, 1.0),
                "spot/in": Node(14.0, 0.75),
                "spot/out": Node(14.0, 0.75),
                "spot/load": Node(14.0, 0.75),
                "spot/string": Node(9.0, 1.0),
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
        ),
    )


def test_a_bus_that_draws_nothing_has_no_loss_of_its_own() -> None:
    point = describe(
        Network(Source(20.0), (), (("cable", 0.0), ("trigger", 0.0))), BusSolution(20.0, 20.0, 0.0, False, ())
    )
    nothing = Node(20.0, 0.0)
    assert point == ({"source": nothing, "bus": nothing}, {"cable": 0.0, "trigger": 0.0}, {}, 0.0, False)


def test_a_source_that_holds_its_current_says_so_and_to_what_it_fell() -> None:
    network = Network(Source(20.0, 2.0), (Branch("h", of_resistance(4.0)),), (("cable", 1.0),))
    point = operating_point(network)
    assert isinstance(point, OperatingPoint)
    assert point.constant_current
    assert same(point.nodes["source"], Node(10.0, 2.0))
    assert same(point.source_w, 20.0)
