"""Readings against what was expected: rows, causes and their order, each record whole and both sides of each limit."""

from __future__ import annotations

import math

import pytest

from pdcheck.verdict.bringup.cause import Cause
from pdcheck.verdict.bringup.measured import Comparison, compare, shown, within
from pdcheck.verdict.bringup.sheet import Filled, Measured
from pdcheck.verdict.bringup.steps import BringUp
from pdcheck.verdict.bringup.words import Expected
from pdcheck.verdict.judge import judge_case
from tests.verdict.bench import typed
from tests.verdict.lab import BUCK, FAN, LAMP, PUMP, lab

PLAN = lab()
BUS = ("trigger",)


def compared(written: str, plan: BringUp = PLAN) -> Comparison:
    return compare(plan, typed(plan, written))


def causes(written: str, plan: BringUp = PLAN) -> list[tuple]:
    return [tuple(each)[:5] for each in compared(written, plan).causes]


def at(path: tuple, key: str, value: float, half: float = 0.0, plan: BringUp = PLAN) -> Comparison:
    return compare(plan, Filled({}, {(path, key): Measured(value, half)}))


def test_every_reading_of_the_plan_has_its_row_in_order() -> None:
    found = compared("trigger.bus_v 15.00\nunpowered.polarity yes\nbranch.fan.full.load_v 9.00")
    assert [row.reading.name for row in found.readings] == [each.name for step in PLAN.steps for each in step.readings]
    assert all(row.expected == row.reading.expected for row in found.readings)
    inside = {row.reading.name: row.inside for row in found.readings if row.taken is not None}
    assert inside == {"unpowered.polarity": True, "trigger.bus_v": True, "branch.fan.full.load_v": False}
    assert {row.inside for row in found.readings if row.taken is None} == {None}
    assert (found.taken, found.plan, found.case, found.fell_to) == (3, PLAN, PLAN.case, None)
    assert not found.fine


def test_notes_leave_a_rig_fine_and_readings_outside_do_not() -> None:
    loaded = "branch.lamp.full.load_v 14.90\nbranch.lamp.full.bus_a "
    assert compared(loaded + "0.497").fine
    noted = compared("trigger.bus_a 0.000\nbranch.pump.unloaded.bus_v 15.00\nbranch.pump.unloaded.bus_a 0.0390")
    assert ([(each.kind, each.level) for each in noted.causes], noted.fine) == ([("idle", "note")], True)
    more = compared(
        "trigger.bus_a 0.045\ntogether.bus_a 1.970\ntogether.pump.in_a 0.932\n"
        "together.lamp.in_a 0.494\ntogether.fan.in_a 0.500"
    )
    assert [(each.kind, each.level) for each in more.causes] == [("bus-draw", "warn")]
    assert not more.fine


@pytest.mark.parametrize(
    ("value", "half", "inside"),
    [
        (1.0, 0.0, True),
        (2.0, 0.0, True),
        (1.0 - 0.5e-9, 0.0, True),
        (1.0 - 2e-9, 0.0, False),
        (2.0 + 1e-9, 0.0, True),
        (2.0 + 3e-9, 0.0, False),
        (0.9, 0.1, True),
        (0.9, 0.09, False),
        (2.1, 0.1001, True),
        (2.1, 0.09, False),
    ],
)
def test_a_reading_is_inside_where_its_digit_may_be(value: float, half: float, inside: bool) -> None:
    assert within(Measured(value, half), Expected(1.0, 1.5, 2.0)) is inside


def test_an_end_that_is_not_there_is_no_limit() -> None:
    assert within(Measured(-9.0, 0.0), Expected(None, None, 2.0))
    assert not within(Measured(3.0, 0.0), Expected(None, None, 2.0))
    assert within(Measured(math.inf, 0.0), Expected(1.0, None, None))
    assert not within(Measured(0.5, 0.0), Expected(1.0, None, None))
    assert within(Measured(-20.0 - 1e-8, 0.0), Expected(-20.0, -20.0, 1.0))
    assert not within(Measured(-20.0 - 3e-8, 0.0), Expected(-20.0, -20.0, 1.0))


def test_poles_and_shorts_are_told_before_anything_is_plugged_in() -> None:
    assert causes("unpowered.polarity no") == [
        (
            "polarity",
            "stop",
            "bus",
            "a branch is joined the wrong way round",
            "Do not plug in. Swap its wires and look again.",
        )
    ]
    assert causes("unpowered.polarity yes") == []
    assert causes("unpowered.pump.input_ohm 0.6\nunpowered.lamp.input_ohm 12.0") == [
        (
            "short",
            "stop",
            name,
            f"its input measures {ohms} Ω, where at least {least} Ω is due",
            "Do not plug in. Look for a short, a part the wrong way round, a wrong load.",
        )
        for name, ohms, least in ((PUMP, "0.6", 50), (LAMP, "12.0", 27))
    ]


