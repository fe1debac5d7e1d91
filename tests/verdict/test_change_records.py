"""Changes as whole records: what happens, what the trigger ends up with, the fate of every branch and why."""

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source
from pdcheck.verdict.change.changes import BRANCH_RULES, LASTING, START_RULES, changed
from tests.verdict.test_change import BOX, CABLE, FULL, change, path, rig_of

STRING = {"led": {"count": 3, "vf": "3V", "current": "100mA", "headroom": "0.5V"}}
NOT_ON_OFFER = "15 V is not on offer, and the trigger gives nothing then"


def record(found):
    return found.to, found.works, {each.path.way: [tuple(fate) for fate in each.fates] for each in found.paths}


@pytest.mark.parametrize(
    ("to", "told", "volts", "amperes"),
    [
        ("9V", "nothing above 9 V", 9.0, 3.0),
        (" 9 V ", "nothing above 9 V", 9.0, 3.0),
        ("8.99V", "nothing above 8.99 V", 5.0, 3.0),
        ("14000mV", "nothing above 14 V", 9.0, 3.0),
        ("offer 2", "nothing above 9 V", 9.0, 3.0),
        ("OFFER2", "nothing above 9 V", 9.0, 3.0),
        ("offer 3", "nothing above 15 V", 15.0, 3.0),
        ("20W", "no more than 20 W", 15.0, 1.33),
        ("20w", "no more than 20 W", 15.0, 1.33),
        ("Unplug", "unplug", 15.0, 3.0),
    ],
)
def test_every_way_to_say_it(to, told, volts, amperes):
    found = change(rig_of({"converter": BOX}), to)
    contract = found.after.case.contract
    assert (found.to, contract.voltage_v, contract.current_a) == (told, volts, amperes)
    assert found.before.case.contract.voltage_v == 15.0


@pytest.mark.parametrize("to", ["", "lower", "-9V", "9A", "offer", "offer 123", "W", "an offer 2", "offer 2 and more"])
def test_what_is_no_change_says_what_is(to):
    with pytest.raises(InputError) as refused:
        change(rig_of({"converter": BOX}), to)
    assert (refused.value.argument, refused.value.expected) == ("to", "9V, offer 2, 30W or unplug")
    assert str(refused.value).startswith(f"to: '{to}' is no change")


def test_an_offer_that_is_not_there():
    with pytest.raises(InputError) as refused:
        change(rig_of({"converter": BOX}), "offer 9")
    assert str(refused.value) == "to: s has no offer 9; expected one of 1, 2, 3, 4"
    with pytest.raises(InputError) as refused:
        changed(rig_of({"converter": BOX}), FULL, Cable(id="a", kind="A-C"), "offer 1").changes
    assert str(refused.value) == "to: s has no offer 1; expected one of none, since no PD reaches the trigger"


def test_what_goes_on_and_what_restarts():
    heater = {"resistance": "20ohm", "power": "11W", "least": "3W"}
    found = change(rig_of({"converter": BOX}, {"load": heater}), "9V")
    assert record(found) == (
        "nothing above 9 V",
        True,
        {
            "capabilities": [("b0", True, "goes on", False, "", None), ("b1", True, "goes on", False, "", None)],
            "hard-reset": [("b0", True, "restarts", False, "", None), ("b1", True, "restarts", True, "", None)],
        },
    )


def test_what_stops_and_why():
    off = "stays off: it needs 6 V and gets at most 5.25 V"
    dark = "its LEDs need 9.5 V and get at most 5.25 V: they stay dark"
    rig = rig_of({"converter": BOX}, {"load": STRING}, {"load": {"current": "0.1A", "voltage": "12V-20V"}})
    found = change(rig, "5V")
    whys = [path(found, way).fates[at].reason for way in ("capabilities", "hard-reset") for at in range(3)]
    assert whys[:2] == whys[3:5] == [off, dark]
    assert whys[2] == whys[5] and whys[2].endswith(" V in the worst case and needs 12 V")
    assert [fate.fate for fate in path(found, "capabilities").fates] == ["stops"] * 3
    assert [fate.starts_on_5v for fate in path(found, "hard-reset").fates] == [False, False, True]
    assert [fate.starts_on_5v for fate in path(found, "capabilities").fates] == [False, False, False]
    assert [each.works for each in found.paths] == [False, False]


def test_what_may_stop_at_the_worst_corner():
    why = "its input falls to 8.39 V on 9 V and it needs 8.6 V"
    assert record(change(rig_of({"converter": BOX | {"input": "8.6V-36V"}}), "9V")) == (
        "nothing above 9 V",
        False,
        {
            "capabilities": [("b0", True, "may stop", False, why, None)],
            "hard-reset": [("b0", True, "may not restart", False, why, None)],
        },
    )


def test_what_the_bus_as_a_whole_lacks_is_said_of_every_branch():
    found = change(
        rig_of({"converter": BOX}, {"load": {"resistance": "1ohm", "power": "81W", "least": "1W"}}, request="9V"), "5V"
    )
    bus = next(each for each in found.after.findings if each.rule == "cable-current")
    fates = path(found, "capabilities").fates
    assert [fate.reason for fate in fates] == [
        "stays off: it needs 6 V and gets at most 5.25 V",
        f"{bus.subject}: {bus.text}",
    ]
    assert [fate.fate for fate in fates] == ["stops", "may stop"]
    assert [fate.fate for fate in path(found, "hard-reset").fates] == ["stops", "may not restart"]


