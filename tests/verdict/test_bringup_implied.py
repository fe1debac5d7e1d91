"""What readings in round numbers imply: every field of every figure, and which readings each of them needs."""

from __future__ import annotations

import math

import pytest

from pdcheck.circuit.corners import Conductor
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.implied import (
    Evidence,
    Implied,
    conductor_ohm,
    implied,
    joint,
    load_paths,
    output_current,
    spread,
    trigger_ohm,
)
from pdcheck.verdict.bringup.sheet import Filled, Measured
from pdcheck.verdict.bringup.steps import BringUp
from tests.circuit.making import led_driver, of_current, of_resistance
from tests.verdict.bench import typed
from tests.verdict.lab import BUCK, FAN, LAMP, PUMP, lab

PLAN = lab()
HOLDS = "the source holds its voltage under load"
TAKES = "the load takes what is stated"


def figures(written: str, plan: BringUp = PLAN) -> dict[tuple[str, str], Implied]:
    found = implied(plan, plan.case, typed(plan, written))
    assert len({(each.kind, each.subject) for each in found}) == len(found)
    return {(each.kind, each.subject): each for each in found}


def near(low: float, typical: float, high: float) -> object:
    return pytest.approx((low, typical, high), rel=1e-6, abs=5e-9)


def whole(each: Implied) -> tuple:
    return each.kind, each.subject, each.unit, each.steps, each.assumed, each.agree


ENDS = """
branch.pump.half.bus_v 14.90
branch.pump.half.bus_a 0.500
branch.pump.full.bus_v 14.80
branch.pump.full.bus_a 1.000
"""


def test_the_supply_is_the_drop_from_the_open_bus_where_the_source_end_was_not_read() -> None:
    found = figures("trigger.bus_v 15.00" + ENDS)
    assert list(found) == [("supply", "bus")]
    each = found["supply", "bus"]
    assert whole(each) == ("supply", "bus", "ohm", ("branch.pump.half", "branch.pump.full"), HOLDS, True)
    # Full load says it finer: 0.2 V to 10 mV over 1 A to half a milliampere.
    assert each.value == near(0.19 / 1.0005, 0.2, 0.21 / 0.9995)
    assert each.stated == near(0.135, 0.15, 0.165)


def test_the_source_end_counts_where_it_was_read() -> None:
    each = figures("trigger.bus_v 15.00\nbranch.pump.full.source_v 14.90" + ENDS)["supply", "bus"]
    assert each.value == near(0.18 / 0.5005, 0.2, 0.11 / 0.9995) or not each.agree
    assert (each.steps, each.agree) == (("branch.pump.full",), False)
    assert each.value == near(0.09 / 1.0005, 0.1, 0.11 / 0.9995)
    alone = figures("branch.pump.full.source_v 15.00" + ENDS)["supply", "bus"]
    assert (alone.steps, alone.assumed) == (("branch.pump.full",), "")


def test_all_branches_together_speak_for_the_supply_too() -> None:
    each = figures("trigger.bus_v 15.00\ntogether.bus_v 14.70\ntogether.bus_a 2.000")["supply", "bus"]
    assert each.steps == ("together",)
    assert each.value == near(0.29 / 2.0005, 0.15, 0.31 / 1.9995)


@pytest.mark.parametrize("left_out", ["bus_v", "bus_a", "trigger"])
def test_the_supply_needs_both_ends_and_the_current(left_out: str) -> None:
    written = "trigger.bus_v 15.00\nbranch.pump.full.bus_v 14.80\nbranch.pump.full.bus_a 1.000"
    kept = [line for line in written.splitlines() if left_out not in line.replace("trigger.bus_v", "trigger")]
    assert figures("\n".join(kept)) == {}