def test_a_short_is_told_below_the_limit_alone() -> None:
    path = ("unpowered", PUMP)
    assert at(path, "input_ohm", 50.0).causes == ()
    assert at(path, "input_ohm", 49.5, 0.5).causes == ()
    assert [each.kind for each in at(path, "input_ohm", 49.9).causes] == ["short"]
    assert at(path, "input_ohm", math.inf).causes == ()
    # Too many ohms are no short: they are outside, and nothing more is known.
    assert [each.kind for each in at(("unpowered", LAMP), "input_ohm", 90.0).causes] == ["unexplained"]


def test_another_load_is_no_short() -> None:
    assert [(each[0], each[1], each[3]) for each in causes("unpowered.lamp.input_ohm 20.0")] == [
        ("load", "warn", "the load is 20.0 Ω by the ohmmeter; the calculation used 30 Ω")
    ]


def test_swapped_poles_are_told_once_by_the_first_reading() -> None:
    found = causes("branch.lamp.full.load_v -14.9\nbranch.fan.full.load_v -14.8")
    assert [each for each in found if each[0] == "polarity"] == [
        (
            "polarity",
            "stop",
            "bus",
            "branch.lamp.full.load_v reads -14.9 V: the poles are swapped, at the meter or in the wiring",
            "Unplug and find out which before going on.",
        )
    ]
    place = ("branch", LAMP, "full")
    assert "polarity" not in {each.kind for each in at(place, "load_v", 0.0).causes}
    assert "polarity" not in {each.kind for each in at(place, "load_v", -0.01, 0.01).causes}
    assert "polarity" in {each.kind for each in at(place, "load_v", -0.01, 0.009).causes}
    assert "polarity" not in {each.kind for each in at(place, "bus_a", -0.5).causes}


FELL = (
    "The trigger fell back to {0:g} V, or is set to it. Look at its setting; then at the cable (one without a CC wire, "
    "or a broken one, gives 5 V); then at what this source really offers."
)
SET = "Leave everything off the bus. The trigger is set to another voltage: set it again and measure."
ODD = "No offer of this source has that voltage: look at the source, the trigger and the meter."


@pytest.mark.parametrize(
    ("volts", "kind", "level", "fell_to", "text", "advice"),
    [
        ("14.25", None, None, None, "", ""),
        ("15.75", None, None, None, "", ""),
        ("9.02", "trigger-fallback", "fail", 9.0, "9.02 V with nothing on it: that is offer 2 (9 V)", FELL.format(9)),
        ("5.06", "trigger-fallback", "fail", 5.0, "5.06 V with nothing on it: that is offer 1 (5 V)", FELL.format(5)),
        ("20.1", "trigger-setting", "stop", 20.0, "20.1 V with nothing on it: that is offer 4 (20 V)", SET),
        ("11.9", "bus-voltage", "fail", None, "11.9 V with nothing on it", ODD),
        ("16.1", "bus-voltage", "stop", None, "16.1 V with nothing on it", ODD),  # the end of a PPS offer is no offer
        ("28.0", "bus-voltage", "stop", None, "28.0 V with nothing on it", ODD),
        ("0.00", "bus-voltage", "fail", None, "0.00 V with nothing on it", ODD),
    ],
)
def test_the_contract_that_a_trigger_shows(
    volts: str, kind: str | None, level: str, fell_to: float | None, text: str, advice: str
) -> None:
    found = compared(f"trigger.bus_v {volts}")
    assert found.fell_to == fell_to
    told = [each for each in found.causes if each.subject == "trigger"]
    if kind is None:
        assert told == []
    else:
        assert told == [Cause(kind, level, "trigger", f"the bus is at {text}, and 15 V was expected", advice)]


@pytest.mark.parametrize(
    ("volts", "near"),
    [
        (8.55, 9.0),
        (9.45, 9.0),
        (8.47, 9.0),
        (9.54, 9.0),
        (8.46, None),
        (9.55, None),
        (4.75, 5.0),
        (5.5, 5.0),
        (5.55, 5.0),
        (5.56, None),
    ],
)
def test_an_offer_is_near_within_the_tolerance_of_its_source(volts: float, near: float | None) -> None:
    # A meter of which nothing is known may be off by one part in a hundred more.
    assert at(BUS, "bus_v", volts).fell_to == near


def told_of_trigger(plan: BringUp, volts: float) -> str:
    return next(each.text for each in at(BUS, "bus_v", volts, 0.05, plan).causes if each.subject == "trigger")


