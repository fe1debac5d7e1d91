"""From a rig to the solver's circuit: stated figures arrive, the others are taken from the defaults and listed."""

from __future__ import annotations

import pytest

from pdcheck.circuit.plug_in import starts_of
from pdcheck.circuit.transient.from_rig import Built, branch_of, circuit_of
from pdcheck.circuit.transient.run import run
from pdcheck.errors import InputError
from pdcheck.facts import motion
from pdcheck.parts.cable import Cable
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case

CHARGER = Source("5V 3A, 9V 3A, 20V 3A", typec_current="3A", over_current="hold")
CABLE = Cable("C-C 3A 1m loop=200mOhm")
MODULE = {"kind": "buck-boost", "input": "4.5V-36V", "output": "12V", "efficiency": 0.9, "bulk": "47uF"}


def built(rig: Rig, source: Source = CHARGER, cable: Cable = CABLE) -> Built:
    case = Case(rig, source, cable)
    return circuit_of(rig, source, cable, case.seen, case.contract)


def rig(converter: object = None, load: object = "6W", trigger: object = "20V") -> Rig:
    branch = {"name": "x", "wire": "20AWG 0.4m", "load": load} | ({} if converter is None else {"converter": converter})
    return Rig(trigger=trigger, branch=[branch])


def test_what_is_stated_arrives_and_is_not_listed() -> None:
    converter = {**MODULE, "start": "8.6V", "stop": "8V", "soft_start": "5ms", "esr": "30mOhm", "output_bulk": "100uF"}
    trigger = {"request": "20V", "resistance": "25mOhm", "brown_out": "3.4V", "restart": "200ms", "bulk": "22uF"}
    wired = Rig(
        trigger=trigger | {"esr": "7mOhm"},
        branch=[
            {
                "name": "x",
                "wire": {"awg": 20, "length": "0.4m", "inductance": "0.3uH"},
                "converter": converter,
                "load": {"resistance": "10ohm", "start_factor": 8, "start_time": "20ms"},
            }
        ],
    )
    cable = Cable({"kind": "C-C", "rating": "3A", "loop": "200mOhm", "inductance": "0.7uH"})
    circuit, assumed = built(wired, CHARGER, cable)
    branch = circuit.branches[0]
    made = branch.converter
    assert made is not None
    assert (made.start_v, made.stop_v, made.soft_start_s, made.output_f) == (8.6, 8.0, 5e-3, 100e-6)
    assert (branch.wire_h, branch.input_f, branch.esr_ohm) == (0.3e-6, 47e-6, 30e-3)
    assert branch.wire_ohm == pytest.approx(0.8 * 0.03331, rel=1e-3)  # ASTM B258: AWG 20 has 33.31 mOhm/m
    assert branch.load[:2] == ("resistance", 10.0) and branch.load[-3:] == (8.0, 20e-3, True)
    assert circuit.trigger == (0.025, 22e-6, 7e-3, 3.4, 0.2)
    assert circuit.cable == (0.2, 0.7e-6)
    assert circuit.source.plain == (5.0, 3.0, False) and circuit.source.contract == (20.0, 3.0, False)
    assert [each.text for each in assumed] == ["contract 285 ms after the 5 V"]


@pytest.mark.parametrize(
    ("what", "figure"),
    [
        ("brown_out", "3.6 V"),
        ("restart", "300 ms"),
        ("inductance", "550 nH"),
        ("soft start", "3 ms"),
        ("converter cuts off at", "4 V"),
        ("ESR of its capacitance", "150 mΩ"),
    ],
)
def test_what_is_not_stated_is_taken_and_listed(what: str, figure: str) -> None:
    assumed = built(rig(MODULE)).assumed
    assert f"{what}: {figure}" in [each.text for each in assumed]


