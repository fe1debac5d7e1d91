"""A rig part by part: power is neither lost nor made on the way, and each part stands where current gets to it."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.drawn import Drawn, drawn
from pdcheck.verdict.judge import judge

SOURCE = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 5A")
CABLE = Cable(id="c", kind="C-C", rating="5A", loop="120mOhm")


def of(rig: Rig) -> Drawn:
    return drawn(judge(rig, SOURCE, CABLE))


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig))
def test_what_the_charger_gives_is_lost_or_arrives(rig: Rig) -> None:
    found = of(rig)
    assume(found.source_w is not None)
    assert found.source_w is not None
    lost = sum(part.lost_w.typ for part in found.every_part if part.lost_w is not None)
    arrives = sum(part.takes_w.typ for part in found.every_part if part.takes_w is not None)
    assert math.isclose(lost + arrives, found.source_w.typ, rel_tol=1e-6, abs_tol=1e-9)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig))
def test_no_voltage_rises_but_in_a_converter(rig: Rig) -> None:
    found = of(rig)
    for branch in found.branches:
        before = math.inf
        for part in (*found.trunk, *branch.parts):
            if part.voltage_v is None:
                continue
            if part.kind != "converter":
                assert part.voltage_v.typ <= before + 1e-9
            before = part.voltage_v.typ


def test_parts_have_what_is_found_about_them_and_what_they_allow() -> None:
    box = {"kind": "buck", "input": "6V-18V", "output": "5V", "efficiency": 0.9, "idle": "0W"}
    rig = Rig(trigger="20V", branch=[{"name": "hub", "converter": box, "wire": "22AWG 0.3m", "load": "5W"}])
    by_name = {part.part: part for part in of(rig).every_part}
    converter = by_name["hub/converter"]
    assert converter.level == "stop"
    assert converter.allowed_v == (6.0, 18.0)
    assert "21 V" in converter.text
    assert by_name["hub/load"].level is None


def test_one_part_sets_the_limit() -> None:
    rig = Rig(trigger="20V", branch=[{"name": "lamp", "load": {"power": "10W", "voltage": "15V-24V"}}])
    found = drawn(judge(rig, Source(id="s", offers="5V 3A, 20V 3A"), CABLE))
    assert [part.part for part in found.every_part if part.limits] == ["source"]
    assert "for all loads together" in found.trunk[0].text


def test_what_is_off_is_told() -> None:
    box = {"kind": "buck", "input": "12V-18V", "output": "5V", "efficiency": 0.9, "idle": "0W"}
    found = of(Rig(trigger="9V", branch=[{"name": "hub", "converter": box, "load": "5W"}]))
    assert found.branches[0].off
    assert not found
