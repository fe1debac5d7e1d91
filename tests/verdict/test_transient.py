"""What happens in the first second: fates of known builds, ratings against peaks, events, words and picture.

The builds are those of the bench where steady sums say that they work; the peak of the ring is the closed form
V (1 + exp(-pi zeta / sqrt(1 - zeta^2))) [physics], their fates were found by ngspice as well.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from pdcheck.circuit.transient.result import Moment, Samples
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.cells import shown_width
from pdcheck.show.time_line import OFF, ON, PARTLY, bands, on_in, time_axis
from pdcheck.show.transient import advice, headline, picture, text
from pdcheck.show.transient_story import early_stops, story
from pdcheck.verdict.case import Case
from pdcheck.verdict.transient.first_second import Transient, events_of, transient

CHARGER = "5V 3A, 9V 3A, 15V 3A, 20V 3A"
MODULE = {"kind": "buck-boost", "input": "4.5V-36V", "output": "12V", "efficiency": 0.92, "bulk": "22uF"}


def branch(name: str, load: Any, converter: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    made = {"name": name, "load": load, "wire": "20AWG 0.3m"} | more
    return made if converter is None else made | {"converter": converter}


def case(*branches: dict[str, Any], request: str = "20V", source: Source | None = None, cable: str = "") -> Case:
    rig = Rig(trigger={"request": request, "resistance": "25mOhm"}, branch=list(branches))
    return Case(rig, source or Source(CHARGER), Cable(cable or "C-C 3A 1m loop=200mOhm"))


def fates(found: Transient) -> dict[str, str]:
    return {each.branch: each.fate for each in found.fates}


def test_a_converter_that_starts_on_5_v_pulls_the_charger_down_until_the_contract_comes() -> None:
    found = transient(case(branch("amp", "30W", MODULE)))
    assert fates(found) == {"amp": "comes back"} and found.fates[0].stops > 50 and found.works
    assert early_stops(found.moments) == {"amp"}
    assert "5.5 V" in next(advice(found))
    # 30 W / 0.92 at 4.5 V are 7.25 A.
    assert any("it wants 7.25 A at 4.5 V and the charger holds 3 A" in each.text for each in told(found))


def test_what_is_switched_off_in_the_end_is_not_told_as_running_then() -> None:
    calm = case(branch("lamp", "10ohm"), branch("fan", "20ohm"), request="9V")
    assert headline(transient(calm, ["load fan off at 400ms"], 0.5)) == (
        "everything starts and stays on until fan is switched off."
    )
    pulled = transient(calm, ["unplug at 400ms"], 0.5)
    assert headline(pulled) == "everything starts and stays on until all is switched off or the plug is pulled."
    again = transient(calm, ["unplug at 400ms", "replug at 600ms"], 1.5)
    assert headline(again) == "it runs in the end; on the way lamp, fan stop and start again."
    eager = transient(case(branch("amp", "30W", MODULE)), ["unplug at 400ms"], 0.5)
    assert headline(eager) == (
        "it runs until all is switched off or the plug is pulled; on the way amp stops and starts again."
    )


def test_the_same_one_whose_trigger_has_to_restart_never_gets_there() -> None:
    slow = {"request": "20V", "brown_out": "4.2V", "restart": "300ms"}
    rig = Rig(trigger=slow, branch=[branch("amp", "30W", MODULE)])
    found = transient(Case(rig, Source(CHARGER), Cable("C-C 3A 1m loop=200mOhm")))
    assert fates(found) == {"amp": "repeats"} and not found.works
    assert headline(found) == "it does not work: amp repeats."
    assert any("the trigger restarts and forgets its contract" in each.text for each in told(found))
    assert any("this repeats every" in each.text for each in told(found))


def test_several_small_ones_pull_it_down_together() -> None:
    found = transient(case(*(branch(f"b{place}", "6W", MODULE) for place in range(3))))
    assert set(fates(found).values()) == {"comes back"}
    assert any("b0, b1 and b2 stop: they want 4.35 A at 4.5 V" in each.text for each in told(found))


@pytest.mark.parametrize("start", ["4.5V", "8V"])
def test_a_small_build_just_starts(start: str) -> None:
    found = transient(case(branch("cam", "5W", MODULE | {"start": start}), branch("light", "40ohm")))
    assert fates(found) == {"cam": "starts", "light": "starts"} and found.works
    assert headline(found) == "everything starts and stays on." and not list(advice(found))
    assert sum(each.stops for each in found.fates) == 0


def test_one_that_cannot_start_beside_a_heater_hangs_and_without_the_heater_starts() -> None:
    # 9 V behind 265 mOhm and 4.5 ohm: 8.5 V on the bus.
    module = branch("cam", "5W", MODULE | {"start": "8.6V"})
    cable = "C-C 3A 1m loop=240mOhm"
    found = transient(case(branch("heater", "4.5ohm"), module, request="9V", cable=cable))
    assert fates(found) == {"heater": "starts", "cam": "hangs"} and not found.works
    assert found.samples.nodes["bus"][-1] == pytest.approx(9.0 * 4.52 / (4.52 + 0.265), rel=2e-3)
    assert next(advice(found)).startswith("cam: its converter starts at 8.6 V and the bus never gets above 8.5")
    assert fates(transient(case(module, request="9V", cable=cable))) == {"cam": "starts"}


def test_the_ring_of_a_branch_joined_to_the_live_bus_counts_against_its_rating() -> None:
    """1 uH, 140 mOhm, 4 uF on 20 V: the closed form says 32.8 V."""
    zeta = 0.07 * math.sqrt(4e-6 / 1e-6)
    peak_v = 20.0 * (1.0 + math.exp(-math.pi * zeta / math.sqrt(1.0 - zeta * zeta)))
    wire = {"awg": 20, "length": "0.1m", "inductance": "1uH", "contacts": "133.3mOhm"}
    lively = MODULE | {"bulk": "4uF", "esr": "0ohm", "input": "6V-24V", "start": "23V"}
    rig = Rig(
        trigger={"request": "20V", "bulk": "10mF", "esr": "0ohm"},
        branch=[branch("module", "5W", lively, wire=wire)],
    )
    live = Case(rig, Source(CHARGER), Cable({"kind": "C-C", "rating": "3A", "loop": "1mOhm"}))
    found = transient(live, ["join module at 700ms"])
    module = next(each for each in found.extremes if each.node == "module/in")
    assert module.peak_v == pytest.approx(peak_v, rel=0.01)
    assert [each.node for each in found.killed] == ["module/in"] and not found.works
    assert "too much voltage for a moment at module" in headline(found)
    tough = Rig(trigger=rig.trigger, branch=[branch("module", "5W", lively | {"input": "6V-36V"}, wire=wire)])
    assert not transient(Case(tough, live.source, live.cable), ["join module at 700ms"]).killed


def test_where_the_trigger_gives_nothing_all_stays_off() -> None:
    rig = Rig(trigger={"request": "28V", "fallback": "none"}, branch=[branch("a", "5W"), branch("b", "10ohm")])
    found = transient(Case(rig, Source(CHARGER), Cable("C-C 3A")))
    assert fates(found) == {"a": "stays off", "b": "stays off"} and not found.works
    assert not found.samples.time_s and "stays off" in text(found)


def test_what_is_switched_off_has_not_failed_and_what_is_never_plugged_in_has() -> None:
    built = case(branch("light", "40ohm"), branch("fan", "30ohm"))
    off = transient(built, ["load fan off at 400ms"], 0.5)
    assert fates(off)["fan"] == "cuts off" and off.switched_off == {"fan"} and off.works
    again = transient(built, ["load fan off at 400ms", "load fan on at 450ms"], 0.5)
    assert not again.switched_off and again.works
    assert transient(built, ["unplug at 400ms"], 0.5).switched_off == {"light", "fan"}
    assert not transient(built, ["unplug at 400ms", "replug at 500ms"], 1.0).switched_off


@pytest.mark.parametrize(
    ("event", "end_v"),
    [("lower to 5V 3A, 9V 2A at 400ms", 9.0), ("request 15V at 400ms", 15.0), ("unplug at 400ms", 0.0)],
)
def test_events_move_the_bus(event: str, end_v: float) -> None:
    found = transient(case(branch("light", "60ohm"), cable="C-C 3A loop=0ohm"), [event], 0.8)
    assert found.samples.nodes["bus"][-1] == pytest.approx(end_v, abs=0.02)


def test_a_hard_reset_takes_the_bus_away_and_brings_it_back() -> None:
    found = transient(case(branch("light", "60ohm")), ["hard reset at 400ms"])
    [(_, highest)] = bands(found.samples, "bus", (0.5, 1.0))
    assert highest < 0.8 and fates(found) == {"light": "comes back"}


def test_full_power_comes_back_and_half_is_taken_where_nobody_says_how_much() -> None:
    built = case(branch("light", "60ohm"))
    levels = [each.level for each in events_of(built, ["second port at 1s", "full power at 2s"])]
    assert [each and each[:2] for each in levels] == [(20.0, 1.5), (20.0, 3.0)]


@pytest.mark.parametrize(
    ("event", "what"),
    [
        ("join nobody at 1s", "no branch 'nobody'"),
        ("load light at 1s", "no event"),
        ("join light on at 1s", "no event"),
        ("reject at 1s", "about messages"),
        ("unplug", "no event"),
        ("unplug at soon", "no event"),
        ("unplug at 3Q", "3Q"),
    ],
)
def test_what_is_no_event_is_refused(event: str, what: str) -> None:
    with pytest.raises(InputError, match=what):
        events_of(case(branch("light", "60ohm")), [event])


def test_a_moment_of_much_current_is_told_and_does_not_count() -> None:
    lamp = {"resistance": "20ohm", "start_factor": 8, "start_time": "20ms"}
    thin = branch("lamp", lamp, wire="28AWG 0.2m")
    found = transient(case(thin, cable="C-C 3A 1m loop=20mOhm"), ["load lamp off at 0s", "load lamp on at 400ms"])
    passed = [each for each in found.rated if each.past]
    assert any(each.rule == "wire-current" for each in passed) and not found.killed
    assert "(passed for a moment)" in " ".join(text(found).split())


def test_energy_is_conserved() -> None:
    found = transient(case(branch("amp", "30W", MODULE), branch("light", "40ohm")))
    assert abs(found.energy.missing_j) <= 1e-3 * found.energy.source_j


# ---- words and picture


def told(found: Transient) -> list[Any]:
    assert found.circuit is not None
    return story(found.moments, found.circuit)


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("load", ["30W", "5W"])
def test_text_and_picture_fit_the_terminal(width: int, load: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    found = transient(
        case(branch("amp", load, MODULE), branch("a-name-that-is-long", "40ohm")), ["load amp off at 2ms"]
    )
    lines = picture(found, told(found), width)
    assert all(shown_width(line) <= width for line in lines)
    assert sum("│" in line or "┤" in line for line in lines) >= 12
    wide = [line for line in text(found).splitlines() if shown_width(line) > width]
    assert [line for line in wide if not line.startswith("Nobody states")] == []


def test_the_axis_is_the_same_there_and_back_and_never_turns() -> None:
    axis = time_axis([1e-6, 2e-6, 3e-3, 0.285, 0.28501, 9.0], 1.0)
    places = [axis.place(time / 500) for time in range(501)]
    assert places == sorted(places) and places[0] == 0.0 and places[-1] == 1.0
    for time in (0.0, 1e-6, 0.1, 0.28500001, 0.7, 1.0):
        assert axis.time_s(axis.place(time)) == pytest.approx(time, abs=1e-9)


def test_bands_show_a_skipped_cycle() -> None:
    samples = Samples((0.0, 0.1, 0.2, 0.9, 1.0), {"bus": (5.0, 3.0, 5.0, 5.0, 5.0)}, ((0.2, 0.9, 0.2),))
    assert bands(samples, "bus", (0.0, 0.2, 0.5, 0.95, 1.0)) == [(3.0, 5.0), (3.0, 5.0), (3.0, 5.0), (5.0, 5.0)]
    moments = [Moment(0.05, "a", "converter starts"), Moment(0.1, "a", "converter stops"),
               Moment(0.95, "a", "converter starts")]  # fmt: skip
    assert on_in(moments, samples.gaps, "a", (0.0, 0.04, 0.08, 0.15, 0.5, 0.94, 0.96, 1.0)) == [
        OFF, PARTLY, PARTLY, PARTLY, PARTLY, PARTLY, ON]  # fmt: skip


def test_the_story_is_in_order_and_tells_each_cycle_once() -> None:
    found = transient(case(branch("amp", "30W", MODULE)))
    times = [each.time_s for each in told(found)]
    assert times == sorted(times) and len(times) < 12 < len(found.moments)


def test_a_device_with_a_regulator_starts_once_and_does_not_chatter() -> None:
    """A charger of one cell on a bus that rises to 5 V within 1 ms: its own capacitors carry its first step."""
    pack = {"pack": {"cells": 1, "end": "4.2V", "current": "1.614A", "headroom": "0.2V"}}
    rig = Rig(trigger="9V", branch=[{"name": "cell", "wire": "22AWG 0.12m", "load": pack}])
    cable = Cable("C-C 5A", id="c", loop="112mOhm")
    charger = Source("5V 3A, 9V 3A, 15V 3A", id="s", typec_current="3A", over_current="hiccup")
    told = transient(Case(rig, charger, cable), until_s=0.4)
    assert [(each.fate, each.stops) for each in told.fates] == [("starts", 0)]