def test_a_source_that_says_nothing_of_5_v_counts_with_what_it_offers_there_and_not_more_than_3_a() -> None:
    assert built(rig(), Source("5V 2A, 20V 3A")).circuit.source.plain.limit_a == 2.0
    assert built(rig(), Source("5V 5A, 20V 5A"), Cable("C-C 5A")).circuit.source.plain.limit_a == 3.0
    assert built(rig(), Source("5V 3A, 20V 3A", typec_current="1.5A")).circuit.source.plain.limit_a == 1.5
    assert built(rig(trigger="none"), Source("5V 3A"), Cable("A-C")).circuit.source[:2] == ((5.0, 0.5, False), None)


def test_hiccup_trips_and_a_programmed_supply_never_does() -> None:
    hiccup = Source("5V 3A, 9V 3A; PPS 3.3-11V 3A", over_current="hiccup", retry="400ms")
    fixed = built(rig(trigger="9V"), hiccup).circuit.source
    assert fixed.plain.trips and fixed.contract is not None and fixed.contract.trips and fixed.retry_s == 0.4
    programmed = built(rig(trigger="pps 9V 2A"), hiccup).circuit.source
    assert programmed.contract is not None and not programmed.contract.trips


def test_a_load_that_nobody_knows_starts_on_5_v_and_one_that_states_its_voltage_waits_for_it() -> None:
    assert built(rig(load="24W")).circuit.branches[0].load.start_v == 4.5
    waiting = built(rig(load={"power": "24W", "voltage": "16V-22V"})).circuit
    assert waiting.branches[0].load.start_v == 16.0
    assert run(waiting, (), 0.4).fates[0].fate == "starts"


def test_a_lamp_starts_with_more_and_its_time_has_a_default() -> None:
    lamp = built(rig(load={"resistance": "40ohm", "start_factor": 10})).circuit
    assert lamp.branches[0].load[-3:-1] == (10.0, motion.LAMP_START_TIME.value)
    assert max(each.max_a or 0.0 for each in run(lamp, (), 0.4).extremes) > 1.0
    assert built(rig(load={"resistance": "40ohm"})).circuit.branches[0].load.start_factor == 1.0


@pytest.mark.parametrize("wrong", ["0.5", 0, True, "many", 1001, float("nan")])
def test_a_factor_that_is_none_is_refused(wrong: object) -> None:
    with pytest.raises(InputError, match="no such factor"):
        Load({"power": "5W", "start_factor": wrong})


def test_leds_go_in_as_what_they_are() -> None:
    string = {"count": 3, "vf": "3V", "current": "0.5A"}
    on_resistor = built(rig(load={"led": string | {"driver": "resistor"}})).circuit.branches[0].load
    assert on_resistor.kind == "leds" and on_resistor.string_v == 9.0 and on_resistor.value == pytest.approx(22.0)
    pack = {"cells": 3, "end": "4.2V", "current": "1A", "efficiency": 0.9}
    charger = built(rig(load={"pack": pack | {"headroom": "1V"}})).circuit.branches[0].load
    assert (charger.kind, charger.start_v) == ("power", 13.6) and charger.value == pytest.approx(14.0)
    driven = built(rig(load={"led": string | {"efficiency": 0.9}})).circuit.branches[0].load
    assert (driven.kind, driven.start_v) == ("power", 9.0) and driven.value == pytest.approx(5.0)


def test_a_current_for_a_voltage_waits_for_it_in_time_as_in_the_rules() -> None:
    """Below its least voltage nobody says that it draws what it is stated for; without one it draws from 0 V on."""
    for voltage, starts in (({"voltage": "7.2V-10V"}, 7.2), ({}, 0.0)):
        rig = Rig(trigger="9V", branch=[{"name": "fan", "load": {"current": "1A"} | voltage}])
        branch, _ = branch_of(rig.branches[0], 20.0, 9.0, 9.0)
        [start] = starts_of(rig, 9.0)
        assert branch.load.start_v == start.start_v == starts
        assert branch.load.stop_v == start.stop_v
