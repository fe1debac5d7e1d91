"""What a change does beside stopping branches, each finding whole: inrush, loads on the bus, the 5 V in between."""

import math

import pytest

from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source
from pdcheck.verdict.change.changes import changed
from pdcheck.verdict.change.effects import hold_up_s
from tests.verdict.test_change import BOX, CABLE, FULL, change, path, rig_of

SURE = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 3A", typec_current_a=3.0)
LIMITER = "Put a surge limiter before the capacitors, or switch the loads on afterwards."
SWITCH = "Where a source clicks off at this, put a switch or a surge limiter before the capacitors."
ATTACH = (
    "Type-C, Table 4-3, and a Type-C controller's datasheet; the PD text points to USB 3.2 [checked]",
    "PD R3.2 V1.1, Table 7.24 [checked]",
)
OWN = "the load's own figures, from the rig file [rig]"


def figures(finding):
    return (*finding[:6], str(finding.origin))


def attach(farads):
    return ("bulk-attach", "note", "bus", pytest.approx(farads), 10e-6, "F", ATTACH[0])


def climb(farads, level="note"):
    return ("bulk-contract", level, "bus", pytest.approx(farads), 100e-6, "F", ATTACH[1])


def found_on(way, rig, to="unplug", source=SURE, cable=CABLE):
    [found] = changed(rig, source, cable, to).changes
    return path(found, way).findings


@pytest.mark.parametrize(
    ("bulk", "expected"),
    [
        ("10uF", [climb(10e-6)]),
        ("10.1uF", [attach(10.1e-6), climb(10.1e-6)]),
        ("100uF", [attach(100e-6), climb(100e-6)]),
        ("101uF", [climb(101e-6, "warn"), attach(101e-6)]),
    ],
)
def test_capacitance_on_its_limits_and_beyond(bulk, expected):
    found = found_on("unplug", rig_of({"converter": BOX | {"bulk": bulk}}))
    assert [figures(each) for each in found] == expected


def test_inrush_in_words():
    # 120 uF: 5.5 V x C; 5.5 V / 0.12 ohm; C x 30 mV/us; 11 V x C / 0.5 A.
    climbs, attaches = found_on("unplug", rig_of({"converter": BOX | {"bulk": "120uF"}}))
    assert (attaches.text, attaches.advice) == (
        "from 0 V to 5 V it charges 120 µF (0.66 mC), up to 45.8 A for a moment through 120 mΩ; "
        "at attach there should be no more than 10 µF",
        SWITCH,
    )
    assert (climbs.text, climbs.advice) == (
        "from 5 V to 15 V at 30 mV/µs 120 µF draws 3.6 A on top of the loads, of the charger's 3 A; "
        "with 0.5 A alone it would take 2.64 ms",
        LIMITER,
    )


def test_the_trigger_s_resistance_and_capacitance_count():
    attaches, climbs = found_on(
        "unplug", rig_of({"converter": BOX | {"bulk": "11.23uF"}}, bulk="5uF", resistance="30mOhm")
    )
    assert attaches.text.startswith(
        "from 0 V to 5 V it charges 16.2 µF (0.0893 mC), up to 36.7 A for a moment through 150 mΩ;"
    )
    assert climbs.text.endswith(
        "16.2 µF draws 0.487 A on top of the loads, of the charger's 3 A; with 0.5 A alone it would take 357 µs"
    )


def test_a_loop_of_nothing_has_no_surge_to_tell():
    found = found_on(
        "unplug", rig_of({"converter": BOX | {"bulk": "11uF"}}), cable=CABLE.model_copy(update={"loop": None})
    )
    assert "for a moment through" in found[0].text
    bare = found_on(
        "unplug", rig_of({"converter": BOX | {"bulk": "11uF"}}), cable=Cable(id="c", kind="C-C", loop="0ohm")
    )
    assert bare[0].text == "from 0 V to 5 V it charges 11 µF (0.0605 mC); at attach there should be no more than 10 µF"


