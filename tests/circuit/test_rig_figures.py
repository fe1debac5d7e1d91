"""A rig's network and limits, complete, with and without each part; what stands in for what is not said."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.circuit import network as net
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.envelope import Limits
from pdcheck.circuit.from_rig import converter_network, design_voltage, network_spec, part_limits, series_resistor
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.converter import Converter
from pdcheck.parts.load import Led
from pdcheck.parts.rig import Rig
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple
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


def test_the_whole_network_of_a_rig() -> None:
    found = network_spec(RIG, CABLE, 15.0, limit_a=3.0, limit_kind="pps", bus_a=0.01)
    expected = NetworkSpec(
        source_v=Triple(13.5, 15.0, 16.5),
        branches=(
            BranchSpec(
                "box",
                net.LedString(3, 3.0, 6.0),
                net.Converter("buck", 12.0, 0.9),
                Conductor(0.078, 0.02),
                Conductor(0.0, 0.078 * (1 + 0.00393 * 50)),
            ),
            # Chosen for the 20 V that are asked for.
            BranchSpec("strip", net.LedString(3, 3.0, 22.0)),
            BranchSpec("spot", net.LedDriver(3, 3.0, 0.5, 1.0)),
            BranchSpec("fan", net.ConstantCurrent(0.5)),
        ),
        limit_a=3.0,
        limit_kind="pps",
        cable=CABLE.loop_ohm()[0],
        trigger=Triple.exact(0.03),
        bus_a=0.01,
        resistance=Triple(0.8, 1.0, 1.2),
        efficiency=Triple(0.98, 1.0, 1.02),
        load=Triple(0.95, 1.0, 1.05),
        copper=Triple(1 - 0.00393 * 20, 1 + 0.00393 * 10, 1 + 0.00393 * 50),
    )
    assert same(found, expected)


def test_what_is_not_said_of_source_and_cable() -> None:
    found = network_spec(RIG, None, 15.0, source_tolerance=0.02)
    assert same(found.source_v, Triple(14.7, 15.0, 15.3))
    assert (found.limit_a, found.limit_kind, found.bus_a) == (None, "trip", 0.0)
    assert found.cable == Triple.exact(0.0)
    assert network_spec(RIG, None, 15.0, source_tolerance=0.0).source_v == Triple.exact(15.0)


FULL = {
    "kind": "boost",
    "input": "6V-36V",
    "input_limit": "6A",
    "input_power": "60W",
    "output": "40V",
    "output_limit": "4A",
    "power_limit": "50W",
    "efficiency": 0.92,
    "idle": "0.3W",
    "dropout": "1V",
    "start": "7V",
}


def test_every_figure_of_a_converter() -> None:
    assert converter_network(Converter.model_validate(FULL)) == net.Converter(
        kind="boost",
        output_v=40.0,
        efficiency=0.92,
        idle_w=0.3,
        dropout_v=1.0,
        input_min_v=6.0,
        input_max_v=36.0,
        input_limit_a=6.0,
        input_limit_w=60.0,
        output_limit_a=4.0,
        output_limit_w=50.0,
        start_v=7.0,
    )
    assert converter_network(Converter(kind="buck", output="5V")) == net.Converter("buck", 5.0, 0.85)


def test_a_table_of_efficiency() -> None:
    table = {"input": ["5V", "9V"], "output": ["1A", "2A"], "values": [[0.8, 0.7], [0.9, 0.85]]}
    stated = Converter.model_validate({"kind": "buck", "output": "3V", "efficiency": table})
    assert converter_network(stated).efficiency == net.EfficiencyTable(
        (5.0, 9.0), (1.0, 2.0), ((0.8, 0.7), (0.9, 0.85))
    )


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
    assert series_resistor(led, supply_v) == pytest.approx(ohm, rel=1e-12)


def test_limits_of_all_parts_and_of_none() -> None:
    box, lead = Wire(mm2=1.0, length_m=2.0).ampacity_a(), Wire(mm2=0.5, length_m=1.0).ampacity_a()
    assert part_limits(RIG, CABLE, "box", source_a=3.0, source_w=45.0) == Limits(3.0, 45.0, 5.0, 4.0, box, lead)
    assert part_limits(RIG, None, "fan") == Limits(trigger_a=4.0)
    with pytest.raises(InputError) as refused:
        part_limits(RIG, CABLE, "pump")
    assert str(refused.value) == "no branch named 'pump'; expected one of box, strip, spot, fan"