def test_a_current_that_may_be_none_says_nothing() -> None:
    supply = "trigger.bus_v 15.00\nbranch.lamp.full.bus_v 14.80\nbranch.lamp.full.bus_a "
    assert figures(supply + "0.5 A") != {}
    assert ("supply", "bus") not in figures(
        "trigger.bus_v 15.00\nbranch.pump.full.bus_v 14.80\nbranch.pump.full.bus_a 0.0"
    )
    assert figures(supply + "0.05") != {}
    least = typed(PLAN, supply + "0.5")
    place = (("branch", "lamp", "full"), "bus_a")
    for half, kinds in ((0.5, set()), (0.49, {"supply"})):
        taken = Filled({}, {**least.readings, place: Measured(0.5, half)})
        assert {each.kind for each in implied(PLAN, PLAN.case, taken)} == kinds


def test_a_source_that_may_hold_its_current_holds_no_voltage() -> None:
    # PD R3.2 V1.1, 6.4.2.8: 150 mA either way up to 3 A, so that it may limit at 2 A already.
    plan = lab(trigger={"request": "pps 15V 2.15A", "resistance": "50mOhm", "rating": "5A"})
    assert plan.case.contract.holds_a == 2.0
    for amperes, there in (("1.99", True), ("1.995", True), ("1.9995", True), ("2.00", False)):
        found = figures(f"trigger.bus_v 15.00\ntogether.bus_v 14.70\ntogether.bus_a {amperes}", plan)
        assert (("supply", "bus") in found) is there, amperes


def test_a_wire_is_the_drop_from_the_bus_to_its_converter() -> None:
    each = figures(ENDS + "branch.pump.half.in_v 14.88\nbranch.pump.full.in_v 14.75")["wire", PUMP]
    assert whole(each) == ("wire", PUMP, "ohm", ("branch.pump.half", "branch.pump.full"), "", True)
    assert each.value == near(0.04 / 1.0005, 0.05, 0.06 / 0.9995)
    # 33.309 mΩ a metre of AWG 20, there and back, and the contacts.
    assert each.stated == near(0.9 * 0.043309, 0.043309, 1.1 * 0.043309)


def test_a_wire_to_a_load_ends_at_its_terminals() -> None:
    written = "branch.lamp.full.bus_v 14.90\nbranch.lamp.full.bus_a 0.500\nbranch.lamp.full.load_v 14.85"
    each = figures(written)["wire", LAMP]
    assert whole(each) == ("wire", LAMP, "ohm", ("branch.lamp.full",), "", True)
    assert each.value == near(0.04 / 0.5005, 0.1, 0.06 / 0.4995)
    for line in written.splitlines():
        assert ("wire", LAMP) not in figures(written.replace(line + "\n", "").replace("\n" + line, ""))


def test_all_together_a_wire_takes_the_current_of_its_own_branch() -> None:
    written = "together.bus_v 14.70\ntogether.bus_a 2.000\ntogether.pump.in_v 14.65"
    assert ("wire", PUMP) not in figures(written)
    each = figures(written + "\ntogether.pump.in_a 1.000")["wire", PUMP]
    assert each.steps == ("together.pump",)
    assert each.value == near(0.04 / 1.0005, 0.05, 0.06 / 0.9995)


@pytest.mark.parametrize(("half", "there"), [(0.5, False), (0.49, True)])
@pytest.mark.parametrize(
    ("kind", "subject", "written", "place"),
    [
        ("wire", LAMP, "branch.lamp.full.bus_v 9.9\nbranch.lamp.full.load_v 9.8", (("branch", LAMP, "full"), "bus_a")),
        ("lead", FAN, "branch.fan.full.in_v 14.90\nbranch.fan.full.load_v 14.85", (("branch", FAN, "full"), "bus_a")),
        ("load", FAN, "branch.fan.full.load_v 14.90", (("branch", FAN, "full"), "bus_a")),
        ("efficiency", PUMP, "branch.pump.full.in_v 14.90\nbranch.pump.full.out_v 12.00\nbranch.pump.full.bus_a 1.2",
         (("branch", PUMP, "full"), "out_a")),
        ("efficiency", PUMP, "branch.pump.full.in_v 60.00\nbranch.pump.full.out_v 12.00\nbranch.pump.full.out_a 0.2",
         (("branch", PUMP, "full"), "bus_a")),
    ],
)  # fmt: skip
def test_nothing_is_divided_by_a_current_that_may_be_none(
    kind: str, subject: str, written: str, place: tuple, half: float, there: bool
) -> None:
    taken = Filled({}, {**typed(PLAN, written).readings, place: Measured(0.5, half)})
    found = {(each.kind, each.subject) for each in implied(PLAN, PLAN.case, taken)}
    # At 0.49 A of uncertainty the input is less than the idle power at worst, on 14.9 V; on 60 V it is more.
    assert ((kind, subject) in found) is there


