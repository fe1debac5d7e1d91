"""An unknown figure never does better than a plausible one, and what is asked for is just what the verdict needs."""

from __future__ import annotations

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
from pdcheck.verdict.not_judged import place_of

CHARGER = Source("5V 3A, 9V 3A, 15V 3A, 20V 2.25A", typec_current="3A")
CABLE = Cable("C-C 3A 1m", loop="0.15ohm")


def judged(rig: dict[str, Any]) -> Judgement:
    return judge(Rig.model_validate(rig), CHARGER, CABLE)


def figure(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 4))


@st.composite
def rigs(draw: st.DrawFn) -> dict[str, Any]:
    """A rig of one branch, everything stated and no worse than is sold."""
    converter = {
        "kind": "buck-boost",
        "input": f"{draw(figure(3.5, plausible.CONVERTER_INPUT_START.value))}V-{draw(figure(13, 40))}V",
        "input_limit": draw(figure(plausible.CONVERTER_INPUT.value, 6)),
        "output": draw(st.sampled_from([5.0, 9.0, 12.0])),
        "output_limit": draw(figure(plausible.CONVERTER_OUTPUT.value, 6)),
        "efficiency": draw(figure(plausible.EFFICIENCY.value, 0.95)),
        "idle": draw(figure(0, plausible.IDLE.value)),
        "bulk": "10uF",
    }
    trigger = {
        "request": draw(st.sampled_from(["9V", "15V", "20V"])),
        "rating": draw(figure(plausible.TRIGGER_RATING.value, 6)),
        "resistance": draw(figure(0, plausible.TRIGGER_OHM.value)),
    }
    wires = {"wire": "20AWG 0.3m 10mOhm", "lead": "22AWG 0.4m"}
    branch = {"name": "x", "load": "1W", "converter": converter, **wires}
    rig = {"trigger": trigger, "branch": [branch]}
    # Near the most that it carries, where a little decides.
    most_w = greatest_load(Case(Rig.model_validate(rig), CHARGER, CABLE)).load_w
    branch["load"] = f"{max(draw(figure(0.85, 1.01)) * most_w, 0.1):.4f}W"
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
)


def without(rig: dict[str, Any], key: str) -> dict[str, Any]:
    """The rig with one figure left out."""
    *path, last = key.split(".")
    trigger, branch = dict(rig["trigger"]), dict(rig["branch"][0])
    branch["converter"] = dict(branch["converter"])
    (trigger if path == ["trigger"] else branch["converter"] if len(path) == 2 else branch).pop(last)
    return {"trigger": trigger, "branch": [branch]}


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
