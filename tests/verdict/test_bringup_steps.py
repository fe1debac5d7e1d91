"""The steps of a first power-up record by record: what is read where, on how much of the load, and where they end."""

from __future__ import annotations

import pytest

from pdcheck.circuit.corners import corners, with_output_scaled, with_shares
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup import words
from pdcheck.verdict.bringup.steps import BringUp, expected_nodes
from pdcheck.verdict.bringup.words import Expected, Reading
from tests.verdict.lab import BUCK, FAN, LAMP, PUMP, lab

WIRED = {"awg": 20, "length": "1m"}
THIN = {"loop": "1ohm"}
HEAVY = {PUMP: {"load": {"power": "60W"}, "converter": {**BUCK, "output_limit": "30A"}}}


@pytest.fixture
def whole() -> BringUp:
    return lab()


def layout(plan: BringUp) -> list[tuple]:
    return [(".".join(step.path), step.branches, step.share) for step in plan.steps]


def test_steps_say_what_is_joined_and_how_much_of_its_load(whole: BringUp) -> None:
    assert layout(whole) == [
        ("unpowered", (), 0.0),
        ("trigger", (), 0.0),
        ("branch.pump.unloaded", (PUMP,), 0.0),
        ("branch.pump.half", (PUMP,), 0.5),
        ("branch.pump.full", (PUMP,), 1.0),
        ("branch.lamp.half", (LAMP,), 0.5),
        ("branch.lamp.full", (LAMP,), 1.0),
        ("branch.fan.half", (FAN,), 0.5),
        ("branch.fan.full", (FAN,), 1.0),
        ("together", (PUMP, LAMP, FAN), 1.0),
    ]
    assert whole.halted == ""
    assert [step.path[-1] for step in lab(LAMP).steps] == ["unpowered", "trigger", "half", "full"]


def places(step: int, plan: BringUp) -> list[str]:
    """Name below the step, node, and a mark where the reading may be left out."""
    path = plan.steps[step].path
    return [
        f"{'.'.join((*each.path[len(path) :], each.key))} {each.node}{' ?' if each.optional else ''}"
        for each in plan.steps[step].readings
    ]


def test_each_step_reads_what_is_joined(whole: BringUp) -> None:
    assert places(0, whole) == [
        "polarity bus",
        "pump.input_ohm pump/in",
        "lamp.input_ohm lamp/in",
        "fan.input_ohm fan/in",
    ]
    assert places(1, whole) == ["before_v bus ?", "bus_v bus", "bus_a bus"]
    assert places(2, whole) == ["bus_v bus", "bus_a bus", "out_v pump/out"]
    half = ["bus_v bus", "bus_a bus", "in_v pump/in", "out_v pump/out", "out_a pump/out ?", "load_v pump/load"]
    assert places(3, whole) == half
    assert places(4, whole) == [*half, "source_v source ?"]
    assert places(6, whole) == ["bus_v bus", "bus_a bus", "load_v lamp/load", "source_v source ?"]
    assert places(8, whole) == ["bus_v bus", "bus_a bus", "in_v fan/in", "load_v fan/load", "source_v source ?"]
    assert places(9, whole) == [
        "bus_v bus",
        "bus_a bus",
        "source_v source ?",
        "pump.in_v pump/in",
        "pump.out_v pump/out",
        "pump.out_a pump/out ?",
        "pump.load_v pump/load",
        "pump.in_a pump/in ?",
        "lamp.load_v lamp/load",
        "lamp.in_a lamp/in ?",
        "fan.in_v fan/in",
        "fan.load_v fan/load",
        "fan.in_a fan/in ?",
    ]
    straight = lab(PUMP, more={PUMP: {"lead": None}})
    assert places(4, straight)[2:] == ["in_v pump/in", "out_v pump/out", "out_a pump/out ?", "source_v source ?"]


def test_a_reading_has_the_words_and_the_unit_of_its_key(whole: BringUp) -> None:
    for step in whole.steps:
        for each in step.readings:
            where, outside, unit = words.READINGS[each.key]
            name = next((one for one in (PUMP, LAMP, FAN) if one in each.path), "")
            expected = where.format(name=name, terminals=f"terminals of {name}'s load")
            assert (each.where, each.outside, each.unit) == (expected, outside, unit)
            assert each.path[: len(step.path)] == step.path
            assert each.name == ".".join((*each.path, each.key))
            assert whole.reading(each.path, each.key) is each
    assert whole.reading(("trigger",), "in_v") is None
    assert whole.reading(("branch", PUMP), "bus_v") is None