def test_a_lead_carries_the_current_of_the_converter_output() -> None:
    written = "branch.pump.full.out_v 12.00\nbranch.pump.full.load_v 11.90\nbranch.pump.full.out_a 1.000"
    each = figures(written)["lead", PUMP]
    assert whole(each) == ("lead", PUMP, "ohm", ("branch.pump.full",), "", True)
    assert each.value == near(0.09 / 1.0005, 0.1, 0.11 / 0.9995)
    assert each.stated == near(0.9 * 0.066618, 0.066618, 1.1 * 0.066618)


def test_where_the_output_current_was_not_read_the_load_counts_as_stated() -> None:
    each = figures("branch.pump.full.out_v 12.10\nbranch.pump.full.load_v 12.00")["lead", PUMP]
    assert whole(each) == ("lead", PUMP, "ohm", ("branch.pump.full",), TAKES, True)
    # 12 W at 12 V, 5 % of it more or less and 5 mV more or less: 1 A, and as far off on either side at worst.
    off = 1.05 * 12 / 11.995 - 1
    assert each.value == near(0.09 / (1 + off), 0.1, 0.11 / (1 - off))
    half = figures("branch.pump.half.out_v 12.10\nbranch.pump.half.load_v 12.00")["lead", PUMP]
    assert half.value.typ == pytest.approx(0.2)
    both = figures(
        "branch.pump.half.out_v 12.05\nbranch.pump.half.load_v 12.00\nbranch.pump.half.out_a 0.500\n"
        "branch.pump.full.out_v 12.10\nbranch.pump.full.load_v 12.00"
    )["lead", PUMP]
    assert (both.steps, both.assumed, both.agree) == (("branch.pump.half", "branch.pump.full"), TAKES, True)


def test_a_lead_without_a_converter_carries_the_current_of_its_wire() -> None:
    written = "branch.fan.full.in_v 14.90\nbranch.fan.full.load_v 14.80\nbranch.fan.full.bus_a 0.500"
    each = figures(written)["lead", FAN]
    assert whole(each) == ("lead", FAN, "ohm", ("branch.fan.full",), "", True)
    assert each.value == near(0.09 / 0.5005, 0.2, 0.11 / 0.4995)
    for line in written.splitlines():
        assert ("lead", FAN) not in figures(written.replace(line + "\n", "").replace("\n" + line, ""))
    together = "together.bus_a 2.000\ntogether.fan.in_v 14.90\ntogether.fan.load_v 14.80"
    assert ("lead", FAN) not in figures(together)
    each = figures(together + "\ntogether.fan.in_a 0.400")["lead", FAN]
    assert (each.steps, each.value.typ) == (("together.fan",), pytest.approx(0.25))


def test_a_load_on_a_wire_alone_has_no_lead() -> None:
    assert {kind for kind, _ in figures("branch.lamp.full.load_v 14.80\nbranch.lamp.full.bus_a 0.500")} == {"load"}


