"""The sums that stand alone: ``wire``, ``led`` and ``drop`` against closed forms and published wire tables."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.circuit.wire import least_area_mm2, least_cross_section, least_gauge, wire_cost
from pdcheck.cli import run
from pdcheck.parts.wire import Wire

STRING = ["led", "--count", "3", "--vf", "3.4V"]


def found(arguments: list[str], capsys: pytest.CaptureFixture[str], code: int = 0) -> dict[str, Any]:
    assert run([*arguments, "--json"]) == code
    document = json.loads(capsys.readouterr().out)
    assert isinstance(document, dict)
    return document


def lines(arguments: list[str], capsys: pytest.CaptureFixture[str], code: int = 0) -> list[str]:
    assert run(arguments) == code
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize(("awg", "per_1000_ft"), [(18, 6.385), (20, 10.15), (22, 16.14), (24, 25.67), (26, 40.81)])
def test_a_gauge_is_the_published_table(awg: int, per_1000_ft: float, capsys: pytest.CaptureFixture[str]) -> None:
    wire = found(["wire", "--awg", str(awg), "--length", "500ft", "--current", "10mA"], capsys)["wire"]
    assert math.isclose(wire["resistance_ohm"], per_1000_ft, rel_tol=1e-3)
    assert math.isclose(wire["drop_v"], wire["resistance_ohm"] * 0.01)
    assert math.isclose(wire["loss_w"], wire["resistance_ohm"] * 1e-4)


def test_a_metric_size_with_contacts_and_warm_copper(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["wire", "--mm2", "0.75", "--length", "2m", "--current", "2A", "--contacts", "20mOhm"]
    wire = found([*arguments, "--temperature", "70C"], capsys)["wire"]
    assert math.isclose(wire["resistance_ohm"], 4 * 0.026 * (1 + 0.00393 * 50) + 0.02)


def test_the_thinnest_for_a_drop(capsys: pytest.CaptureFixture[str]) -> None:
    document = found(["wire", "--length", "2m", "--current", "3A", "--drop", "0.3V"], capsys)
    assert (document["least_awg"]["awg"], document["least_mm2"]["mm2"]) == (18, 1.0)
    assert math.isclose(document["least_copper_mm2"], 4 / 58 * 3 / 0.3)
    shown = lines(["wire", "--length", "2m", "--current", "3A", "--drop", "0.3V"], capsys)
    gauge, size = (at for at, line in enumerate(shown) if line.startswith("at least "))
    assert "AWG 18" in shown[gauge] and "1 mm²" in shown[size]
    assert "ASTM B258" in " ".join(shown[gauge:size])
    assert "IEC 60228" in " ".join(shown[size:])


def test_warmth_decides_where_the_drop_does_not(capsys: pytest.CaptureFixture[str]) -> None:
    document = found(["wire", "--length", "10cm", "--current", "3A", "--drop", "1V"], capsys)
    assert (document["least_awg"]["awg"], document["least_awg"]["decided_by"]) == (22, "warmth")


def test_a_wire_found_wanting(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        "drops 400 mV at 3 A (300 mV allowed)"
        in lines(["wire", "--awg", "20", "--length", "2m", "--current", "3A", "--drop", "0.3V"], capsys, 1)[0]
    )
    assert "too warm" in lines(["wire", "--awg", "28", "--length", "1cm", "--current", "3A"], capsys, 1)[0]
    assert lines(["wire", "--length", "50m", "--current", "5A", "--drop", "10mV"], capsys, 1)[0].startswith("No gauge")


@settings(max_examples=60, deadline=None)
@given(st.floats(0.05, 20), st.floats(0.05, 6), st.floats(0.02, 2), st.booleans(), st.sampled_from((0.0, 0.01)))
def test_the_next_thinner_does_not_do(length: float, amps: float, drop: float, stranded: bool, contacts: float) -> None:
    least = least_gauge(length, amps, drop, stranded=stranded, contacts_ohm=contacts)
    assume(least is not None and least.cost.wire.awg is not None and least.cost.wire.awg < 40)
    assert least is not None
    assert least.cost.wire.awg is not None
    assert least.cost.drop_v <= drop * (1 + 1e-9)
    assert amps <= least.cost.ampacity_a * (1 + 1e-9)
    thinner = wire_cost(least.cost.wire.model_copy(update={"awg": least.cost.wire.awg + 1}), amps)
    assert thinner.drop_v > drop or amps > thinner.ampacity_a
    area = least_area_mm2(length, amps, drop, stranded=stranded, contacts_ohm=contacts)
    assert area is not None
    if least.decided_by == "drop":
        # One gauge is a factor of 92^(2/39) in area.
        own = math.pi / 4 * (0.127 * 92 ** ((36 - least.cost.wire.awg) / 39)) ** 2
        assert area <= own * (1 + 1e-9) < area * 92 ** (2 / 39) * (1 + 2e-9)


def test_metric_wire_is_the_smallest_listed_size() -> None:
    least = least_cross_section(1.0, 2.0, 2 * 2 * 0.0195)
    assert least is not None
    assert least.cost.wire == Wire(mm2=1.0, length_m=1.0)
    assert least_cross_section(100.0, 5.0, 0.1) is None
    assert least_area_mm2(1.0, 2.0, 0.1, contacts_ohm=0.05) is None


def test_a_string_on_a_resistor(capsys: pytest.CaptureFixture[str]) -> None:
    document = found([*STRING, "--current", "250mA", "--on", "9V,12V,20V"], capsys)
    dark, low, high = document["on"]
    assert (dark["lights"], dark["resistor_ohm"]) == (False, None)
    assert math.isclose(low["resistor_ohm"], 7.2)
    assert math.isclose(high["resistor_ohm"], 39.2)
    assert math.isclose(high["waste_share"], 0.49)
    assert math.isclose(high["supply_w"], 5.0)


def test_a_string_on_a_driver(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = [*STRING, "--current", "250mA", "--driver", "--headroom", "1V", "--efficiency", "90%"]
    rows = found([*arguments, "--on", "9V,11.2V,20V"], capsys)["on"]
    assert [row["lights"] for row in rows] == [False, True, True]
    assert math.isclose(rows[2]["supply_w"], 10.2 * 0.25 / 0.9)
    assert math.isclose(rows[2]["over_v"], 8.8)
    assert "stays dark" in lines([*arguments, "--on", "9V"], capsys, 1)[-1]


def test_a_string_on_a_resistor_that_is_there(capsys: pytest.CaptureFixture[str]) -> None:
    rows = found([*STRING, "--ohm", "39ohm", "--on", "9V,20V"], capsys)["on"]
    assert [row["current_a"] for row in rows] == [0.0, pytest.approx(9.8 / 39)]


def test_a_loop_from_two_readings(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["drop", "--source", "5.12V", "--sink", "4.80V", "--at", "2A"]
    document = found([*arguments, "--also", "3A"], capsys)
    assert math.isclose(document["loop_ohm"]["typ"], 0.16)
    assert [each["within"] for each in document["limits"]] == [True, False]
    assert math.isclose(document["costs"][0]["drop_v"], 0.48)
    assert math.isclose(document["costs"][0]["loss_w"], 1.44)
    vague = found([*arguments, "--error", "10mV"], capsys)["loop_ohm"]
    assert math.isclose(vague["min"], 0.15)
    assert math.isclose(vague["max"], 0.17)
    assert lines(arguments, capsys)[0].startswith("160 mΩ around the loop")


def test_a_loop_that_no_cable_may_have(capsys: pytest.CaptureFixture[str]) -> None:
    shown = lines(["drop", "--source", "5.1V", "--sink", "4.5V", "--at", "2A"], capsys, 1)
    assert "above the 250 mΩ" in shown[0]


@pytest.mark.parametrize(
    "arguments",
    [
        ["wire", "--length", "2m", "--current", "3A"],
        ["wire", "--length", "2A", "--current", "3A", "--drop", "1V"],
        ["wire", "--length", "0m", "--current", "3A", "--drop", "1V"],
        ["wire", "--length", "2m", "--current", "3A", "--awg", "99"],
        ["wire", "--length", "2m", "--current", "3A", "--awg", "20", "--mm2", "1"],
        [*STRING],
        [*STRING, "--current", "1A", "--ohm", "5ohm"],
        [*STRING, "--ohm", "5ohm", "--driver"],
        [*STRING, "--current", "1A", "--on", "nothing"],
        [*STRING, "--current", "1A", "--driver", "--efficiency", "120%"],
        ["led", "--count", "0", "--vf", "3V", "--current", "1A"],
        ["drop", "--source", "4V", "--sink", "5V", "--at", "1A"],
        ["drop", "--source", "5V", "--sink", "4V", "--at", "0A"],
        ["drop", "--source", "5V", "--sink", "4V", "--at", "-1A"],
    ],
)
def test_bad_input_is_one_line(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
