"""What the rules look at: voltages before and on the contract, currents, drops, and zeros where nothing stands."""

import pytest

from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case, needed_v

SOURCE = {"id": "s", "offers": "5V 3A, 9V 3A; PPS 3.3-11V 3A", "tolerance": 0.05}
LEDS = {"led": {"count": 2, "vf": "3V", "current": "100mA", "headroom": "0.5V"}}
BUCK = {"kind": "buck", "output": "5V", "input": "6V-36V", "efficiency": 0.9}


def case(*branches, request="9V", fallback="next-lower", loop="100mOhm", kind="C-C", tolerance=None, source=None):
    listed = [{"name": f"b{at}"} | branch for at, branch in enumerate(branches or [{"load": {"current": "1A"}}])]
    rig = {"trigger": {"request": request, "fallback": fallback}, "branch": listed, "tolerance": tolerance or {}}
    made = Source.model_validate(SOURCE | (source or {}))
    return Case(Rig.model_validate(rig), made, Cable.model_validate({"id": "c", "kind": kind, "loop": loop}))


def test_the_voltage_of_the_source():
    assert case().source_v == pytest.approx((8.55, 9.0, 9.45))
    assert case(tolerance={"source": 0.02}).source_v == pytest.approx((8.82, 9.0, 9.18))
    assert case(request="none").source_v == pytest.approx((4.75, 5.0, 5.5))
    assert case(request="none", tolerance={"source": 0.02}).source_v == pytest.approx((4.9, 5.0, 5.1))
    battery = case(request="highest", source={"offers": "5V 3A, variable 9-12V 2A"})
    assert battery.before_v == (4.75, 5.0, 5.5)


def test_a_supply_over_a_range_is_taken_at_both_ends():
    plain = case()
    wandering = plain.contract._replace(
        kind="variable", voltage_v=12.0, offer=plain.contract.offer._replace(min_mv=9000, max_mv=12000)
    )
    given = Case(plain.rig, plain.source, plain.cable, wandering)
    assert given.contract is wandering
    assert given.source_v == pytest.approx((8.55, 12.0, 12.6))


def test_currents_and_voltages_of_nodes():
    found = case()
    assert found.node_current("bus") == pytest.approx((1.0, 1.0, 1.0))
    assert found.node_voltage("bus") == pytest.approx((8.45, 8.9, 9.35))
    assert found.node_voltage("nowhere") is None and found.node_current("nowhere") is None
    assert (found.worst_current("bus"), found.worst_low("bus")) == pytest.approx((1.0, 8.45))
    assert (found.worst_current("nowhere"), found.worst_low("nowhere")) == (0.0, 0.0)
    assert found.idle_high() == pytest.approx(9.45)
    assert found.greatest_drop("source", "bus") == pytest.approx((0.1, 8.55))
    assert found.greatest_power("b0/in") == pytest.approx(9.35)
    assert found.collapse is None and found.held_v() is None and found.latches() == ()


def test_nothing_where_the_trigger_gives_nothing():
    off = case(request="20V", fallback="none")
    assert off.contract.outcome == "off"
    assert off.point is None and off.collapse is None and off.held_v() is None
    assert off.node_voltage("bus") is None and off.node_current("bus") is None
    assert (off.worst_current("bus"), off.worst_low("bus"), off.idle_high()) == (0.0, 0.0, 0.0)
    assert off.greatest_power("b0/in") is None
    assert off.greatest_drop("source", "bus") == (0.0, 0.0)
    assert off.branches() == () and off.latches() == () and off.off == frozenset()


def test_nothing_where_the_bus_collapses():
    lost = case({"load": {"power": "100W"}, "converter": BUCK}, loop="3ohm")
    assert lost.collapse is not None
    assert lost.greatest_power("b0/in") is None
    assert lost.greatest_drop("source", "bus") == (0.0, 0.0)


def test_a_source_that_limits_the_current():
    fine, held = (case({"load": {"resistance": ohms}}, request="pps 9V 2A", loop=0) for ohms in (5.2, 3.0))
    assert fine.contract.limits_current and fine.contract.current_a == 2.0
    assert fine.held_v() is None
    # It may limit at 1.85 A already, which into 3 ohm leaves 5.55 V; 9.45 V into 5.2 ohm is 1.82 A, into 4.8 ohm 1.97.
    assert held.held_v() == pytest.approx(5.55)
    assert case({"load": {"resistance": 4.8}}, request="pps 9V 2A", loop=0).held_v() == pytest.approx(1.85 * 4.8)
    assert case({"load": {"resistance": 3.0}}, loop=0).held_v() is None


def test_converters_that_latch_at_the_limit():
    box = BUCK | {"kind": "buck-boost", "input": "3.5V-36V"}
    heavy, light = (case({"load": {"power": watts}, "converter": box}, request="pps 9V 2A") for watts in ("13W", "2W"))
    assert [latch.branch for latch in heavy.latches()] == ["b0"]
    assert light.latches() == ()
    assert case({"load": {"power": "13W"}, "converter": box}).latches() == ()


BRANCHES = [
    ({"load": {"current": "1A"}}, 0.0),
    ({"load": LEDS}, 6.5),
    ({"load": {"power": "1W"}, "converter": BUCK}, 6.0),
    ({"load": {"power": "1W"}, "converter": BUCK | {"start": "8V"}}, 8.0),
    ({"load": {"power": "1W"}, "converter": BUCK | {"start": "5V"}}, 6.0),
    ({"load": {"power": "1W"}, "converter": {"kind": "boost", "output": "12V"}}, 0.0),
    ({"load": {"power": "1W"}, "converter": {"kind": "boost", "output": "12V", "start": "0.4V"}}, 0.4),
]


@pytest.mark.parametrize(("branch", "volts"), BRANCHES)
def test_what_a_branch_needs(branch, volts):
    made = Branch.model_validate({"name": "x"} | branch)
    assert needed_v(made) == pytest.approx(volts)


def test_what_cannot_run_draws_nothing():
    found = case({"load": {"power": "5W"}, "converter": BUCK | {"start": "9.6V"}}, {"load": {"current": "1A"}})
    assert found.off == {"b0"}
    assert found.node_current("bus") == pytest.approx((1.0, 1.0, 1.0))
    assert [branch.name for branch in found.branches()] == ["b0", "b1"]