def test_idle_power_is_what_flows_with_nothing_at_the_output() -> None:
    each = figures("branch.pump.unloaded.bus_v 15.00\nbranch.pump.unloaded.bus_a 0.040")["idle", PUMP]
    assert whole(each) == ("idle", PUMP, "W", ("branch.pump.unloaded",), "", True)
    assert each.value == near(14.995 * 0.0395, 0.6, 15.005 * 0.0405)
    assert each.stated == Triple(0.5, 0.5, 0.5)
    assert figures("branch.pump.unloaded.bus_v 15.00") == {}
    assert figures("branch.pump.unloaded.bus_a 0.040") == {}


LOADED = """
branch.pump.full.in_v 15.00
branch.pump.full.bus_a 1.000
branch.pump.full.out_v 12.00
branch.pump.full.out_a 1.000
"""


def test_efficiency_is_what_comes_out_of_what_goes_in_beyond_the_idle_power() -> None:
    each = figures(LOADED)["efficiency", PUMP]
    assert whole(each) == ("efficiency", PUMP, "%", ("branch.pump.full",), "", True)
    low = 11.995 * 0.9995 / (15.005 * 1.0005 - 0.5)
    assert each.value == near(low, 12 / 14.5, 12.005 * 1.0005 / (14.995 * 0.9995 - 0.5))
    assert each.stated == near(0.882, 0.9, 0.918)
    for line in LOADED.strip().splitlines()[:3]:
        assert ("efficiency", PUMP) not in figures(LOADED.replace(line + "\n", ""))


def test_the_idle_power_that_was_measured_counts_where_it_is_not_the_stated_one() -> None:
    more = "branch.pump.unloaded.bus_v 15.00\nbranch.pump.unloaded.bus_a 0.100\n"
    each = figures(more + LOADED)["efficiency", PUMP]
    off = 15.005 * 0.1005 - 1.5
    assert each.value == near(
        11.995 * 0.9995 / (15.005 * 1.0005 - 1.5 + off),
        12 / 13.5,
        12.005 * 1.0005 / (14.995 * 0.9995 - 1.5 - off),
    )
    less = more.replace("0.100", "0.010")
    assert figures(less + LOADED)["efficiency", PUMP].value.typ == pytest.approx(12 / 14.85)
    alike = more.replace("0.100", "0.033")
    assert figures(alike + LOADED)["efficiency", PUMP].value == figures(LOADED)["efficiency", PUMP].value


def test_without_the_output_current_the_efficiency_rests_on_the_load() -> None:
    written = LOADED.replace("branch.pump.full.out_a 1.000\n", "") + "branch.pump.full.load_v 12.00\n"
    each = figures(written)["efficiency", PUMP]
    assert each.assumed == TAKES
    assert each.value.typ == pytest.approx(12 / 14.5)
    half = written.replace("full", "half").replace("bus_a 1.000", "bus_a 0.500")
    assert figures(half)["efficiency", PUMP].value.typ == pytest.approx(6 / 7)


def test_all_together_a_converter_takes_the_current_of_its_own_wire() -> None:
    written = "together.bus_a 2.000\ntogether.pump.in_v 15.00\ntogether.pump.out_v 12.00\ntogether.pump.out_a 1.000\n"
    assert ("efficiency", PUMP) not in figures(written)
    each = figures(written + "together.pump.in_a 1.000")["efficiency", PUMP]
    assert (each.steps, each.value.typ) == (("together.pump",), pytest.approx(12 / 14.5))


def test_what_goes_in_must_be_more_than_the_idle_power() -> None:
    written = "branch.pump.full.in_v 10.00\nbranch.pump.full.out_v 1.00\nbranch.pump.full.out_a 0.010\n"
    written += "branch.pump.full.bus_a "
    assert ("efficiency", PUMP) not in figures(written + "0.050")
    assert ("efficiency", PUMP) in figures(written + "0.051")
    exact = Filled(
        {}, {place: each._replace(half=0.0) for place, each in typed(PLAN, written + "0.050").readings.items()}
    )
    assert "efficiency" not in {each.kind for each in implied(PLAN, PLAN.case, exact)}