def test_an_ohmmeter_shows_a_resistor_with_its_leads_and_else_no_short(whole: BringUp) -> None:
    expected = [each.expected for each in whole.steps[0].readings]
    assert expected == [
        Expected(None, None, None),
        Expected(50.0, None, None),
        (27.0, 30.0, 33.5),
        Expected(50.0, None, None),
    ]
    behind = lab(PUMP, more={PUMP: {"load": {"resistance": "12ohm"}}})
    assert behind.steps[0].readings[1].expected == Expected(50.0, None, None)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_what_is_expected_are_the_corners_with_the_output_set_two_percent_off(whole: BringUp, share: float) -> None:
    step = next(each for each in whole.steps if each.path[:2] == ("branch", PUMP) and each.share == share)
    spec = with_shares(whole.case.spec, {PUMP: share})
    found = [corners(with_output_scaled(spec, factor), frozenset({LAMP, FAN})).nodes for factor in (1.0, 0.98, 1.02)]
    for reading in step.readings:
        ends = [each[reading.node].current_a if reading.unit == "A" else each[reading.node].voltage_v for each in found]
        low, high = min(each.min for each in ends), max(each.max for each in ends)
        assert reading.expected == pytest.approx((low, ends[0].typ, high), rel=1e-9)


def test_without_a_converter_nothing_is_set_off() -> None:
    plan = lab(LAMP)
    for reading in plan.steps[3].readings:
        node = corners(plan.case.spec).nodes[reading.node]
        assert reading.expected == (node.current_a if reading.unit == "A" else node.voltage_v)


def test_nodes_without_an_operating_point_are_none(whole: BringUp) -> None:
    assert expected_nodes(whole.case, {PUMP: 1.0}) is not None
    plan = lab(PUMP, cable=THIN, more=HEAVY)
    assert expected_nodes(plan.case, {PUMP: 0.5}) is not None
    assert expected_nodes(plan.case, {PUMP: 1.0}) is None


def test_the_trigger_alone_shows_its_contract_and_no_current(whole: BringUp) -> None:
    before, bus_v, bus_a = whole.steps[1].readings
    assert (before.expected, bus_v.expected) == ((4.75, 5.0, 5.5), (14.25, 15.0, 15.75))
    assert bus_a.expected == (0.0, 0.0, 0.0)
    none = lab(trigger={"request": "28V", "fallback": "none"})
    assert none.steps[1].readings[1].expected == (0.0, 0.0, 0.8)
    assert none.steps[1].actions[1].startswith("Plug in s with cable c. It should give nothing (")


def test_what_to_do_with_the_trigger_alone(whole: BringUp) -> None:
    first, then, again = words.trigger_actions("s", "c", "15 V", "the source offers 15 V", "as-asked")
    assert then == "Plug in s with cable c. It should give 15 V."
    assert words.trigger_actions("s", "c", "9 V", "15 V is not on offer", "fallback") == (
        first,
        "Plug in s with cable c. It should give 9 V (15 V is not on offer).",
        again,
    )
    assert first == (
        "Set the trigger first. Nothing but the meter on its output. Where it can be set to ask for nothing, read VBUS "
        "so as well."
    )
    assert again == "Unplug and plug in again twice: the same voltage must come each time."
    assert whole.steps[1].actions == (first, then, again)


def actions(name: str, **branch: object) -> list[tuple[str, ...]]:
    return [step.actions for step in lab(name, more={name: branch}).steps[2:]]


WARM = "Plug in, read, and read again warm."
HALF = "a dummy load, or part of the real one. Plug in."


