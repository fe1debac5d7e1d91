"""Cut-off and start beside the solver in time: closed forms and curves on random builds, but for a 2 % at the boundary.

The energy of a capacitor, C (V1^2 - V2^2) / 2 = P t, and the bus beside a load are those of any circuits textbook.
"""

from __future__ import annotations

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.circuit.transient.from_rig import circuit_of
from pdcheck.circuit.transient.given import Event, Level
from pdcheck.circuit.transient.run import run
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.cut_off import bus_beside, dip_at, falls_below, never_starts
from pdcheck.verdict.talk.spans import spans
from tests.verdict.test_change import BOX

CHARGER = Source("5V 3A, 9V 3A", typec_current="3A")
LONG_S = 0.1


def build(stop_v: float, watts: float, loop_mohm: float, bulk: str = "22uF", beside: str = "") -> Case:
    converter = BOX | {"input": "5V-36V", "start": f"{stop_v + 0.4:.3f}V", "stop": f"{stop_v:.3f}V", "bulk": bulk}
    branches = [{"name": "x", "converter": converter, "load": f"{watts}W"}]
    if beside:
        branches.append({"name": "heater", "load": beside})
    rig = Rig(trigger="9V", branch=branches, tolerance={"source": 0.0})
    return Case(rig, CHARGER, Cable(id="c", kind="C-C", loop=f"{loop_mohm:.1f}mOhm"))


@settings(max_examples=25, deadline=None)
@given(st.floats(6.0, 8.4), st.floats(1.0, 12.0), st.floats(60.0, 300.0), st.floats(6.5, 8.5))
def test_a_lasting_dip_cuts_off_in_the_closed_form_and_in_time_alike(
    stop_v: float, watts: float, loop_mohm: float, dip_v: float
) -> None:
    case = build(round(stop_v, 2), round(watts, 1), loop_mohm)
    branch = case.rig.branches[0]
    dip = dip_at(case, branch, dip_v)
    assert dip is not None
    assume(never_starts(case, branch) is None and falls_below(case, branch) is None)
    assume(abs(dip.input_v - dip.stop_v) > 0.02 * dip.stop_v)
    circuit, _ = circuit_of(case.rig, case.source, case.cable, case.seen, case.contract)
    solved = run(circuit, (Event(0.35, "level", level=Level(dip_v, 3.0)),), 0.4)
    assert (solved.fates[0].stops > 0) == dip.cuts_off(LONG_S)


@settings(max_examples=25, deadline=None)
@given(st.floats(5.6, 8.5), st.floats(60.0, 300.0), st.floats(4.0, 20.0))
def test_what_never_starts_beside_a_heater_hangs_in_time(stop_v: float, loop_mohm: float, ohms: float) -> None:
    case = build(round(stop_v, 2), 1.0, loop_mohm, beside=f"{ohms:.2f}ohm")
    branch = case.rig.branches[0]
    bus_v = bus_beside(case, branch)
    assert bus_v is not None
    start_v = stop_v + 0.4
    assume(abs(bus_v.typ - start_v) > 0.02 * start_v)
    circuit, _ = circuit_of(case.rig, case.source, case.cable, case.seen, case.contract)
    hangs = run(circuit, (), 0.4).fates[0].fate == "hangs"
    assert hangs == (never_starts(case, branch) is not None)


def test_capacitance_carries_it_through_a_short_dip_and_no_further() -> None:
    small, large = (dip_at(each, each.rig.branches[0], 8.05) for each in
                    (build(8.0, 5.0, 200.0), build(8.0, 5.0, 200.0, "10mF")))  # fmt: skip
    assert small is not None and large is not None
    assert (
        small.holds_s * 10e-3 / 22e-6 == large.holds_s or abs(small.holds_s * 10e-3 / 22e-6 / large.holds_s - 1) < 1e-9
    )
    assert small.cuts_off(5e-3) and not large.cuts_off(5e-3) and large.cuts_off(2.0 * large.holds_s)


def test_a_branch_without_a_converter_has_no_cut_off() -> None:
    case = build(7.0, 5.0, 200.0, beside="9ohm")
    heater = case.rig.branches[1]
    assert (
        dip_at(case, heater, 5.0),
        bus_beside(case, heater),
        never_starts(case, heater),
        falls_below(case, heater),
    ) == (
        None,
        None,
        None,
        None,
    )


def test_the_conversation_tells_of_the_dip_and_of_what_never_starts() -> None:
    from pdcheck.contract.talk.conversation import converse

    def remarks(case: Case) -> str:
        talk = converse(case.rig.trigger, case.source, case.cable, until_s=2.0)
        return spans(case.rig, talk)[-1].branches[0].text

    assert "it cuts off at 8.4 V" in remarks(build(8.4, 10.0, 200.0))
    assert "never starts: it starts at 8.6 V and the bus is at most 8.5 V" in remarks(
        build(8.2, 5.0, 265.0, beside="4.5ohm")
    )
    assert remarks(build(7.0, 5.0, 100.0)) == ""