def test_five_volts_are_near_as_any_port_gives_them() -> None:
    strict = lab(LAMP, tolerance={"source": 0.01})
    assert told_of_trigger(strict, 5.4) == (
        "the bus is at 5.4 V with nothing on it: that is offer 1 (5 V), and 15 V was expected"
    )
    silent = lab(LAMP, offers="9V 3A, 15V 3A")
    assert told_of_trigger(silent, 5.1) == (
        "the bus is at 5.1 V with nothing on it: that is 5 V without PD, and 15 V was expected"
    )


def test_five_volts_out_of_the_tolerance_that_was_stated_are_no_other_contract() -> None:
    strict = lab(LAMP, trigger={"request": "5V"}, tolerance={"source": 0.01})
    for volts, level in ((5.2, "stop"), (4.8, "fail")):
        found = at(BUS, "bus_v", volts, 0.05, strict)
        text = f"the bus is at {volts} V with nothing on it, and 5 V was expected"
        assert (found.fell_to, [tuple(each)[:5] for each in found.causes]) == (
            None,
            [("bus-voltage", level, "trigger", text, ODD)],
        )


def test_behind_a_trigger_that_fell_back_the_sums_are_those_of_the_lower_contract() -> None:
    found = compared("trigger.bus_v 9.02\nbranch.lamp.full.load_v 8.90\nbranch.lamp.full.bus_a 0.300")
    assert (found.case.contract.voltage_v, found.case.contract.outcome, found.case.contract.reason) == (
        9.0, "fallback", "as measured",
    )  # fmt: skip
    rows = {row.reading.name: row for row in found.readings}
    assert rows["trigger.bus_v"].expected == PLAN.reading(BUS, "bus_v").expected
    assert rows["trigger.bus_v"].inside is False
    lamp = rows["branch.lamp.full.load_v"]
    assert lamp.inside is True
    assert lamp.expected.typ == pytest.approx(8.935, abs=5e-3)
    assert lamp.reading.expected.typ == pytest.approx(14.892, abs=5e-3)
    # Of what the lower contract cannot run there are no sums: what was expected at first stays.
    assert rows["branch.pump.full.out_v"].expected == rows["branch.pump.full.out_v"].reading.expected


def test_a_rig_that_fails_on_the_lower_contract_is_told_by_its_worst_finding() -> None:
    found = compared("trigger.bus_v 9.02")
    worst = judge_case(found.case).findings[0]
    assert [tuple(each)[:5] for each in found.causes][-1] == (
        "verdict", "fail", "rig", f"on 9 V this rig fails: {worst.subject}: {worst.text}", worst.advice,
    )  # fmt: skip
    high = compared(
        "trigger.bus_v 20.1", lab(LAMP, more={LAMP: {"load": {"resistance": "30ohm", "voltage": "9V-16V"}}})
    )
    worst = judge_case(high.case).findings[0]
    assert [(each.kind, each.level, each.text) for each in high.causes if each.subject == "rig"] == [
        ("verdict", "stop", f"on 20 V this rig is unsafe: {worst.subject}: {worst.text}")
    ]
    modest = {LAMP: {"load": {"resistance": "30ohm", "power": "7.5W", "least": "1W"}}}
    works = compared("trigger.bus_v 9.02", lab(LAMP, more=modest))
    assert [each.kind for each in works.causes] == ["trigger-fallback"]


def test_a_trigger_that_was_to_give_nothing() -> None:
    plan = lab(trigger={"request": "28V", "fallback": "none"})
    assert plan.case.contract.outcome == "off"
    assert causes("trigger.bus_v 0.20", plan) == []
    (told, *_) = causes("trigger.bus_v 15.0", plan)
    assert told[0] == "trigger-setting"
    assert told[3].endswith("with nothing on it: that is offer 3 (15 V), and nothing was expected")


def test_a_source_that_sags_is_told_once() -> None:
    found = causes("branch.lamp.full.source_v 14.1\nbranch.fan.full.source_v 14.0")
    assert found == [
        (
            "source-sags",
            "fail",
            "source",
            "it falls to 14.0 V under load, and 14.25 V is the least it may",
            "Another charger, or less load: this one is at its end, or not what it says.",
        )
    ]
    place = ("branch", LAMP, "full")
    assert at(place, "source_v", 14.25).causes == ()
    # One part in a hundred is a meter's own error, where nothing is known of it.
    assert at(place, "source_v", 14.06, 0.05).causes == ()
    assert [each.kind for each in at(place, "source_v", 14.06, 0.04).causes] == ["source-sags"]
    holds = lab(trigger={"request": "pps 15V 2.15A", "resistance": "50mOhm", "rating": "5A"})
    assert [each.kind for each in at(("together",), "source_v", 14.0, plan=holds).causes] == ["unexplained"]