def test_no_inrush_where_nothing_rises():
    rig = rig_of({"converter": BOX | {"bulk": "120uF"}})
    assert found_on("capabilities", rig, "9V") == ()
    off = rig_of({"converter": BOX | {"bulk": "120uF"}}, fallback="none", bulk="120uF")
    assert found_on("hard-reset", off, "9V") == ()
    assert found_on("unplug", rig_of({"converter": BOX})) == ()
    # 5 V by Type-C: attached, and no contract to climb to.
    plain = rig_of({"converter": BOX | {"bulk": "120uF"}}, request="none")
    assert [figures(each) for each in found_on("unplug", plain)] == [attach(120e-6)]


@pytest.mark.parametrize(("volts", "rules"), [("4.5V", []), ("5.02V", ["bulk-contract"])])
def test_no_climb_to_a_contract_below_the_five_volts(volts, rules):
    # Nothing climbs where the contract is not above the 5 V before it.
    source = Source(id="s", offers="5V 3A, 9V 3A; PPS 3.3-11V 3A", typec_current_a=3.0)
    rig = rig_of({"converter": BOX | {"input": "4V-36V", "bulk": "9uF"}, "load": "1W"}, request=f"pps {volts}")
    assert [each.rule for each in found_on("unplug", rig, source=source)] == rules


WORDS = "is at 5 V for up to 608 ms in between, and needs {} V"
WAITS = "Check that it simply waits there: some things draw more, or start wrongly, on too little."


def on_bus(*spans):
    loads = ({"current": "0.1A"} | ({"voltage": span} if span else {}) for span in spans)
    return rig_of(*({"load": load} for load in loads))


def test_a_load_on_the_bus_between_what_it_needs_and_stands():
    # vSafe5V is at most 5.5 V; 15 V at most 15.75 V.
    assert found_on("unplug", on_bus("5.5V-15.75V")) == ()
    [low] = found_on("unplug", on_bus("5.6V-15.75V"))
    assert figures(low) == ("load-voltage-low", "note", "b0", 5.5, 5.6, "V", OWN)
    assert (low.text, low.advice) == (WORDS.format("5.6"), WAITS)
    [high] = found_on("unplug", on_bus("5V-15.7V"))
    assert figures(high) == ("load-voltage-high", "stop", "b0", 15.75, 15.7, "V", OWN)
    assert high.text == "gets 0 to 15.75 V on the way, and is rated for 15.7 V"
    assert high.advice == "Do not connect it: put a converter before it."


def test_a_load_of_which_nothing_is_known_and_the_next_one_after_it():
    first, second = found_on("unplug", on_bus(None, "8V-20V"))
    assert figures(first) == ("load-voltage-low", "note", "b0", None, None, "V", OWN)
    assert first.text == (
        "hangs straight on the bus and gets 0 to 15.75 V on the way; what voltages it takes is not stated: not judged"
    )
    assert first.advice == "State its voltage range."
    assert (second.subject, second.text) == ("b1", WORDS.format("8"))


def test_converters_and_strings_hide_what_is_behind_them():
    string = {"led": {"count": 2, "vf": "3V", "current": "100mA"}}
    rig = rig_of({"converter": BOX, "load": {"power": "5W", "voltage": "9V-13V"}}, {"load": string}, {"load": "1kohm"})
    assert [each.subject for each in found_on("unplug", rig)] == ["b2"]


@pytest.mark.parametrize(
    ("needs", "told"),
    [
        ("8.05V", None),
        ("8.06V", "gets 8.05 to 15.75 V on the way, for up to 5 ms less than the 8.06 V that it needs"),
        ("8.55V", "gets 8.05 to 15.75 V on the way, for up to 5 ms less than the 8.55 V that it needs"),
        # Below what 9 V is sure of: that is for the judgement of where it ends up.
        ("8.56V", None),
    ],
)
def test_a_moment_below_on_the_way_straight_down(needs, told):
    found = found_on("capabilities", on_bus(f"{needs}-20V"), "9V")
    assert [each.text for each in found] == ([told] if told else [])
    for each in found:
        assert figures(each) == ("load-voltage-low", "note", "b0", 8.05, float(needs[:-1]), "V", OWN)
        assert each.advice == ""


