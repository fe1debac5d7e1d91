"""From parts to plain numbers: every figure of a rig arrives where it belongs."""

from __future__ import annotations

import math

from pdcheck.circuit.corners import WORST, corners, network_at
from pdcheck.circuit.from_rig import network_spec
from pdcheck.circuit.network import Source
from pdcheck.parts.cable import Cable
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from tests.circuit.making import of_power

RIG = Rig.model_validate(
    {
        "title": "Pier box",
        "trigger": {"request": "15V", "rating": "5A", "resistance": "25mOhm"},
        "tolerance": {"resistance": 0.1, "efficiency": "2%", "load": "5%", "copper": [0, 20, 60]},
        "branch": [
            {
                "name": "mount",
                "wire": {"awg": 20, "length": "0.4m", "contacts": "10mOhm"},
                "converter": {
                    "kind": "buck-boost",
                    "input": "6V-36V",
                    "input_limit": "6A",
                    "output": "12V",
                    "output_limit": "4A",
                    "efficiency": 0.92,
                    "idle": "0.3W",
                    "start": "7V",
                },
                "lead": {"awg": 18, "length": "1.5m"},
                "load": {"power": "24W"},
            },
            {"name": "strip", "load": {"led": {"count": 3, "vf": "3.4V", "current": "250mA", "driver": "resistor"}}},
            {"name": "spot", "load": {"led": {"count": 3, "vf": "3.4V", "current": "250mA", "headroom": "1V"}}},
            {"name": "fan", "load": {"current": "0.1A"}},
            {"name": "dew", "load": {"resistance": "60ohm"}},
        ],
    }
)
CABLE = Cable.model_validate({"id": "desk", "kind": "C-C", "rating": "3A"})


def test_every_figure_arrives() -> None:
    network = network_at(network_spec(RIG, CABLE, 15.0, holds_a=3.0))
    assert network.source == Source(15.0, 3.0)
    assert network.series == (("cable", 0.125), ("trigger", 0.025))
    mount, strip, spot, fan, dew = network.branches
    assert math.isclose(mount.wire_ohm, 0.8 * 10.15 / 304.8 + 0.01, rel_tol=1e-3)
    assert math.isclose(mount.lead_ohm, 3.0 * 6.385 / 304.8, rel_tol=1e-3)
    assert mount.load == of_power(24.0)
    assert mount.converter == RIG.branches[0].converter
    assert isinstance(strip.load, LedLoad)
    assert math.isclose(strip.load.led.resistor_ohm or 0.0, 4.8 / 0.25)
    assert [each.load for each in (spot, fan, dew)] == [each.load for each in RIG.branches[2:]]


def test_tolerances_arrive() -> None:
    spec = network_spec(RIG, CABLE, 15.0)
    assert spec.series[0] == ("cable", Triple(0.0, 0.125, 0.25))
    assert math.isclose(spec.source_v.min, 14.25)
    assert math.isclose(spec.copper.max, 1.0 + 0.00393 * 40)
    worst = network_at(spec, WORST)
    wire = RIG.branches[0].wire
    assert wire is not None
    assert math.isclose(worst.branches[0].wire_ohm, 1.1 * wire.resistance_ohm(60.0))
    assert corners(spec).collapse is None


def test_a_wire_that_knows_its_temperature_keeps_to_it() -> None:
    wire = {"awg": 20, "length": "0.4m", "temperature": 60}
    rig = Rig.model_validate(
        {
            "trigger": {"request": "9V"},
            "tolerance": {"copper": [0, 20, 80]},
            "branch": [{"name": "a", "wire": wire, "load": "5W"}],
        }
    )
    own = rig.branches[0].wire
    assert own is not None
    for end in (-1, 0, 1):
        network = network_at(network_spec(rig, None, 9.0), WORST._replace(copper=end))
        assert math.isclose(network.branches[0].wire_ohm, own.resistance_ohm(60.0))


def test_a_chosen_resistor_is_chosen_for_the_wanted_voltage_not_for_the_fall_back() -> None:
    low = network_at(network_spec(RIG, CABLE, 9.0)).branches[1].load
    assert low == network_at(network_spec(RIG, CABLE, 15.0)).branches[1].load