def test_a_start_up_voltage_counts_only_where_it_starts():
    found = change(rig_of({"converter": BOX | {"start": "12V", "stop": "6V"}}), "9V")
    assert record(found)[2] == {
        "capabilities": [("b0", True, "goes on", False, "", None)],
        "hard-reset": [("b0", True, "stops", False, "never starts: it starts at 12 V and gets at most 9.45 V", None)],
    }


def test_starting_on_the_best_corner_alone():
    found = change(rig_of({"converter": BOX | {"start": "9V"}}), "9V")
    [fate] = path(found, "hard-reset").fates
    assert (fate.fate, fate.reason) == (
        "may not restart",
        "may never start: it starts at 9 V and the bus may be only 8.55 V",
    )


def test_a_latch_is_about_starting_alone():
    source = Source(id="s", offers="5V 3A, 9V 3A; PPS 5-21V 2A", typec_current_a=3.0)
    rig = rig_of({"converter": BOX | {"input": "5V-28V"}, "load": "15W"}, request="pps 15V 2A")
    [found] = changed(rig, source, CABLE, "unplug").changes
    [fate] = path(found, "unplug").fates
    assert (fate.ran, fate.fate) == (True, "may not restart")
    assert fate.reason.startswith("b0: may never start: on the way up, at 5 V")
    [same] = changed(rig, source, CABLE, "40W").changes
    assert [fate.fate for fate in path(same, "capabilities").fates] == ["goes on"]


def test_what_did_not_run_before():
    needs = "stays off: it needs 10 V and gets at most 9.45 V"
    dead = {"converter": BOX | {"input": "10V-36V"}}
    same = change(rig_of(dead, request="9V"), "20V")
    assert record(same) == (
        "nothing above 20 V",
        False,
        {
            "capabilities": [("b0", False, "stays off", False, needs, None)],
            "hard-reset": [("b0", False, "stays off", False, needs, None)],
        },
    )
    # The paths themselves are no worse than before; it is the end that does not work.
    assert [each.works for each in same.paths] == [True, True]


def test_what_starts_with_the_change():
    # A preferred 9 V that goes away leaves 15 V, where the box runs.
    low = Source(id="s", offers="5V 3A, 9V 3A", typec_current_a=3.0, behaviour={"second_port": "5V 3A, 15V 3A"})
    rig = rig_of({"converter": BOX | {"input": "10V-36V", "bulk": "100uF"}}, request="prefer 9V 15V")
    second = next(each for each in changed(rig, low, CABLE).changes if each.to.startswith("second port"))
    assert record(second) == (
        "second port in use, 2 offers of its own",
        True,
        {
            "capabilities": [("b0", False, "starts", False, "", None)],
            "hard-reset": [("b0", False, "starts", False, "", None)],
        },
    )


def test_nothing_fails_that_fails_already():
    found = change(rig_of({"converter": BOX | {"input": "14.9V-36V"}}), "9V")
    [fate] = path(found, "capabilities").fates
    assert (fate.ran, fate.fate) == (False, "stays off")


def test_a_trigger_that_gives_nothing_afterwards():
    found = change(rig_of({"converter": BOX | {"bulk": "47uF"}}, {"load": "20ohm"}, fallback="none"), "9V")
    told, works, paths = record(found)
    assert (told, works, list(paths)) == ("nothing above 9 V", False, ["hard-reset"])
    assert [each[:5] for each in paths["hard-reset"]] == [
        ("b0", True, "stops", False, NOT_ON_OFFER),
        ("b1", True, "stops", True, NOT_ON_OFFER),
    ]
    assert paths["hard-reset"][0][5] == pytest.approx(
        47e-6 * (14.79**2 - 36) / 2 / (10 / 0.9 + 14.79**2 / 20), rel=1e-2
    )
    assert paths["hard-reset"][1][5] is None


def test_a_trigger_that_gave_nothing_before():
    source = Source(id="s", offers="5V 3A, 9V 3A", behaviour={"second_port": "15W"})
    second, last = changed(rig_of({"converter": BOX}, fallback="none"), source, CABLE).changes
    assert record(second) == ("second port in use, 15 W", False, {})
    assert record(last) == ("unplug", False, {"unplug": [("b0", False, "stays off", False, NOT_ON_OFFER, None)]})


def test_a_source_without_pd_has_a_plug_and_nothing_else():
    plain = Source(id="s", offers="5V 3A, 9V 3A", behaviour={"second_port": "15W"})
    assert [each.to for each in changed(rig_of({"converter": BOX}), plain, Cable(id="a", kind="A-C")).changes] == [
        "unplug"
    ]


def test_down_to_nothing():
    found = changed(rig_of({"converter": BOX}, fallback="none"), FULL, CABLE).changes
    assert [(each.to, each.after.case.contract.outcome) for each in found] == [
        ("down to nothing it can use", "off"),
        ("unplug", "as-asked"),
    ]


def test_a_grave_finding_on_the_way_is_enough():
    tender = rig_of({"load": {"current": "0.1A", "voltage": "4V-9.4V"}}, request="9V")
    found = change(tender, "5V")
    straight = path(found, "capabilities")
    assert [fate.fate for fate in straight.fates] == ["goes on"] and found.after.works
    assert (straight.works, found.works) == (False, False)


def test_the_lists_of_fates_and_rules_hold_names_that_exist():
    from pdcheck.verdict.rules.every import RIG_RULES

    assert {*BRANCH_RULES, *START_RULES} <= {rule.id for rule in RIG_RULES}
    assert LASTING == ("may stop", "stops", "may not restart")