def test_the_higher_of_both_ends_is_what_a_load_has_to_stand():
    rig = rig_of({"load": {"current": "0.1A", "voltage": "4V-15V"}}, request="9V")
    assert not [each for each in found_on("capabilities", rig, "5V") if each.level == "stop"]
    tender = rig_of({"load": {"current": "0.1A", "voltage": "4V-9.4V"}}, request="9V")
    [high] = [each for each in found_on("capabilities", tender, "5V") if each.level == "stop"]
    assert (high.value, high.text) == (pytest.approx(9.45), "gets 4.25 to 9.45 V on the way, and is rated for 9.4 V")
    # Without PD vSafe5V's own 5.5 V is above a contract's 5 V + 5 %.
    five = rig_of({"load": {"current": "0.1A", "voltage": "4V-5.4V"}}, request="5V")
    [before] = [each for each in found_on("unplug", five) if each.level == "stop"]
    assert (before.value, before.limit) == (5.5, 5.4)


def test_too_much_asked_of_the_five_volts_in_between():
    eager = rig_of({"converter": BOX | {"input": "4V-36V"}})
    drawn = (4.75 - math.sqrt(4.75**2 - 4 * 0.12 * 10 / 0.9)) / (2 * 0.12)
    [found] = found_on("unplug", eager, source=FULL)
    assert figures(found) == (
        "source-current", "warn", "source", pytest.approx(drawn), 0.5, "A", "PD R3.2 V1.1 [checked]",
    )  # fmt: skip
    assert found.text == "on the 5 V in between: must give 2.5 A in the worst case and offers 500 mA at 5 V"
    assert found.advice == "Keep the loads off until the contract is made: what starts there may hold the bus down."


def test_a_bus_that_collapses_on_the_five_volts_is_told_too():
    # 4.75 V through 2 ohm passes 2.8 W.
    thin = Cable(id="c", kind="C-C", loop="2ohm")
    rig = rig_of({"converter": BOX | {"input": "2V-36V"}, "load": "6W"})
    rules = [(each.rule, each.level) for each in found_on("unplug", rig, cable=thin) if each.level == "warn"]
    assert rules == [("bus-collapse", "warn")]


def test_what_ends_on_the_five_volts_is_not_judged_in_between():
    eager = {"converter": BOX | {"input": "4V-36V"}}
    assert found_on("unplug", rig_of(eager, request="none"), source=FULL) == ()
    assert found_on("hard-reset", rig_of(eager, fallback="none"), "9V", source=FULL) == ()
    assert found_on("capabilities", rig_of(eager), "9V", source=FULL) == ()


def held(rig, source=FULL, cable=CABLE):
    [found] = changed(rig, source, cable, "unplug").changes
    return [hold_up_s(found.before.case, branch) for branch in rig.branches]


def test_hold_up_down_to_each_branch_s_own_least():
    # 15 V without drop; the driver takes what its LEDs need at 85 %, as nobody states it, the plain
    # current all of the 15 V.
    box = BOX | {"efficiency": 1.0, "bulk": "470uF", "start": "9V"}
    string = {"led": {"count": 3, "vf": "3V", "current": "100mA", "headroom": "1V"}}
    rig = rig_of({"converter": box}, {"load": string}, {"load": {"current": "0.1A"}})
    bare = Cable(id="c", kind="C-C", loop="0ohm")
    watts = 10 + 9 * 0.1 / 0.85 + 15 * 0.1
    assert held(rig, cable=bare) == [
        pytest.approx(470e-6 * (15**2 - 6**2) / 2 / watts),
        pytest.approx(470e-6 * (15**2 - 10**2) / 2 / watts),
        None,
    ]


def test_no_hold_up_where_nothing_is_known_or_drawn():
    assert held(rig_of({"converter": BOX})) == [None]
    assert held(rig_of({"converter": BOX | {"bulk": "100uF"}}, request="12V", fallback="none")) == [None]
    dead = change(rig_of({"converter": BOX | {"bulk": "100uF", "input": "16V-36V"}}), "unplug")
    assert path(dead, "unplug").fates[0].hold_up_s is None
    # Below its least already: held for no time at all.
    assert held(rig_of({"converter": BOX | {"bulk": "100uF", "input": "14.95V-36V"}})) == [0.0]
    idle = rig_of({"converter": BOX | {"bulk": "100uF", "idle": 0}, "load": {"resistance": "100Mohm"}})
    assert math.isclose(held(idle)[0] or 0, 100e-6 * (15**2 - 36) / 2 / (144 / 100e6 / 0.9), rel_tol=1e-3)
