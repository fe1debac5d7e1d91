"""Pairs of a kit, verdicts, and that a judgement never ends in an exception, whatever the rig."""

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import over, under
from pdcheck.verdict.finding import LEVELS, verdict_of
from pdcheck.verdict.judge import FEWER_BY_ID, FEWER_IN_KIT, UNKNOWN_CABLE, few_pairs, judge, judge_pairs, pairs_of
from tests.parts import random_parts

KIT = Kit.model_validate(
    {
        "source": [
            {"id": "a", "offers": "5V 3A, 9V 3A"},
            {"id": "b", "offers": "5V 3A", "cable": {"rating": "3A"}},
        ],
        "cable": [{"id": "x", "kind": "C-C"}, {"id": "y", "kind": "A-C"}],
    }
)


def ids(pairs):
    return [(source.id, cable.id) for source, cable in pairs]


def test_pairs():
    assert ids(pairs_of(KIT)) == [("a", "x"), ("a", "y"), ("b", "b-cable")]
    assert ids(pairs_of(KIT, "a")) == [("a", "x"), ("a", "y")]
    assert ids(pairs_of(KIT, None, "x")) == [("a", "x")]
    assert ids(pairs_of(KIT, "b", "b-cable")) == [("b", "b-cable")]
    with pytest.raises(InputError, match="fixed to it"):
        list(pairs_of(KIT, "b", "x"))
    with pytest.raises(InputError):
        list(pairs_of(KIT, "c"))
    with pytest.raises(InputError):
        list(pairs_of(KIT, "a", "z"))


def test_a_kit_without_cables_gets_one_of_which_nothing_is_known():
    kit = Kit.model_validate({"source": [{"id": "a", "offers": "5V 3A"}]})
    ((_, cable),) = pairs_of(kit)
    assert cable.current_a == 3.0 and cable.assumed
    with pytest.raises(InputError, match="no source"):
        list(pairs_of(Kit.model_validate({"cable": [{"id": "x", "kind": "C-C"}]})))


NO_SOURCE = ("the kit holds no source", "a [[source]] with its offers")


@pytest.mark.parametrize(
    ("kit", "asked", "error"),
    [
        (KIT, ("b", "x"), ("source 'b' has its cable fixed to it", "no --cable, or 'b-cable'")),
        (Kit(cable=[{"id": "x", "kind": "C-C"}]), (None, None), NO_SOURCE),
        (Kit(), (None, "x"), NO_SOURCE),
    ],
)  # fmt: skip
def test_pairs_that_there_are_not(kit, asked, error):
    with pytest.raises(InputError) as found:
        list(pairs_of(kit, *asked))
    assert (found.value.what, found.value.expected) == error


def test_a_fixed_cable_is_passed_over_where_another_is_asked_for():
    assert ids(pairs_of(KIT, None, "b-cable")) == [("a", "b-cable"), ("b", "b-cable")]
    assert ids(pairs_of(KIT, "b")) == [("b", "b-cable")]


def test_no_more_pairs_than_asked_for():
    assert ids(few_pairs(KIT, None, None, 3)) == ids(pairs_of(KIT))
    assert ids(few_pairs(KIT, "a", "y", 1)) == [("a", "y")]
    with pytest.raises(InputError) as found:
        few_pairs(KIT, None, None, 2)
    assert (found.value.what, found.value.expected) == ("more than 2 pairs of source and cable", FEWER_BY_ID)
    with pytest.raises(InputError) as found:
        few_pairs(KIT, "a", None, 1, expected=FEWER_IN_KIT)
    assert (found.value.what, found.value.expected) == ("more than 1 pairs of source and cable", FEWER_IN_KIT)


def test_the_unknown_cable():
    assert (UNKNOWN_CABLE.id, UNKNOWN_CABLE.current_a, UNKNOWN_CABLE.epr) == ("unknown", 3.0, False)


def test_a_judgement_has_its_findings_the_gravest_first():
    source = Source(id="s", offers="5V 3A, 9V 3A, 12V 3A")
    box = {"kind": "buck", "input": "6V-11V", "output": "5V"}
    rig = {"trigger": {"request": "12V"}, "branch": [{"name": "x", "load": "40W", "converter": box}]}
    judgement = judge(Rig.model_validate(rig), source, UNKNOWN_CABLE)
    levels = [finding.level for finding in judgement.findings]
    assert levels == sorted(levels, key=LEVELS.index) and len(set(levels)) > 1
    assert (judgement.verdict, judgement.works) == ("unsafe", False)
    assert judgement.case.source is source and judgement.case.cable is UNKNOWN_CABLE


