"""An unknown figure never does better than a plausible one, and what is asked for is just what the verdict needs."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.facts import plausible
from pdcheck.parts.cable import Cable
from pdcheck.parts.missing import missing_figures
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.judge import Judgement, judge
from pdcheck.verdict.matrix.cells import RigCells
from pdcheck.verdict.not_judged import place_of, rig_at_worst

CHARGER = Source("5V 3A, 9V 3A, 15V 3A, 20V 2.25A", typec_current="3A")
CABLE = Cable("C-C 3A 1m", loop="0.15ohm")


def judged(rig: dict[str, Any]) -> Judgement:
    return judge(Rig.model_validate(rig), CHARGER, CABLE)


def figure(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 4))


@st.composite
def rigs(draw: st.DrawFn) -> dict[str, Any]:
    """A rig of one branch, everything stated and no worse than is sold."""
    kind = draw(st.sampled_from(["buck", "buck-boost"]))
    converter = {
        "kind": kind,
        "input": f"{draw(figure(3.5, plausible.CONVERTER_INPUT_START.value))}V-{draw(figure(13, 40))}V",
        "input_limit": draw(figure(plausible.CONVERTER_INPUT.value, 6)),
        "output": draw(st.sampled_from([5.0, 9.0, 12.0])),
        "output_limit": draw(figure(plausible.CONVERTER_OUTPUT.value, 6)),
        "efficiency": draw(figure(plausible.EFFICIENCY.value, 0.95)),
        "idle": draw(figure(0, plausible.IDLE.value)),
        "bulk": "10uF",
        "dropout": draw(figure(0, plausible.BUCK_DROPOUT.value)) if kind == "buck" else 0,
        "output_bulk": draw(figure(0.01, plausible.OUTPUT_BULK.value * 1e6)) * 1e-6,
    }
    warm = draw(st.booleans())
    if warm:
        converter["rise"] = draw(figure(5, plausible.RISE.value))
    trigger = {
        "request": draw(st.sampled_from(["9V", "15V", "20V"])),
        "rating": draw(figure(plausible.TRIGGER_RATING.value, 6)),
        "resistance": draw(figure(0, plausible.TRIGGER_OHM.value)),
    }
    wires = {"wire": "20AWG 0.3m 10mOhm", "lead": "22AWG 0.4m"}
    branch = {"name": "x", "load": "1W", "converter": converter, **wires}
    rig: dict[str, Any] = {"trigger": trigger, "branch": [branch]}
    if warm:
        rig["box"] = {"size": "120mm x 80mm x 40mm", "air": draw(figure(0, plausible.WARM_AIR.value))}
    # Near the most that it carries, where a little decides.
    most_w = greatest_load(Case(Rig.model_validate(rig), CHARGER, CABLE)).load_w
    load_w = max(draw(figure(0.85, 1.01)) * most_w, 0.1)
    if draw(st.booleans()):
        volts, efficiency = converter["output"], draw(figure(plausible.EFFICIENCY.value, 0.95))
        headroom = draw(figure(0, plausible.LED_HEADROOM.value))
        led = {"count": 1, "vf": 0.7 * volts, "headroom": headroom, "efficiency": efficiency, "driver": "driver"}
        branch["load"] = {"led": led | {"current": load_w * efficiency / (0.7 * volts)}}
    else:
        branch["load"] = f"{load_w:.4f}W"
    return rig


KEYS = (
    "trigger.rating",
    "trigger.resistance",
    "x.converter.input_limit",
    "x.converter.output_limit",
    "x.converter.efficiency",
    "x.converter.idle",
    "x.wire",
    "x.lead",
    "x.converter.input",
    "x.converter.dropout",
    "x.converter.output_bulk",
    "x.converter.rise",
    "x.load.led.headroom",
    "x.load.led.efficiency",
    "box.air",
)


def without(rig: dict[str, Any], key: str) -> dict[str, Any]:
    """The rig with one figure left out, where it is there."""
    left: dict[str, Any] = copy.deepcopy(rig)
    *path, last = key.split(".")
    table = left["branch"][0] if path[0] == "x" else left.get(path[0], {})
    for part in path[1:]:
        table = table.get(part, {}) if isinstance(table, dict) else {}
    if isinstance(table, dict):
        table.pop(last, None)
    return left


@settings(max_examples=60, deadline=None)
@given(rigs(), st.sampled_from(KEYS))
def test_an_unknown_does_no_better_than_a_figure(rig: dict[str, Any], key: str) -> None:
    known, unknown = judged(rig), judged(without(rig, key))
    if place_of(unknown.verdict) > place_of(known.verdict):
        assert any(each.what.startswith(key) for each in unknown.not_judged), (known.verdict, unknown.verdict)


@settings(max_examples=60, deadline=None)
@given(rigs(), st.sampled_from(KEYS))
def test_what_is_asked_for_keeps_the_verdict_and_a_little_less_does_not(rig: dict[str, Any], key: str) -> None:
    left_out = judged(without(rig, key))
    place = place_of(left_out.verdict)
    given_by = {each.key: each.given for each in missing_figures(left_out.case.rig)}
    for each in left_out.not_judged:
        if each.what not in given_by or each.unit == "AWG":
            continue
        worse = 0.99 if each.sense == "at_least" else 1.01
        kept = judge(given_by[each.what](each.needs), CHARGER, CABLE)
        lost = judge(given_by[each.what](each.needs * worse), CHARGER, CABLE)
        assert place_of(kept.verdict) >= place, each
        assert place_of(lost.verdict) < place, each


def many_unknown() -> dict[str, Any]:
    converter = {"kind": "buck", "input": "6V-30V", "input_limit": 5.0, "output": 12.0, "output_limit": 5.0}
    branch = {"name": "x", "load": "24W", "converter": converter | {"output_bulk": 1e-9}, "wire": "20AWG 0.3m"}
    return {"trigger": {"request": "15V", "rating": 5.0}, "branch": [branch | {"lead": "20AWG 0.3m"}]}


def test_what_all_unknowns_do_together_is_asked_for_as_well() -> None:
    """Here no single one of them makes it worse: the load is raised until all of them together do."""
    rig, found = many_unknown(), 0
    for tenths in range(150, 330):
        rig["branch"][0]["load"] = f"{tenths / 10}W"
        told = judged(rig)
        figures = {each.key: each for each in missing_figures(told.case.rig)}
        alone = [judge(each.given(each.plausible), CHARGER, CABLE).verdict for each in figures.values()]
        worst = judge(rig_at_worst(told.case.rig), CHARGER, CABLE).verdict
        if set(alone) == {told.verdict} and place_of(worst) < place_of(told.verdict):
            found += 1
            [asked] = [each for each in told.not_judged if each.what in figures]
            [cell] = RigCells(told.case.rig).outcomes([(CHARGER, CABLE)])
            assert cell.not_judged == len(told.not_judged)
            # With that figure at what is asked for, all others may be as bad as they like.
            good = figures[asked.what].given(asked.needs)
            assert judge(rig_at_worst(good), CHARGER, CABLE).verdict == told.verdict
    assert found


def test_a_trigger_is_asked_whether_it_stands_more_than_every_board_does() -> None:
    high = Source("5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A")
    load = {"power": "20W", "voltage": "9V-36V"}
    rig = {"trigger": {"request": "28V", "rating": "5A", "resistance": 0}, "branch": [{"name": "x", "load": load}]}
    build = Rig.model_validate(rig)
    [asked] = [each for each in judge(build, high, Cable("EPR")).not_judged if each.subject == "trigger"]
    assert (asked.what, asked.needs, asked.unit) == ("trigger.voltage_rating", 28.0, "V")
    assert not judge(build.replace({"trigger.request": "20V"}), high, Cable("EPR")).not_judged[1:]
    stated = judge(build.replace({"trigger.voltage_rating": "28V"}), high, Cable("EPR"))
    assert "trigger" not in {each.subject for each in stated.not_judged}
    assert judge(build.replace({"trigger.voltage_rating": "27.4V"}), high, Cable("EPR")).verdict == "unsafe"


def test_what_is_plugged_in_live_is_asked_for_the_peak_of_its_ring() -> None:
    """9.45 V, 0.3 m of AWG 20 at 0.68 uH/m and 10 uF with 5 mOhm ring up to nearly twice that."""
    rig = many_unknown()
    rig["trigger"]["request"] = "9V"
    module = rig["branch"][0]["converter"] = {"kind": "buck-boost", "output": 5.0, "output_bulk": 1e-9, "bulk": "10uF"}
    rig["branch"][0]["load"] = "4W"
    soldered = judged(rig)
    rig["branch"][0]["live"] = True
    live = judged(rig)
    high = [
        next(each.needs for each in told.not_judged if each.what == "x.converter.input" and each.sense == "at_least")
        for told in (soldered, live)
        if any(each.sense == "at_least" and each.what == "x.converter.input" for each in told.not_judged)
    ]
    assert len(high) == 1 and 14 < high[0] < 18.9
    [cell] = RigCells(live.case.rig).outcomes([(CHARGER, CABLE)])
    assert cell.not_judged == len(live.not_judged)
    for volts, works in ((high[0], True), (0.98 * high[0], False)):
        rig["branch"][0]["converter"] = module | {"input": [4.0, volts]}
        assert judged(rig).works is works