def test_an_output_without_a_voltage_draws_nothing_that_is_known() -> None:
    dead = "branch.pump.full.in_v 15.00\nbranch.pump.full.bus_a 1.000\nbranch.pump.full.out_v 0.00"
    assert {kind for kind, _ in figures(dead)} == set()
    assert {kind for kind, _ in figures(dead + "\nbranch.pump.full.load_v 0.00")} == set()


def test_a_meter_the_wrong_way_round_twice_gives_no_efficiency() -> None:
    turned = LOADED.replace("bus_a 1.000", "bus_a -1.000").replace("out_a 1.000", "out_a -1.000")
    assert ("efficiency", PUMP) not in figures(turned)


def test_an_efficiency_of_a_whole_and_more_is_stated_as_a_whole() -> None:
    plan = lab(PUMP, more={PUMP: {"converter": {**BUCK, "efficiency": 0.99}}})
    assert figures(LOADED, plan)["efficiency", PUMP].stated == near(0.99 * 0.98, 0.99, 1.0)


TABLE = {"input": [9, 15], "output": [0.5, 1.0], "values": [[0.8, 0.9], [0.7, 0.8]]}


def test_of_a_table_the_heaviest_step_speaks_alone() -> None:
    plan = lab(PUMP, more={PUMP: {"converter": {**BUCK, "efficiency": TABLE}}})
    half = LOADED.replace("full", "half").replace("a 1.000", "a 0.500")
    each = figures(half + LOADED, plan)["efficiency", PUMP]
    assert (each.steps, each.agree) == (("branch.pump.full",), True)
    assert each.stated == near(0.784, 0.8, 0.816)  # at 15 V and 1 A
    each = figures(half + LOADED.replace("out_a 1.000", "out_a 0.400"), plan)["efficiency", PUMP]
    assert each.steps == ("branch.pump.half",)
    assert each.stated.typ == pytest.approx(0.7)
    assert ("efficiency", PUMP) not in figures("trigger.bus_v 15.00", plan)


def test_a_load_is_told_in_the_unit_that_it_is_stated_in() -> None:
    found = figures(
        "branch.pump.full.load_v 12.00\nbranch.pump.full.out_a 1.100\nbranch.pump.full.bus_a 9.000\n"
        "branch.lamp.full.load_v 15.00\nbranch.lamp.full.bus_a 0.600\n"
        "branch.fan.full.load_v 14.00\nbranch.fan.full.bus_a 0.700"
    )
    watts, ohms, amperes = (found["load", name] for name in (PUMP, LAMP, FAN))
    assert whole(watts) == ("load", PUMP, "W", ("branch.pump.full",), "", True)
    assert watts.value == near(11.995 * 1.0995, 13.2, 12.005 * 1.1005)
    assert watts.stated == near(11.4, 12.0, 12.6)
    assert whole(ohms) == ("load", LAMP, "ohm", ("branch.lamp.full",), "", True)
    assert ohms.value == near(14.995 / 0.6005, 25.0, 15.005 / 0.5995)
    assert ohms.stated == near(28.5, 30.0, 31.5)
    assert whole(amperes) == ("load", FAN, "A", ("branch.fan.full",), "", True)
    assert amperes.value == near(0.6995, 0.7, 0.7005)
    assert amperes.stated == near(0.475, 0.5, 0.525)


def test_a_load_needs_its_current_and_a_voltage() -> None:
    assert ("load", PUMP) not in figures("branch.pump.full.load_v 12.00\nbranch.pump.full.bus_a 1.000")
    assert ("load", PUMP) not in figures("branch.pump.full.out_a 1.000\nbranch.pump.full.bus_a 1.000")
    each = figures("branch.pump.full.out_v 12.00\nbranch.pump.full.out_a 1.000")["load", PUMP]
    assert each.value.typ == pytest.approx(12.0)
    assert ("load", LAMP) not in figures("branch.lamp.half.load_v 12.00\nbranch.lamp.half.bus_a 1.000")


