"""Every limit that more load can break, each in turn the first: the sums over many cells find the same watts."""

from __future__ import annotations

import math
from typing import Any

import pytest

from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import Catalogue
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.matrix.cells import RigCells
from pdcheck.verdict.rules.every import RIG_RULES

FIVE_A = {"kind": "C-C", "rating": "5A", "loop": "100mOhm"}
TABLE = {"input": [9, 15, 20], "output": [0.1, 2], "values": [[0.9, 0.88], [0.86, 0.84], [0.8, 0.82]]}


def box(**figures: Any) -> dict[str, Any]:
    """One that starts above the 5 V before the contract."""
    return {"kind": "buck-boost", "input": [5.6, 40], "output": 12, "efficiency": 0.9, "idle": 0.3, **figures}


def rig(request: str = "20V", trigger: dict[str, Any] | None = None, **branch: Any) -> dict[str, Any]:
    first = {"name": "box", "load": {"power": 10}, **branch}
    return {"trigger": {"request": request, **(trigger or {})}, "branch": [first]}


def beside(**figures: Any) -> dict[str, Any]:
    """A converter beside a heater, which pulls the bus down with more load."""
    heater = {"name": "heater", "load": {"resistance": 20}}
    built = rig(load={"power": 1}, converter=box(**figures))
    return {**built, "branch": [heater, *built["branch"]]}


CASE = {"size": [0.12, 0.08, 0.04], "material": "plastic", "air": 25}
BREAKS: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("source-current", rig(), {**FIVE_A, "loop": "50mOhm"}),
    ("cable-current", rig("5V", load={"power": 1}), {"kind": "A-C", "loop": "50mOhm"}),
    ("trigger-current", rig(trigger={"rating": "1A"}), FIVE_A),
    ("pps-current-limit", rig("pps 12V 2A", load={"resistance": 12}), FIVE_A),
    ("bus-collapse", rig("20V"), {**FIVE_A, "loop": "8ohm"}),
    ("converter-input-low", rig(converter=box(input=[18.5, 40])), {**FIVE_A, "loop": "500mOhm"}),
    ("converter-input-current", rig(converter=box(input_limit=1)), FIVE_A),
    ("converter-input-power", rig(converter=box(input_power=15)), FIVE_A),
    ("converter-input-power", rig(converter=box(input_power=15, efficiency=TABLE)), FIVE_A),
    ("converter-output-current", rig(converter=box(output_limit=1)), FIVE_A),
    ("converter-output-power", rig(converter=box(power_limit=12)), FIVE_A),
    ("wire-current", rig(wire={"awg": 32, "length": 0.1}), FIVE_A),
    ("fuse-current", rig(fuse="2A"), FIVE_A),
    ("fuse-current", rig(trigger={"fuse": "2A IEC"}), FIVE_A),
    ("wire-current", rig(converter=box(), lead={"awg": 32, "length": 0.1}), FIVE_A),
    ("led-headroom", rig(load={"led": {"count": 5, "vf": 3.6, "current": 0.1}}), {**FIVE_A, "loop": "900mOhm"}),
    (
        "pack-headroom",
        rig(load={"pack": {"cells": 4, "end": 4.2, "current": 0.1, "headroom": 1.6}}),
        {**FIVE_A, "loop": "900mOhm"},
    ),
    ("load-voltage-low", rig(load={"power": 5, "voltage": [18.4, 30]}), {**FIVE_A, "loop": "500mOhm"}),
    ("start-overload", rig(converter=box(input=[4, 40])), FIVE_A),
    ("start-blocked", beside(start=18.8, stop=6), FIVE_A),
    ("input-swings", rig(converter=box(bulk="2uF"), wire={"awg": 18, "length": 0.3, "inductance": "2uH"}), FIVE_A),
    ("start-latch", rig("pps 12V 2A", converter=box(input=[3, 40])), FIVE_A),
    ("start-latch", rig("pps 12V 2A", converter=box(input=[3, 40], efficiency=TABLE)), FIVE_A),
    ("converter-heat", rig(converter=box(heat_limit=2)), FIVE_A),
    ("converter-heat", rig(converter=box(heat_limit=4, efficiency=TABLE)), FIVE_A),
    ("converter-temperature", {**rig(converter=box(rise=20)), "box": CASE}, FIVE_A),
    ("converter-derated", {**rig(converter=box(derate={"air": [30, 60], "output": [2, 0.5]})), "box": CASE}, FIVE_A),
    ("wire-insulation", {**rig(wire={"awg": 24, "length": 0.1}), "box": {**CASE, "air": 60}}, FIVE_A),
]
SOURCE = Source(id="s", offers="5V 3A, 9V 3A, 15V 3A, 20V 4A; PPS 5-21V 4A", typec_current_a=3.0)
# The connector's 5 A can be the first only where source and cable claim more, which the standard does not know.
UNREACHED = {"connector-current"}
# More load mends it.
TOO_LITTLE = {"source-sleeps"}
# What is about the load that is there, and not about more in its place.
AS_STATED = {each.id for each in Catalogue.rules if each.as_stated}


@pytest.mark.parametrize(("rule", "told", "cable"), BREAKS, ids=[f"{each[0]}-{at}" for at, each in enumerate(BREAKS)])
def test_first_to_break(rule: str, told: dict[str, Any], cable: dict[str, Any]) -> None:
    built, over = Rig.model_validate(told), Cable.model_validate({"id": "c", **cable})
    alone = greatest_load(Case(built, SOURCE, over))
    assert alone.first is not None
    assert alone.load_w > 0
    assert alone.first.rule == rule
    [found] = RigCells(built).outcomes([(SOURCE, over)])
    assert math.isclose(found.max_w, alone.load_w, rel_tol=1e-4)


def test_every_rule_that_load_can_break_is_among_them() -> None:
    grave = {
        rule.id for rule in RIG_RULES if rule.scope == "circuit" and LEVELS.index(rule.level) <= LEVELS.index("fail")
    }
    assert grave - UNREACHED - TOO_LITTLE - AS_STATED == {each[0] for each in BREAKS}
