"""What collapses, complete: the element, what is asked of it, what it can pass on, how much load is carried."""

from __future__ import annotations

import pytest

from pdcheck.circuit.collapse import Collapse, explain_collapse, greatest_scale
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.parts.converter import Converter
from pdcheck.parts.loads import Load
from tests.circuit.making import a_converter, a_table, led_driver, of_current, of_power
from tests.circuit.nearly import same
from tests.circuit.operating import operating_point

BUCK = a_converter("buck", 5.0, 0.8, idle_w=1.0)


def on(
    source_v: float, load: Load, converter: Converter | None = None, wire: float = 0.0, lead: float = 0.0
) -> Network:
    return Network(Source(source_v), (Branch("a", load, converter, wire, lead),))


SLOPED = a_table((5.0, 15.0), (1.0,), ((0.5,), (0.75,)))
FLAT = a_table((5.0, 15.0), (1.0,), ((0.75,), (0.75,)))


@pytest.mark.parametrize(
    ("network", "expected"),
    [
        # 5 V through 0.25 ohm: at most 25 W.
        (on(20.0, of_power(50.0), BUCK, 0.01, 0.25), Collapse("a/lead", 50.0, 25.0, 0.5, 25.0)),
        # 5 V push at most 20 A through the lead, where nothing is left at the load.
        (on(200.0, of_current(40.0), BUCK, 0.01, 0.25), Collapse("a/lead", 200.0, 100.0, 0.5, 0.0)),
        # 10 V through 1 ohm: at most 25 W, 24 of them beside the idle power.
        (on(10.0, of_power(32.0), BUCK, 1.0), Collapse("a/wire", 41.0, 25.0, 0.6, 19.2)),
        (on(10.0, of_power(50.0), None, 0.75, 0.25), Collapse("a/wire", 50.0, 25.0, 0.5, 25.0)),
        (on(10.0, of_current(20.0), None, 0.75, 0.25), Collapse("a/wire", 200.0, 100.0, 0.5, 0.0)),
        (on(10.0, led_driver(5, 2.0, 4.0, 0.0, 0.8), None, 1.0), Collapse("a/wire", 50.0, 25.0, 0.5, 25.0)),
        (
            Network(Source(10.0), (Branch("a", of_power(50.0)),), (("cable", 0.75), ("trigger", 0.25))),
            Collapse("bus", 50.0, 25.0, 0.5, 25.0),
        ),
        # What the bus draws alone is too much: no load at all is carried.
        (
            Network(Source(10.0), (Branch("a", of_power(5.0)),), (("cable", 1.0), ("trigger", 0.0)), 11.0),
            Collapse("bus", 115.0, 25.0, 0.0, 0.0),
        ),
        # 2 A held on 9 V behind 0.5 ohm leave 8 V: 16 W.
        (
            Network(Source(9.0, 2.0), (Branch("a", of_power(32.0)),), (("cable", 0.5),)),
            Collapse("source", 32.0, 16.0, 0.5, 16.0),
        ),
        # No voltage, nothing asked, nothing had.
        (Network(Source(0.0), (Branch("a", of_power(0.0)),), (("cable", 0.5),)), Collapse("bus", 0.0, 0.0, 0.0, 0.0)),
    ],
)
def test_each_element(network: Network, expected: Collapse) -> None:
    # Where the last crumb of load decides, the square root of the search's own resolution shows in what is had.
    assert same(operating_point(network), expected, rel=3e-6, within=1e-6)
    assert operating_point(network) == explain_collapse(network)


def test_bare_figures_are_exact() -> None:
    collapse = explain_collapse(on(10.0, of_power(50.0), None, 0.75, 0.25))
    assert (collapse.wanted_w, collapse.greatest_w) == (50.0, 25.0)
    assert collapse.scale == pytest.approx(0.5, rel=1e-9)
    assert explain_collapse(Network(Source(10.0), (), (("cable", 1.0), ("trigger", 0.0)), 11.0)).greatest_w == 25.0


def test_a_wire_before_a_table_is_told_by_what_the_branch_alone_carries() -> None:
    # All on the flat part above 15 V: 30 V through 1 ohm are 225 W at 15 V, of which 75 % are 168.75 W.
    network = on(30.0, of_power(225.0), a_converter("boost", 40.0, SLOPED), 1.0)
    assert same(explain_collapse(network), Collapse("a/wire", 300.0, 225.0, 0.75, 168.75), rel=1e-5)
    flat = network.branches[0]._replace(converter=a_converter("boost", 40.0, FLAT))
    assert same(
        explain_collapse(network._replace(branches=(flat,))), Collapse("a/wire", 300.0, 225.0, 0.75, 168.75), rel=1e-5
    )


def test_a_wire_before_a_table_whose_idle_power_alone_is_too_much() -> None:
    network = on(10.0, of_power(60.0), a_converter("boost", 40.0, SLOPED, idle_w=26.0), 1.0)
    assert explain_collapse(network) == Collapse("a/wire", 0.0, 0.0, 0.0, 0.0)


def test_the_first_in_the_order_lead_wire_bus_is_named_and_what_is_off_is_not() -> None:
    fine = Branch("fine", of_power(1.0))
    wire = Branch("wire", of_power(50.0), None, 1.0)
    lead = Branch("lead", of_power(50.0), BUCK, 0.0, 0.25)
    network = Network(Source(10.0), (fine, wire, lead), (("cable", 0.1),))

    def element(off: set[str]) -> str:
        return explain_collapse(network, frozenset(off)).element

    assert element(set()) == "lead/lead"
    assert element({"lead"}) == "wire/wire"
    heavy = network._replace(branches=(fine, wire, Branch("bus", of_power(300.0))))
    assert explain_collapse(heavy, frozenset({"wire"})).element == "bus"
    assert explain_collapse(heavy, frozenset({"wire"})).wanted_w == pytest.approx(301.0)
    assert explain_collapse(heavy, frozenset({"wire"})).load_w == pytest.approx(250.0, rel=1e-5)


def test_a_held_current_that_collapses_without_its_limit_too_is_the_bus() -> None:
    network = Network(Source(10.0, 2.0), (Branch("a", of_power(50.0)),), (("cable", 1.0),))
    assert same(explain_collapse(network), Collapse("bus", 50.0, 16.0, 0.32, 16.0), rel=1e-6)


def test_the_wire_itself_at_its_greatest_is_not_what_collapses() -> None:
    # 25 W is just what the wire can pass on; the cable before it is what is too much.
    network = Network(Source(10.0), (Branch("a", of_power(25.0), None, 1.0),), (("cable", 0.25),))
    assert same(explain_collapse(network), Collapse("bus", 50.0, 36.0, 0.8, 20.0), rel=2e-5)


def test_the_greatest_scale_and_its_solution() -> None:
    scale, solution = greatest_scale(on(10.0, of_power(100.0), None, 1.0))
    assert scale == pytest.approx(0.25, rel=2e-10)
    assert solution is not None
    assert solution.current_a == pytest.approx(5.0, rel=1e-4)
    scale, solution = greatest_scale(on(10.0, of_power(1.0)))
    assert scale == pytest.approx(1.0, rel=1e-11)
    assert greatest_scale(Network(Source(0.0), ())) == (0.0, None)
    lost = on(10.0, of_power(100.0), None, 1.0)
    assert greatest_scale(lost, frozenset({"a"}))[0] == pytest.approx(1.0, rel=1e-11)
