"""The verdict without a word about it is that of the words; rigs that share a branch share what is worked out of it."""

from __future__ import annotations

from hypothesis import given, settings

from pdcheck.circuit.from_rig import network_spec
from pdcheck.circuit.plug_in import starts_of
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import WORKS, rule
from pdcheck.verdict.gravest import does_its_job, verdict_on
from pdcheck.verdict.judge import judge
from tests.parts import random_parts


@rule("own", "warn", "A rule of one's own", "the shed", "Mind it.")
def own(case, find):
    yield find("rig", "is minded")


@settings(random_parts.ANY_KIND, max_examples=40)
@given(random_parts.rigs, random_parts.sources, random_parts.cables)
def test_it_is_the_verdict_of_judge(rig, source, cable):
    case = Case(rig, source, cable)
    assert verdict_on(case) == judge(rig, source, cable).verdict
    assert verdict_on(case, [own]) == judge(rig, source, cable, [own]).verdict
    assert does_its_job(case) == (verdict_on(case) in WORKS)


def test_a_rule_that_only_warns_of_what_it_can_fail_keeps_nobody_from_the_job():
    rig = Rig(trigger="9V", branch=[{"name": "clock", "load": {"power": "10mW"}}])
    bank = Source(id="bank", offers="5V 3A, 9V 2A", capacity="20000mAh")
    case = Case(rig, bank, Cable(id="c", kind="C-C", rating="3A", loop="0.1ohm"))
    assert verdict_on(case) == "limited" and does_its_job(case)


@settings(random_parts.ANY_KIND, max_examples=40)
@given(random_parts.rigs)
def test_what_is_kept_of_a_branch_is_what_a_new_one_gives(rig):
    # The same figures in other objects: nothing that is kept can be theirs.
    again = Rig.model_validate(rig.to_dict())
    for volts in (5.0, 20.0, 5.0):
        assert starts_of(rig, volts) == starts_of(again, volts)
        assert network_spec(rig, None, volts) == network_spec(again, None, volts)


def test_a_branch_of_another_setting_is_another():
    heater = {"name": "heater", "load": "9ohm"}
    charger = Source("5V 3A, 9V 3A, 20V 3A")
    rigs = [Rig(trigger=volts, branch=[heater]) for volts in ("9V", "20V", "9V")]
    limits = [Case(rig, charger, Cable(id="c", kind="C-C")).limits for rig in rigs]
    moved = [Case(rigs[0].replace(trigger="20V"), charger, Cable(id="c", kind="C-C")).limits]
    assert limits[0] == limits[2] != limits[1] == moved[0]