@pytest.mark.parametrize(("verdict", "works"), [("runs", True), ("limited", True), ("fails", False), ("unsafe", False)])
def test_what_does_the_job(verdict, works):
    rig = Rig.model_validate({"trigger": {"request": "9V"}, "branch": [{"name": "x", "load": "5W"}]})
    judgement = judge(rig, Source(id="s", offers="5V 3A, 9V 3A"), UNKNOWN_CABLE)
    assert replace(judgement, verdict=verdict).works == works


def test_limits_are_met_exactly_and_no_step_is_forgiven():
    assert not over(3.0, 3.0) and not under(3.0, 3.0)
    assert not over(0.1 * 30, 3.0)
    assert over(3.0 + 1e-6, 3.0) and under(3.0 - 1e-6, 3.0)
    assert over(1e-12, 0.0)
    assert verdict_of([]) == "runs"


LOADS = ("{p}W", "{c}A", "{r}ohm")


def test_random_rigs_on_random_sources_and_cables_are_judged_without_an_exception():
    dice = random.Random(20240508)
    seen = set()
    for _ in range(250):
        volts = sorted(dice.sample([9, 12, 15, 20], dice.randrange(0, 4)))
        offers = ["5V 3A", *(f"{v}V {dice.choice([1.5, 3, 5])}A" for v in volts)]
        offers += dice.choice([[], ["PPS 3.3-11V 3A"], ["28V 5A", "AVS 15-28V 140W"]])
        branches = []
        for number in range(dice.randrange(1, 4)):
            kind = dice.choice(["power", "current", "resistance", "led", "pack"])
            load = {
                "power": {"power": f"{dice.uniform(0.1, 80):.2f}W"},
                "current": {"current": f"{dice.uniform(0.01, 6):.2f}A"},
                "resistance": {"resistance": f"{dice.uniform(1, 100):.1f}ohm"},
                "pack": {
                    "pack": {"cells": dice.randrange(1, 6), "end": "4.2V", "current": f"{dice.uniform(0.1, 3):.2f}A"}
                    | dice.choice([{}, {"headroom": "0.5V"}, {"efficiency": "92%"}])
                },
                "led": {
                    "led": {
                        "count": dice.randrange(1, 7),
                        "vf": "3.2V",
                        "current": "250mA",
                        "driver": dice.choice(["driver", "resistor"]),
                    }
                },
            }[kind]
            branch = {"name": f"b{number}", "load": load}
            if dice.random() < 0.6:
                branch["converter"] = {
                    "kind": dice.choice(["buck", "boost", "buck-boost"]),
                    "output": f"{dice.choice([3.3, 5, 12, 24])}V",
                    "efficiency": dice.choice(
                        [
                            0.8,
                            0.92,
                            {"input": ["5V", "20V"], "output": ["0.1A", "3A"], "values": [[0.9, 0.8], [0.85, 0.88]]},
                        ]
                    ),
                } | dice.choice([{}, {"input": "4.5V-24V", "input_limit": "3A", "power_limit": "30W", "start": "7V"}])
            if dice.random() < 0.5:
                branch["wire"] = {"awg": dice.choice([18, 22, 26]), "length": f"{dice.uniform(0.1, 5):.1f}m"}
            branches.append(branch)
        request = dice.choice(
            ["5V", "9V", "12V", "20V", "28V", "highest", "power", "pps 9V 2A", "avs 20V 2A", "prefer 12V, 9V", "none"]
        )
        rig = Rig.model_validate(
            {
                "trigger": {"request": request, "fallback": dice.choice(["next-lower", "5V", "none"])},
                "branch": branches,
                "tolerance": dice.choice([{}, {"efficiency": "3%", "load": "10%", "resistance": "10%"}]),
            }
        )
        cable = Cable(dice.choice(["C-C", "C-C 5A", "A-C", "EPR", "C-C 3A loop=2ohm", "captive 3A"]))
        judgement = judge(rig, Source(id="s", offers=", ".join(offers)), cable)
        seen.add(judgement.verdict)
        point = judgement.case.point
        for node in point.nodes.values() if point else ():
            for triple in (node.voltage_v, node.current_a):
                assert triple.min <= triple.typ <= triple.max
                assert triple.min > -1e-9
    assert seen == {"runs", "limited", "fails", "unsafe"}


@settings(random_parts.ANY_KIND, max_examples=25)
@given(
    random_parts.rigs,
    st.lists(random_parts.sources, min_size=1, max_size=3, unique_by=lambda each: each.id),
    st.lists(random_parts.cables, min_size=1, max_size=3, unique_by=lambda each: each.id),
)
def test_pairs_that_share_a_circuit_are_judged_as_each_alone(rig, sources, cables):
    # A source that differs in nothing that flows, and one that is met twice.
    twin = sources[0].replace(id="twin", title="Its twin")
    pairs = [(source, cable) for source in (*sources, twin, sources[0]) for cable in cables]
    assert list(judge_pairs(rig, pairs)) == [judge(rig, *pair) for pair in pairs]