def test_lights_imply_no_load() -> None:
    light = {"led": {"count": 3, "vf": "3V", "current": "100mA", "headroom": "1V"}}
    plan = lab(LAMP, more={LAMP: {"load": light}})
    assert ("load", LAMP) not in figures("branch.lamp.full.load_v 12.00\nbranch.lamp.full.bus_a 0.100", plan)


def test_what_the_trigger_alone_lets_flow_is_on_the_bus() -> None:
    each = figures("trigger.bus_a 0.050\ntogether.bus_a 2.000")["bus-draw", "bus"]
    assert whole(each) == ("bus-draw", "bus", "A", ("trigger",), "", True)
    assert each.value == near(0.0495, 0.05, 0.0505)
    assert each.stated == Triple(0.0, 0.0, 0.0)


def test_what_flows_beside_all_branches_is_on_the_bus() -> None:
    parts = ["together.pump.in_a 1.000", "together.lamp.in_a 0.500", "together.fan.in_a 0.300"]
    each = figures("\n".join(["together.bus_a 2.000", *parts]))["bus-draw", "bus"]
    assert whole(each) == ("bus-draw", "bus", "A", ("together",), "", True)
    assert each.value == near(0.198, 0.2, 0.202)
    assert each.stated == Triple(0.0, 0.0, 0.0)
    assert ("bus-draw", "bus") not in figures("\n".join(parts))
    assert ("bus-draw", "bus") not in figures("\n".join(["together.bus_a 2.000", *parts[1:]]))
    assert ("bus-draw", "bus") not in figures("\n".join(["together.bus_a 2.000", *parts[:-1]]))
    assert figures("branch.pump.full.bus_a 1.000", lab(PUMP)) == {}


def test_figures_come_in_the_order_of_the_circuit() -> None:
    found = figures(
        "trigger.bus_v 15.00\ntrigger.bus_a 0.000\nbranch.pump.unloaded.bus_v 15.00\nbranch.pump.unloaded.bus_a 0.03"
        f"{LOADED}branch.pump.full.bus_v 15.00\nbranch.pump.full.load_v 11.9"
    )
    kinds = ["supply", "bus-draw", "wire", "lead", "idle", "efficiency", "load"]
    assert [kind for kind, _ in found] == kinds


def test_loaded_steps_are_those_of_branches_at_half_and_full_and_all_together() -> None:
    half, full, together = ("branch", PUMP, "half"), ("branch", PUMP, "full"), ("together",)
    assert list(load_paths(PLAN, PUMP)) == [(half, half, 0.5), (full, full, 1.0), (together, (*together, PUMP), 1.0)]
    everywhere = list(load_paths(PLAN))
    assert len(everywhere) == 7
    assert everywhere[-1] == (together, together, 1.0)
    assert {share for *_, share in everywhere} == {0.5, 1.0}


def test_a_range_is_widened_by_the_float_alone() -> None:
    assert spread(lambda at: at, Measured(2.0, 0.5)) == pytest.approx((1.5 - 2e-9, 2.0, 2.5 + 2e-9), rel=1e-14)
    assert spread(lambda at: at, Measured(0.5, 0.25)) == pytest.approx((0.25 - 1e-9, 0.5, 0.75 + 1e-9), rel=1e-14)
    assert spread(lambda at: at * at, Measured(0.0, 1.0)) == pytest.approx((-1e-9, 0.0, 1.0 + 1e-9), rel=1e-14)
    assert spread(lambda at: -at * at, Measured(0.0, 1.0)) == pytest.approx((-1.0 - 1e-9, 0.0, 1e-9), rel=1e-14)


@pytest.mark.parametrize("readings", [(Measured(1.0, 1.0),), (Measured(0.0, 1.0),), (Measured(math.inf, 0.0),)])
def test_a_figure_that_can_become_anything_is_none(readings: tuple) -> None:
    assert spread(lambda at: 1 / at if at < 2 else at, *readings) is None