def test_what_to_do_at_each_stage_of_a_branch(whole: BringUp) -> None:
    assert actions(PUMP) == [
        (
            "Unplug. Join pump's converter to the trigger, nothing at its output. Plug in.",
            "Set the output to 12 V if it can be set, before you connect any load.",
        ),
        (f'Unplug. Load "pump" with 6 W: {HALF}',),
        (f'Unplug. Load "pump" in full: 12 W. {WARM}',),
    ]
    assert actions(LAMP) == [
        (f'Unplug. Load "lamp" with 60 Ω: {HALF}',),
        (f'Unplug. Load "lamp" in full: 30 Ω. {WARM}',),
    ]
    assert actions(FAN) == [
        (f'Unplug. Load "fan" with 250 mA: {HALF}',),
        (f'Unplug. Load "fan" in full: 500 mA. {WARM}',),
    ]
    light = {"count": 3, "vf": "3V", "current": "120mA", "headroom": "1V"}
    assert actions(LAMP, load={"led": light}) == [
        (f'Unplug. Load "lamp" in full: 3 LEDs at 120 mA. {WARM}',),
    ]
    together = whole.steps[-1]
    assert together.title == "All branches together"
    assert together.actions == (
        "Unplug. Join every branch with its full load. Plug in, read, and read again after ten minutes.",
    )


def test_steps_have_titles(whole: BringUp) -> None:
    assert [step.title for step in whole.steps[:5]] == [
        "Before anything is joined",
        "The trigger alone on its source",
        "pump: converter joined, nothing at its output",
        "pump: half load",
        "pump: full load",
    ]


def test_each_step_says_when_to_stop(whole: BringUp) -> None:
    branch = [words.BRANCH_STOP] * (len(whole.steps) - 3)
    assert [step.stop for step in whole.steps] == [
        words.UNPOWERED_STOP,
        words.TRIGGER_STOP,
        *branch,
        words.TOGETHER_STOP,
    ]
    assert whole.steps[0].actions == words.UNPOWERED_DO


def ends(plan: BringUp) -> tuple[str, str]:
    return ".".join(plan.steps[-1].path), plan.halted


def test_an_unsafe_rig_ends_at_its_trigger_with_the_first_stop() -> None:
    plan = lab(LAMP, more={LAMP: {"load": {"resistance": "30ohm", "voltage": "3V-9V"}}})
    stop = next(each for each in plan.judgement.findings if each.level == "stop")
    assert ends(plan) == ("trigger", f"do not connect it: {stop.subject}: {stop.text}")


def test_a_trigger_that_gives_nothing_ends_with_its_reason() -> None:
    plan = lab(LAMP, trigger={"request": "28V", "fallback": "none"})
    assert ends(plan) == ("trigger", f"the trigger gives nothing: {plan.case.contract.reason}")


def test_a_branch_that_collapses_ends_the_steps_before_it() -> None:
    plan = lab(LAMP, PUMP, cable=THIN, more=HEAVY)
    why = "at full load of pump the voltage collapses"
    assert ends(plan) == ("branch.pump.half", why)
    twice = {PUMP: {**HEAVY[PUMP], "load": {"power": "120W"}}}
    assert ends(lab(LAMP, PUMP, cable=THIN, more=twice)) == ("branch.pump.unloaded", why.replace("full", "half"))


def test_branches_that_collapse_together_end_the_steps_with_that() -> None:
    more = {PUMP: {"load": {"power": "28W"}}, FAN: {"load": {"power": "28W"}}}
    plan = lab(PUMP, FAN, cable=THIN, more=more)
    assert ends(plan) == ("branch.fan.full", "with all branches together the voltage collapses")


def test_branches_that_cannot_run_are_named_in_order_and_the_rest_goes_on() -> None:
    high = {"converter": {**BUCK, "input": "20V-30V"}}
    plan = lab(PUMP, LAMP, FAN, more={PUMP: high, FAN: high | {"wire": WIRED}})
    assert ends(plan) == ("branch.lamp.full", "fan, pump: cannot run on this contract")
    assert [step.path[1] for step in plan.steps[2:]] == [LAMP, LAMP]
    assert len(plan.steps[0].readings) == 4


def test_two_branches_are_enough_to_be_read_together() -> None:
    assert lab(LAMP, FAN).steps[-1].branches == (LAMP, FAN)
    high = {"converter": {**BUCK, "input": "20V-30V"}}
    plan = lab(PUMP, LAMP, FAN, more={PUMP: high})
    assert (plan.steps[-1].branches, plan.halted) == ((LAMP, FAN), "pump: cannot run on this contract")


def test_a_reading_is_needed_unless_it_is_said_otherwise() -> None:
    assert not Reading(("trigger",), "bus_v", "", "V", "bus", Expected(*Triple.exact(1.0)), "").optional
