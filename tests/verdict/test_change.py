"""Changes of a source: what each branch does on each path, the bus in between, inrush, loads straight on the bus."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.facts.timing import timer
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.change.changes import START_RULES, Change, PathChange, changed
from pdcheck.verdict.finding import GRAVE
from pdcheck.verdict.judge import judge
from pdcheck.verdict.transient.first_second import transient

FULL = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 3A")
CABLE = Cable(id="c", kind="C-C", loop="120mOhm")
BOX = {"kind": "buck-boost", "input": "6V-36V", "output": "12V", "efficiency": 0.9}


def rig_of(*branches: dict[str, Any], request: str = "15V", fallback: str = "next-lower", **trigger: Any) -> Rig:
    listed = [{"name": f"b{index}", "load": "10W"} | branch for index, branch in enumerate(branches)]
    return Rig.model_validate({"trigger": {"request": request, "fallback": fallback} | trigger, "branch": listed})


def change(rig: Rig, to: str, source: Source = FULL) -> Change:
    [found] = changed(rig, source, CABLE, to).changes
    return found


def path(found: Change, way: str) -> PathChange:
    return next(each for each in found.paths if each.path.way == way)


def fates(found: Change, way: str) -> list[str]:
    return [fate.fate for fate in path(found, way).fates]


def test_a_converter_goes_on_or_restarts() -> None:
    found = change(rig_of({"converter": BOX}), "9V")
    assert found.after.case.contract.voltage_v == 9.0
    assert fates(found, "capabilities") == ["goes on"]
    assert fates(found, "hard-reset") == ["restarts"]
    assert not path(found, "hard-reset").fates[0].starts_on_5v
    assert found.works


def test_a_converter_that_runs_below_its_start_stays_off_after_a_reset() -> None:
    found = change(rig_of({"converter": BOX | {"start": "12V", "stop": "6V"}}), "9V")
    assert fates(found, "capabilities") == ["goes on"]
    assert fates(found, "hard-reset") == ["stops"]
    assert not found.works


@pytest.mark.parametrize(
    ("converter", "to", "expected"),
    [
        (BOX | {"input": "10V-36V"}, "9V", ["stops", "stops"]),
        (BOX | {"input": "8.6V-36V"}, "9V", ["may stop", "may not restart"]),
        (BOX | {"kind": "buck", "output": "9V"}, "9V", ["may stop", "may not restart"]),
        (BOX | {"kind": "buck", "output": "9.5V"}, "9V", ["stops", "stops"]),
        (BOX | {"input": "4V-36V"}, "offer 1", ["goes on", "restarts"]),
    ],
)
def test_what_a_branch_does_on_less(converter: dict[str, Any], to: str, expected: list[str]) -> None:
    found = change(rig_of({"converter": converter}), to)
    assert [*fates(found, "capabilities"), *fates(found, "hard-reset")] == expected
    assert found.works == (expected[0] == "goes on")


@pytest.mark.parametrize(
    ("load", "rule"),
    [
        ({"resistance": "36ohm"}, "load-weak"),
        ({"led": {"count": 1, "vf": "3V", "current": "20mA", "driver": "resistor", "resistor": "620ohm"}}, "led-dark"),
    ],
)
def test_a_branch_that_gets_too_little_power_is_not_the_bus(load: dict[str, Any], rule: str) -> None:
    """A heater meant for 15 V that is nearly cold on 5 V, and a string that is dark, stop nothing beside them."""
    found = change(rig_of({"converter": BOX | {"input": "4V-36V"}, "load": "2W"}, {"load": load}), "5V")
    assert {each.rule for each in found.after.findings if each.level == "fail"} == {rule}
    assert fates(found, "capabilities") == ["goes on", "stops"]
    assert fates(found, "hard-reset") == ["restarts", "stops"]
    why = path(found, "capabilities").fates[1].reason
    assert "get" in why and "below" in why


def test_a_power_that_is_too_little_only_at_worst_may_still_do() -> None:
    """36 ohm take 1.8 to 2.5 W of 9 V with 5 % either way."""
    found = change(rig_of({"load": {"resistance": "36ohm", "power": "6W", "least": "2.1W"}}), "9V")
    assert fates(found, "capabilities") == ["may stop"]
    found = change(rig_of({"load": {"resistance": "36ohm", "power": "6W", "least": "2.6W"}}), "9V")
    assert fates(found, "capabilities") == ["stops"]


def test_less_power_at_the_same_voltage() -> None:
    found = change(rig_of({"converter": BOX, "load": "25W"}), "20W")
    assert (found.after.case.contract.voltage_v, found.after.case.contract.current_a) == (15.0, 1.33)
    assert fates(found, "capabilities") == ["may stop"]
    assert "1.33 A" in path(found, "capabilities").fates[0].reason
    assert not any("goes from" in step.what for step in path(found, "capabilities").path.steps)


def test_a_trigger_without_fall_back_switches_off() -> None:
    found = change(rig_of({"converter": BOX}, fallback="none"), "9V")
    assert [each.path.way for each in found.paths] == ["hard-reset"]
    assert fates(found, "hard-reset") == ["stops"]


def test_times_are_the_standard_s() -> None:
    found = change(rig_of({"converter": BOX}), "9V")
    reset, straight = path(found, "hard-reset").path, path(found, "capabilities").path
    assert reset.off_s == (
        timer("tSrcRecover").min,
        round(
            timer("tSafe0V").require_max() + timer("tSrcRecover").require_max() + timer("tSrcTurnOn").require_max(), 9
        ),
    )
    # 6 V at 30 mV/us take 200 us at the least, and no more than tSrcReady.
    moving = straight.steps[2]
    assert (moving.least_s, moving.greatest_s) == (0.0002, timer("tSrcReady").max)
    # 5 % below 9 V, and 0.5 V more for a moment.
    assert straight.lowest_v == 8.05


def test_extended_power_takes_longer_to_recover() -> None:
    brick = Source(id="e", offers="5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A")
    wide = Cable(id="w", kind="C-C", rating="5A", epr=True, loop="100mOhm")
    [found] = changed(rig_of({"converter": BOX}, request="28V"), brick, wide, "20V").changes
    off = path(found, "hard-reset").path.off_s
    assert off is not None
    assert off[0] == timer("tSrcRecover", epr=True).min


def test_unplugging_brings_the_same_contract_back() -> None:
    found = change(rig_of({"converter": BOX}, {"load": "20ohm"}), "unplug")
    assert fates(found, "unplug") == ["restarts", "restarts"]
    assert [fate.starts_on_5v for fate in path(found, "unplug").fates] == [False, True]
    assert path(found, "unplug").path.off_s == (0.1, None)


def test_everything_that_may_happen() -> None:
    source = Source(
        id="s",
        offers="5V 3A, 9V 3A, 15V 3A",
        behaviour={"second_port": "20W", "steps_down": [{"at": "10s", "to": "5V 3A, 9V 2A"}]},
    )
    found = changed(rig_of({"converter": BOX}), source, CABLE).changes
    assert [each.to for each in found] == [
        "second port in use, 20 W",
        "after 10 s, 2 offers of its own",
        "down to 9 V",
        "down to 5 V",
        "unplug",
    ]
    assert [each.after.case.contract.power_w for each in found] == [pytest.approx(19.95), 18.0, 27.0, 15.0, 45.0]


@pytest.mark.parametrize("to", ["", "lower", "offer 9", "-9V", "9A", "offer"])
def test_what_is_no_change_is_refused(to: str) -> None:
    with pytest.raises(InputError):
        change(rig_of({"converter": BOX}), to)


def test_inrush_into_the_capacitance() -> None:
    found = change(rig_of({"converter": BOX | {"bulk": "120uF"}}, request="20V"), "unplug")
    attach, climb = (
        next(each for each in path(found, "unplug").findings if each.rule == rule)
        for rule in ("bulk-attach", "bulk-contract")
    )
    assert (attach.value, attach.limit, attach.level) == (120e-6, 10e-6, "note")
    # 120 uF x 30 mV/us; 5.5 V / 0.12 ohm at the first moment; 16.25 V at 0.5 A.
    assert "3.6 A" in climb.text
    assert "45.8 A" in attach.text
    assert f"{120e-6 * 16.25 / 0.5 * 1e3:.1f} ms" in climb.text
    assert climb.level == "warn"
    small = change(rig_of({"converter": BOX | {"bulk": "100uF"}}, request="20V"), "unplug")
    assert {each.level for each in path(small, "unplug").findings} == {"note"}


def test_hold_up() -> None:
    box = BOX | {"bulk": "470uF", "efficiency": 1.0}
    held = path(change(rig_of({"converter": box, "load": "10W"}), "unplug"), "unplug").fates[0].hold_up_s
    assert held is not None
    bus = 15.0 / 2 + math.sqrt(15.0**2 / 4 - 0.12 * 10)
    assert math.isclose(held, 470e-6 * (bus**2 - 36) / 2 / 10, rel_tol=1e-6)


def test_loads_straight_on_the_bus() -> None:
    fan = {"load": {"current": "0.5A", "voltage": "12V-16V"}}
    down = change(rig_of(fan), "9V")
    assert fates(down, "capabilities") == ["stops"]
    swap = path(change(rig_of(fan), "unplug"), "unplug")
    assert swap.fates[0].fate == "restarts"
    assert any("at 5 V for up to" in each.text and each.level == "note" for each in swap.findings)
    tender = {"load": {"current": "0.5A", "voltage": "12V-15V"}}
    high = path(change(rig_of(tender), "unplug"), "unplug")
    assert [each.rule for each in high.findings if each.level == "stop"] == ["load-voltage-high"]
    unknown = path(change(rig_of({"load": {"current": "0.5A"}}), "9V"), "capabilities")
    assert any("not stated" in each.text for each in unknown.findings)


def test_more_than_is_sure_on_the_5_v_in_between() -> None:
    eager = change(rig_of({"converter": BOX | {"input": "4V-36V"}}), "unplug")
    assert [each.rule for each in path(eager, "unplug").findings if each.level == "warn"] == ["source-current"]
    sure = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A", typec_current_a=3.0)
    calm = change(rig_of({"converter": BOX | {"input": "4V-36V"}}), "unplug", sure)
    assert not [each for each in path(calm, "unplug").findings if each.level == "warn"]


@settings(max_examples=60, deadline=None)
@given(
    st.floats(4, 20).map(lambda value: round(value, 3)),
    st.floats(0, 8).map(lambda value: round(value, 3)),
    st.sampled_from(("5V", "9V", "15V")),
    st.floats(1, 30).map(lambda value: round(value, 3)),
)
def test_a_restart_is_what_judge_says_of_the_lesser_source(least: float, more: float, to: str, power: float) -> None:
    plain_box = BOX | {"input": f"{least}V-36V", "stop": f"{0.7 * least:.3f}V"}
    box = plain_box | {"start": f"{least + more:.3f}V"}
    rig = rig_of({"converter": box, "load": f"{power}W"}, request="20V")
    found = change(rig, to)
    lesser = Source(id="s", offers=FULL.offers[: {"5V": 1, "9V": 2, "15V": 3}[to]])
    if path(found, "hard-reset").fates[0].ran:
        assert (fates(found, "hard-reset") == ["restarts"]) == judge(rig, lesser, CABLE).works
        # What restarts also goes on; and without a start-up voltage of its own, going on is all there is to it, but for
        # what is about starting.
        plain = rig_of({"converter": plain_box, "load": f"{power}W"}, request="20V")
        against = [each for each in judge(plain, lesser, CABLE).findings if each.level in GRAVE]
        stays = all(each.rule in START_RULES for each in against)
        assert (fates(found, "capabilities") == ["goes on"]) == stays
    assert path(found, "hard-reset").path.interrupted


HEATER = {"load": "4.5ohm"}
"""On 9 V behind 265 mOhm of cable, trigger and wire the bus is at 8.50 V beside it, whatever else is there."""
SOFT = Cable(id="soft", kind="C-C", loop="265mOhm")


def slack(converter: dict[str, Any], to: str, *others: dict[str, Any], source: float = 0.0) -> Change:
    """What happens over the soft cable to a converter beside others; ``source`` is the tolerance of the voltage."""
    rig = rig_of({"converter": BOX | converter, "load": "5W"}, *others, request="9V" if others else "15V")
    [found] = changed(rig.replace({"tolerance.source": source}), FULL, SOFT, to).changes
    return found


def test_one_that_cannot_start_beside_what_draws_already_never_comes_back() -> None:
    beside = slack({"start": "8.6V", "stop": "6V"}, "unplug", HEATER)
    [fate, heater] = path(beside, "unplug").fates
    assert (fate.fate, heater.fate) == ("stays off", "restarts")
    assert fate.reason == "never starts: it starts at 8.6 V and the bus is at most 8.5 V beside what already draws"
    assert not beside.works
    # A little lower, or without the heater, or where the source may be better: it starts, or may.
    assert fates(slack({"start": "8.4V", "stop": "6V"}, "unplug", HEATER), "unplug")[0] == "restarts"
    assert fates(slack({"start": "8.6V", "stop": "6V"}, "unplug", {"load": "1kohm"}), "unplug")[0] == "restarts"
    assert (
        fates(slack({"start": "8.6V", "stop": "6V"}, "unplug", HEATER, source=0.05), "unplug")[0] == "may not restart"
    )


def test_a_converter_that_starts_later_is_no_load_yet() -> None:
    late = {"converter": BOX | {"start": "8.8V", "stop": "6V", "input": "5V-36V"}, "load": "10W"}
    found = slack({"start": "8.6V", "stop": "6V"}, "unplug", late)
    assert fates(found, "unplug")[0] == "restarts"


@pytest.mark.parametrize(
    ("converter", "fate", "told"),
    [
        ({"start": "8.5V", "stop": "8V"}, "restarts", "it cuts off at 8 V and its capacitors keep it up for"),
        ({"start": "8.6V", "stop": "7.5V"}, "goes on", ""),
        ({"start": "8.6V", "stop": "8V", "bulk": "10mF"}, "goes on", ""),
        ({"start": "8.9V", "stop": "8V"}, "may stop", "then it may never start"),
        ({"start": "9V"}, "may stop", "it cuts off at 8.5 V (assumed)"),
        ({"start": "14V"}, "stops", "it cuts off at 13.5 V (assumed)"),
    ],
)
def test_a_dip_on_the_way_down_against_the_cut_off(converter: dict[str, Any], fate: str, told: str) -> None:
    """VBUS may be at 8.05 V for 5 ms on the way to 9 V [PD R3.2 V1.1: vSrcNew, vSrcValid, tSrcTransient]."""
    found = slack(converter | {"input": "5V-36V"}, "9V", source=0.05)
    [each] = path(found, "capabilities").fates
    assert (each.fate, told in each.reason) == (fate, True)


def test_one_that_starts_and_cuts_off_under_its_own_load_does_not_come_back() -> None:
    found = slack({"start": "8.6V", "stop": "8.55V", "input": "5V-36V"}, "unplug", {"load": "7ohm"})
    assert fates(found, "unplug")[0] == "may not restart"
    assert "starts again and again" in path(found, "unplug").fates[0].reason


@pytest.mark.parametrize("loop_mohm", [150, 200, 265, 300])
@pytest.mark.parametrize("start_v", [8.0, 8.3, 8.45, 8.55, 8.7, 8.9])
def test_the_solver_in_time_says_the_same_of_starting_beside_a_heater(loop_mohm: int, start_v: float) -> None:
    """The closed form and the solver agree on every rig that is not within 2 % of the boundary."""
    module = {"converter": BOX | {"start": f"{start_v}V", "stop": "6V"}, "load": "2W"}
    rig = rig_of(HEATER, module, request="9V").replace({"tolerance.source": 0.0})
    cable = Cable(id="c", kind="C-C", loop=f"{loop_mohm}mOhm")
    bus_v = 9.0 * 4.5 / (4.5 + loop_mohm / 1000)
    if abs(bus_v - start_v) < 0.02 * start_v:
        return
    [found] = changed(rig, FULL, cable, "unplug").changes
    solved = transient(Case(rig, FULL, cable), (), 0.4)
    assert (fates(found, "unplug")[1] == "restarts") == (solved.fates[1].fate == "starts") == (bus_v > start_v)
