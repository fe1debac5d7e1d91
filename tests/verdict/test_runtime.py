"""Run time: more energy never fewer hours, more load never more; sleep; changes; knowing more hides nothing."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pdcheck.asking.matrix import matrix
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.envelopes import envelopes
from pdcheck.verdict.finding import LEVELS
from pdcheck.verdict.judge import judge
from pdcheck.verdict.power_bank import hours_of
from pdcheck.verdict.runtime import RunTime, run_time

CABLE = Cable("C-C 3A", id="c", loop="100mOhm")
OFFERS = "5V 3A, 9V 3A, 15V 3A"
BUCK = {"kind": "buck", "input": "4.5V-24V", "input_limit": "3A", "output": "3.3V", "output_limit": "3A",
        "efficiency": 0.8, "idle": "0.1W"}  # fmt: skip


def bank(**stated: Any) -> Source:
    return Source(OFFERS, **stated)


def rig(*loads: Any, request: str = "9V", **more: Any) -> Rig:
    branches = [{"name": f"b{number}", "load": load} | more for number, load in enumerate(loads)]
    return Rig(trigger={"request": request, "rating": "5A", "resistance": "20mOhm"}, branch=branches)


def told(built: Rig, source: Source) -> RunTime:
    found = run_time(built, source, CABLE)
    assert found is not None
    return found


loads = st.one_of(
    st.fixed_dictionaries({"power": st.floats(0.2, 9.0)}, optional={"duty": st.floats(0.05, 1.0)}),
    st.fixed_dictionaries({"current": st.floats(0.02, 1.0)}, optional={"duty": st.floats(0.05, 1.0)}),
    st.fixed_dictionaries({"resistance": st.floats(9.0, 500.0)}, optional={"duty": st.floats(0.05, 1.0)}),
    st.floats(0.2, 9.0).map(lambda watts: {"power": watts, "average": 0.4 * watts, "peak": 1.2 * watts}),
)
rigs = st.lists(loads, min_size=1, max_size=2).map(lambda each: rig(*each)) | loads.map(
    lambda each: rig({"power": 2.0, "duty": each.get("duty", 0.5)}, converter=BUCK)
)


@given(rigs, st.floats(1.0, 300.0), st.floats(1.0, 3.0))
def test_more_energy_never_gives_fewer_hours(built: Rig, energy: float, times: float) -> None:
    less, more = (hours_of(Case(built, bank(energy=each), CABLE)) for each in (energy, energy * times))
    assert less is not None and more is not None
    assert more == pytest.approx([each * times for each in less])
    assert less.min <= less.typ <= less.max


@given(rigs, st.floats(1.0, 1.5))
def test_more_load_never_gives_more_hours(built: Rig, times: float) -> None:
    def scaled(branch: Any) -> Any:
        load = branch.load.demand(times)
        more = {name: getattr(load, name) * times for name in ("average_w", "peak_w") if getattr(load, name, None)}
        return branch.model_copy(update={"load": load.model_copy(update=more)})

    heavier = built.model_copy(update={"branches": tuple(map(scaled, built.branches))})
    light, heavy = (Case(each, bank(energy="74Wh"), CABLE) for each in (built, heavier))
    assume(not heavy.collapse and not light.collapse)
    one, other = hours_of(light), hours_of(heavy)
    assert one is not None and other is not None
    for ends in zip(one, other, strict=True):
        assert ends[1] <= ends[0] * (1 + 1e-9)


@given(rigs, st.floats(0.05, 0.99), st.floats(0.001, 1.0))
def test_a_longer_duty_never_gives_more_hours(built: Rig, duty: float, part: float) -> None:
    def on_for(share: float) -> Rig:
        changed = tuple(
            each.model_copy(update={"load": each.load.model_copy(update={"duty": share, "average_w": None})})
            for each in built.branches
        )
        return built.model_copy(update={"branches": changed})

    short, long = (hours_of(Case(on_for(each), bank(energy="74Wh"), CABLE)) for each in (duty * part, duty))
    assert short is not None and long is not None
    assert long.min <= short.min * (1 + 1e-9) and long.max <= short.max * (1 + 1e-9)


@given(
    rigs,
    st.fixed_dictionaries(
        {},
        optional={
            "energy": st.floats(1, 300), "capacity": st.floats(0.1, 50), "efficiency": st.floats(0.5, 1),
            "rated_output": st.just("6000mAh at 5V"), "sleeps_below": st.floats(0.001, 2),
        },
    ),
)  # fmt: skip
def test_what_is_known_of_the_energy_hides_no_finding(built: Rig, stated: dict[str, Any]) -> None:
    if "capacity" in stated:
        stated["capacity"] = f"{stated['capacity']!r}Ah"
    before, after = judge(built, bank(), CABLE), judge(built, bank(**stated), CABLE)
    assert set(before.findings) <= set(after.findings)
    assert {each.rule for each in set(after.findings) - set(before.findings)} <= {"source-sleeps"}
    assert set(before.not_judged) <= set(after.not_judged) or after.verdict != before.verdict


@given(rigs, st.none() | st.floats(0.001, 1.0))
def test_check_and_matrix_say_the_same_of_sleep(built: Rig, below: float | None) -> None:
    # They offer the same, and differ in nothing but when they sleep.
    stated: tuple[dict[str, Any], ...] = ({}, {"energy": "74Wh", "sleeps_below": below}, {"energy": "74Wh"})
    sources = [Source(OFFERS, id=f"s{at}", **each) for at, each in enumerate(stated)]
    cells = matrix({"r": built}, Kit(source=sources, cable=[CABLE]), hours=True).cells
    for cell, source in zip(cells, sources, strict=True):
        judged = judge(built, source, CABLE)
        assert (cell.verdict, cell.rule) == (judged.verdict, judged.rule)
        assert cell.not_judged == len(judged.not_judged)
        assert cell.hours == judged.hours == hours_of(Case(built, source, CABLE))


@pytest.mark.parametrize(
    ("load", "stated", "level", "sleeps"),
    [
        ("60mA", {"sleeps_below": "60mA"}, None, False),
        ("59.9mA", {"sleeps_below": "60mA"}, "fail", True),
        ({"current": "1A", "duty": "50%"}, {"sleeps_below": "60mA"}, "warn", True),
        ({"power": "0.2W", "peak": "9W"}, {"sleeps_below": "60mA"}, "warn", True),
        ({"power": "9W", "average": "0.2W"}, {"sleeps_below": "60mA"}, "warn", True),
        # Common practice where nobody says: up to 100 mA, and only of what is a power bank.
        ("100mA", {}, None, False),
        ("99mA", {}, "warn", True),
        ("10mA", {}, "warn", True),
    ],
)
def test_light_load_lets_it_fall_asleep(load: Any, stated: dict[str, Any], level: str | None, sleeps: bool) -> None:
    source = bank(energy="74Wh", **stated)
    judged = judge(rig(load), source, CABLE)
    assert [each.level for each in judged.findings if each.rule == "source-sleeps"] == ([level] if level else [])
    assert told(rig(load), source).sleeps is sleeps
    assert not [each for each in judge(rig(load), bank(), CABLE).findings if each.rule == "source-sleeps"]
    asked = [each for each in judged.not_judged if each.what == "source.sleeps_below"]
    assert len(asked) == (level == "warn" and not stated)


def test_an_unknown_figure_is_asked_for_as_it_must_be() -> None:
    judged = judge(rig("40mA"), bank(energy="74Wh"), CABLE)
    [asked] = [each for each in judged.not_judged if each.what == "source.sleeps_below"]
    assert (asked.sense, asked.needs, asked.unit) == ("at_most", 0.04, "A")
    for below, works in ((asked.needs, True), (asked.needs * 1.01, False)):
        assert judge(rig("40mA"), bank(energy="74Wh", sleeps_below=below), CABLE).works is works


def test_what_lets_it_sleep_limits_no_output() -> None:
    """The load that is there is too light; another one may well be larger."""
    light, plain = (
        envelopes(rig("40mA"), source, CABLE).contracts[0].loads_w
        for source in (bank(energy="74Wh", sleeps_below="60mA"), bank())
    )
    assert light == plain > 1.0


def test_a_change_says_what_it_brings_and_what_else() -> None:
    built = rig({"power": 9.0}, {"resistance": 40.0}, request="15V")
    found = told(built, bank(energy="74Wh", efficiency=0.9))
    changes = {each.change: each for each in found.changes}
    assert found.hours is not None
    lower = changes["set the trigger to 9 V"]
    assert [each.startswith("b1 gets 1.9") for each in lower.but] == [True]
    alone = changes["without b1"]
    only = told(rig({"power": 9.0}, request="15V"), bank(energy="74Wh", efficiency=0.9))
    assert alone.hours == only.hours and alone.more_h == pytest.approx(alone.hours.typ - found.hours.typ)
    assert alone.but == ()
    assert list(changes) == sorted(changes, key=lambda each: -changes[each].more_h)


def test_a_higher_contract_loses_less_on_the_way() -> None:
    thin = Cable("C-C 3A", id="thin", loop="250mOhm")
    found = run_time(rig({"power": 20.0}), bank(energy="74Wh", efficiency=0.9), thin)
    assert found is not None
    assert [each.change for each in found.changes] == ["set the trigger to 15 V"]


def test_a_change_that_does_not_work_is_not_proposed() -> None:
    found = told(rig({"power": 9.0, "voltage": "8V-10V"}), bank(energy="74Wh"))
    assert found.changes == ()


def test_a_better_converter_and_idle_power_are_told() -> None:
    found = told(rig({"power": 2.0}, converter=BUCK), bank(energy="74Wh", efficiency=0.9))
    shares = {each.part: each.power_w for each in found.shares}
    assert shares["b0/idle"] == pytest.approx(0.1)
    assert shares["b0/converter"] == pytest.approx(2.0 / 0.8 - 2.0)
    assert shares["b0/load"] == pytest.approx(2.0)
    [better] = [each for each in found.changes if "converter" in each.change]
    assert better.change == "a converter of 95 % for b0" and better.more_h > 0


def test_what_does_not_run_has_no_hours_or_takes_nothing() -> None:
    high = rig({"power": 2.0}, converter=BUCK | {"input": "18V-24V"})
    found = told(high, bank(energy="74Wh"))
    assert (found.hours, found.works, found.shares) == (None, False, ())
    refused = Rig(trigger={"request": "12V", "fallback": "none"}, branch=[{"name": "x", "load": "2W"}])
    nothing = told(refused, bank(energy="74Wh"))
    assert (nothing.hours, nothing.average_w) == (None, None)


def test_a_source_without_energy_has_no_run_time() -> None:
    assert run_time(rig("1A"), bank(), CABLE) is None
    assert hours_of(Case(rig("1A"), bank(sleeps_below="60mA"), CABLE)) is None
    assert "stop" in LEVELS


def test_its_own_electronics_count_beside_a_light_load() -> None:
    known, unknown = (told(rig({"power": 0.2}), bank(energy="74Wh", **each)) for each in ({"efficiency": 0.8}, {}))
    assert known.hours is not None and unknown.hours is not None
    assert unknown.hours.min == pytest.approx(74 * 0.8 / (0.2 + 0.15 * 0.8), rel=0.001)
    assert unknown.hours.min < known.hours.min
    for each in (known, unknown):
        assert any("own electronics" in words for words in each.assumed)
    assert not any("own electronics" in words for words in told(rig({"power": 2.0}), bank(energy="74Wh")).assumed)