def test_steps_that_meet_say_it_together_and_else_the_heaviest_alone() -> None:
    one = Evidence("one", Triple(1.0, 2.0, 3.0), 1.0)
    two = Evidence("two", Triple(2.5, 3.5, 4.5), 2.0)
    far = Evidence("far", Triple(5.0, 6.0, 7.0), 0.5)
    assert joint([]) is None
    assert joint([one, two]) == (Triple(2.5, 3.0, 3.0), ("one", "two"), True)
    assert joint([one, two._replace(weight=0.5)]) == (Triple(2.5, 2.5, 3.0), ("one", "two"), True)
    assert joint([one, two, far]) == (two.value, ("two",), False)
    assert joint([one._replace(weight=3.0), two, far]) == (one.value, ("one",), False)
    touching = two._replace(value=Triple(3.0, 3.5, 4.5))
    assert joint([one, touching]) == (Triple(3.0, 3.0, 3.0), ("one", "two"), True)


def test_above_and_below_leave_a_billionth() -> None:
    def figure(low: float, high: float) -> Implied:
        return Implied("load", PUMP, Triple(low, low, high), "W", Triple(1.0, 2.0, 3.0), ())

    assert figure(3.0 + 2e-9, 4.0).above
    assert not figure(3.0 + 0.5e-9, 4.0).above
    assert figure(0.5, 1.0 - 2e-9).below
    assert not figure(0.5, 1.0 - 0.5e-9).below
    assert not figure(0.5, 4.0).above
    assert not figure(0.5, 4.0).below


def test_resistance_over_the_corners() -> None:
    spec = PLAN.case.spec._replace(copper=Triple(0.9, 1.0, 1.2))
    assert conductor_ohm(spec, Conductor(0.1, 0.02)) == near(0.11 * 0.9, 0.12, 0.14 * 1.1)
    assert trigger_ohm(spec) == near(0.045, 0.05, 0.055)
    ranged = Triple(0.01, 0.02, 0.05)
    assert trigger_ohm(spec._replace(trigger=ranged)) == ranged
    plan = lab(cable={"loop": {"min": "50mOhm", "typ": "100mOhm", "max": "200mOhm"}})
    assert figures("trigger.bus_v 15.00" + ENDS, plan)["supply", "bus"].stated == near(0.095, 0.15, 0.255)


def test_the_current_of_an_output_that_was_not_read() -> None:
    spec = PLAN.case.spec
    branch, own = spec.branches[0], ("branch", PUMP, "full")
    assert output_current(branch, spec, own, 1.0, Filled({}, {})) is None
    read = Filled({}, {(own, "out_a"): Measured(1.5, 0.05)})
    assert output_current(branch, spec, own, 1.0, read) == (Measured(1.5, 0.05), "")
    volts = Filled({}, {(own, "out_v"): Measured(12.0, 0.0), (own, "load_v"): Measured(10.0, 0.0)})
    assert output_current(branch, spec, own, 1.0, volts) == ((1.2, pytest.approx(0.06)), TAKES)
    assert output_current(branch, spec, own, 0.5, volts) == ((0.6, pytest.approx(0.03)), TAKES)
    nothing = Filled({}, {(own, "out_v"): Measured(0.0, 0.05)})
    assert output_current(branch, spec, own, 1.0, nothing) is None
    barely = Filled({}, {(own, "out_v"): Measured(0.05, 0.05)})
    assert output_current(branch, spec, own, 1.0, barely) is None
    steady = branch._replace(load=of_current(0.5))
    assert output_current(steady, spec, own, 1.0, volts) == ((0.5, pytest.approx(0.025)), TAKES)
    lit = branch._replace(load=led_driver(leds=3, vf_v=2.0, current_a=0.5))
    assert output_current(lit, spec, own, 1.0, volts) == ((pytest.approx(0.3), pytest.approx(0.015)), TAKES)
    ohms = branch._replace(load=of_resistance(20.0))
    assert output_current(ohms, spec, own, 1.0, volts) == ((0.5, pytest.approx(0.5 / 0.95 - 0.5)), TAKES)