SET_AGAIN = "Set it again with nothing on it, before any load is joined."
SAGS = "It is at a limit of its own or starved at its input: see its input voltage at that step."


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("branch.pump.unloaded.out_v 12.29", []),
        ("branch.pump.unloaded.out_v 11.71", []),
        (
            "branch.pump.unloaded.out_v 12.31",
            [("output-setting", "stop", PUMP, "its output is set to 12.31 V, not 12 V", SET_AGAIN)],
        ),
        (
            "branch.pump.unloaded.out_v 11.69",
            [("output-setting", "warn", PUMP, "its output is set to 11.69 V, not 12 V", SET_AGAIN)],
        ),
        (
            "branch.pump.full.out_v 11.5",
            [("output-setting", "warn", PUMP, "its output is set to 11.5 V, not 12 V", SET_AGAIN)],
        ),
        (
            "branch.pump.unloaded.out_v 12.0\nbranch.pump.half.out_v 11.9\nbranch.pump.full.out_v 11.5",
            [
                (
                    "output-sags",
                    "fail",
                    PUMP,
                    "its output falls under load, as if 475 ± 300 mΩ sat inside it (if the load takes what is stated)",
                    SAGS,
                )
            ],
        ),
        (
            "branch.pump.unloaded.out_v 11.4\nbranch.pump.full.out_v 11.5",
            [("output-setting", "warn", PUMP, "its output is set to 11.4 V, not 12 V", SET_AGAIN)],
        ),
    ],
)
def test_an_output_is_set_wrong_or_sags(written: str, told: list) -> None:
    assert causes(written) == told


def test_each_converter_is_looked_at_behind_those_without_one() -> None:
    plan = lab(LAMP, FAN, PUMP, more={FAN: {"converter": {**BUCK, "output": "9V"}}})
    found = causes("branch.fan.unloaded.out_v 10.0\nbranch.pump.unloaded.out_v 10.0", plan)
    assert [(kind, subject, text) for kind, _, subject, text, _ in found] == [
        ("output-setting", FAN, "its output is set to 10.00 ± 0.12 V, not 9 V"),
        ("output-setting", PUMP, "its output is set to 10.00 ± 0.12 V, not 12 V"),
    ]
    fine = causes("branch.fan.unloaded.out_v 9.0\nbranch.pump.unloaded.out_v 10.0", plan)
    assert [each[2] for each in fine] == [PUMP]


def test_what_nothing_explains_is_named_reading_by_reading() -> None:
    assert causes("trigger.before_v 6.20") == [
        (
            "unexplained",
            "warn",
            "bus",
            "outside, with nothing that these readings point to: trigger.before_v",
            "Take the readings again, all of that step; look at the meter.",
        )
    ]
    idle = "\ntrigger.bus_a 0.000\nbranch.pump.unloaded.bus_v 15.00\nbranch.pump.unloaded.bus_a "
    # A note explains its own reading alone; a named cause is enough said.
    assert [each[0] for each in causes("trigger.before_v 6.20" + idle + "0.0390")] == ["unexplained", "idle"]
    assert [each[0] for each in causes("trigger.before_v 6.20" + idle + "0.060")] == ["idle"]


def test_the_gravest_is_told_first() -> None:
    found = causes(
        "unpowered.polarity no\ntrigger.bus_v 11.9\ntrigger.bus_a 0.000\nbranch.pump.unloaded.bus_v 15.0\n"
        "branch.pump.unloaded.bus_a 0.0390\n"
        "branch.pump.unloaded.out_v 11.0\nbranch.pump.full.source_v 11.9"
    )
    assert [each[1] for each in found][:4] == ["stop", "fail", "fail", "warn"]
    assert [each[0] for each in found][:3] == ["polarity", "bus-voltage", "source-sags"]
    assert "output-setting" in [each[0] for each in found]


@pytest.mark.parametrize(
    ("taken", "unit", "text"),
    [
        (Measured(14.5, 0.5), "V", "14 V"),
        (Measured(14.5, 0.05), "V", "14.5 V"),
        (Measured(14.5, 0.0496), "V", "14.5 V"),
        (Measured(14.5, 0.04), "V", "14.50 V"),
        (Measured(0.382, 0.0005), "A", "0.382 A"),
        (Measured(0.6, 0.05), "ohm", "0.6 Ω"),
        (Measured(math.inf, 0.0), "ohm", "open"),
        (Measured(1.0, 0.0), "", "yes"),
        (Measured(0.0, 0.0), "", "no"),
        (Measured(1.0, 0.0), "V", "1.000000000 V"),
        (Measured(1500.0, 50.0), "ohm", "1500 Ω"),
    ],
)
def test_a_reading_is_shown_with_its_own_digits(taken: Measured, unit: str, text: str) -> None:
    assert shown(taken, unit) == text
