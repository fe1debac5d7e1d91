"""A rig's network and limits, complete, with and without each part; what stands in for what is not said."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.from_rig import design_voltage, network_spec
from pdcheck.parts.cable import Cable
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.led import Led
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from tests.circuit.making import of_current
from tests.circuit.nearly import same

BOX = {
    "name": "box",
    "wire": {"mm2": 1.0, "length": "2m", "contacts": "20mOhm"},
    "converter": {"kind": "buck", "output": "12V", "efficiency": 0.9},
    "lead": {"mm2": 0.5, "length": "1m", "temperature": 70},
    "load": {"led": {"count": 3, "vf": "3V", "current": "0.5A", "driver": "resistor"}},
}
RIG = Rig.model_validate(
    {
        "trigger": {"request": "20V", "rating": "4A", "resistance": "30mOhm"},
        "tolerance": {"source": 0.1, "resistance": 0.2, "efficiency": 0.02, "load": 0.05, "copper": [0, 30, 70]},
        "branch": [
            BOX,
            {"name": "strip", "load": {"led": {"count": 3, "vf": "3V", "current": "0.5A", "driver": "resistor"}}},
            {"name": "spot", "load": {"led": {"count": 3, "vf": "3V", "current": "0.5A", "headroom": "1V"}}},
            {"name": "fan", "load": "0.5A"},
        ],
    }
)
CABLE = Cable.model_validate({"id": "desk", "kind": "C-C", "rating": "5A"})


STRING = Load(led={"count": 3, "vf": "3V", "current": "0.5A", "driver": "resistor"})


def test_the_whole_network_of_a_rig() -> None:
    found = network_spec(RIG, CABLE, 15.0, holds_a=3.0)
    expected = NetworkSpec(
        source_v=Triple(13.5, 15.0, 16.5),
        branches=(
            BranchSpec(
                "box",
                STRING.on(12.0),
                RIG.branches[0].converter,
                Conductor(0.078, 0.02),
                Conductor(0.0, 0.078 * (1 + 0.00393 * 50)),
            ),
            # Chosen for the 20 V that are asked for.
            BranchSpec("strip", STRING.on(20.0)),
            BranchSpec("spot", RIG.branches[2].load),
            BranchSpec("fan", of_current(0.5)),
        ),
        holds_a=3.0,
        series=(("cable", CABLE.loop_ohm()[0]), ("trigger", Triple.exact(0.03))),
        resistance=Triple(0.8, 1.0, 1.2),
        efficiency=Triple(0.98, 1.0, 1.02),
        load=Triple(0.95, 1.0, 1.05),
        copper=Triple(1 - 0.00393 * 20, 1 + 0.00393 * 10, 1 + 0.00393 * 50),
    )
    # How warm each part gets is for tests of its own.
    cold = [
        each._replace(
            wire=Conductor(*each.wire[:2]),
            lead=Conductor(*each.lead[:2]),
            rise_k_w=BranchSpec._field_defaults["rise_k_w"],
        )
        for each in found.branches
    ]
    assert same(found._replace(branches=tuple(cold)), expected)


def test_what_is_not_said_of_source_and_cable() -> None:
    def tolerating(ratio: float) -> Rig:
        return RIG.model_copy(update={"tolerance": RIG.tolerance.model_copy(update={"source": ratio})})

    found = network_spec(tolerating(0.02), None, 15.0)
    assert same(found.source_v, Triple(14.7, 15.0, 15.3))
    assert (found.holds_a, found.bus_a) == (None, 0.0)
    assert [name for name, _ in found.series] == ["trigger"]
    assert network_spec(tolerating(0.0), None, 15.0).source_v == Triple.exact(15.0)


@pytest.mark.parametrize(
    ("asked", "expected"),
    [("20V", 20.0), ("pps 11V", 11.0), ("avs 16V", 16.0), ("highest", 9.0), ("prefer 20V 15V", 9.0), ("power", 9.0)],
)
def test_the_voltage_that_a_rig_is_built_for(asked: str, expected: float) -> None:
    rig = Rig.model_validate({"trigger": {"request": asked}, "branch": [{"name": "fan", "load": "0.5A"}]})
    assert design_voltage(rig, 9.0) == expected


@pytest.mark.parametrize(
    ("supply_v", "changes", "ohm"),
    [
        (15.0, {}, 12.0),
        (9.5, {}, 1.0),
        # At the string's own voltage and below, the resistor for twice of it stands in.
        (9.0, {}, 18.0),
        (5.0, {}, 18.0),
        (15.0, {"resistor": "7ohm"}, 7.0),
        (5.0, {"resistor": "7ohm"}, 7.0),
    ],
)
def test_the_resistor_of_a_string(supply_v: float, changes: dict[str, Any], ohm: float) -> None:
    led = Led.model_validate({"count": 3, "vf": "3V", "current": "0.5A", "driver": "resistor", **changes})
    assert led.resistor_on(supply_v) == pytest.approx(ohm, rel=1e-12)
