"""Loads of every kind: what more load means, what they are called, what they are lost in; each a value by itself."""

from __future__ import annotations

import pickle
from typing import Any

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Branch

POWER, CURRENT, HEATER = Load("18W"), Load("2A"), Load("10ohm")
LEDS = {"count": 3, "vf": "3V", "current": "0.5A"}
STRING = Load(led={**LEDS, "driver": "resistor", "resistor": "20ohm"})
DRIVER = Load(led={**LEDS, "headroom": "1V", "efficiency": "75%"})
EVERY = (POWER, CURRENT, HEATER, STRING, DRIVER)


@pytest.mark.parametrize(
    ("meaning", "factor", "watts", "amps", "ohms", "resistor", "leds"),
    [
        ("tolerance", 1.2, 21.6, 2.4, 8.0, 16.0, 0.6),
        ("tolerance", 0.75, 13.5, 1.5, 12.5, 25.0, 0.375),
        ("demand", 1.25, 22.5, 2.5, 8.0, 16.0, 0.625),
        ("demand", 0.5, 9.0, 1.0, 20.0, 40.0, 0.25),
        ("share", 0.5, 9.0, 1.0, 20.0, 20.0, 0.5),
        ("share", 1.5, 18.0, 2.0, 10.0, 20.0, 0.5),
    ],
)
def test_what_more_load_means(
    meaning: str, factor: float, watts: float, amps: float, ohms: float, resistor: float, leds: float
) -> None:
    power, current, heater, string, driver = (getattr(load, meaning)(factor) for load in EVERY)
    figures = (power.power_w, current.current_a, heater.resistance_ohm, string.led.resistor_ohm, driver.led.current_a)
    assert figures == pytest.approx((watts, amps, ohms, resistor, leds))
    assert [type(each) for each in (power, current, heater, string, driver)] == [type(each) for each in EVERY]
    # What is stated stays, and so does all that is not the figure.
    assert (POWER.stated, string.led.vf_v, driver.led.headroom_v) == (18.0, 3.0, 1.0)


@pytest.mark.parametrize("load", EVERY)
def test_none_and_all_of_a_load(load: Load) -> None:
    assert load.share(0.0).words() == load.share(-0.5).words() == "0 A"
    assert load.share(1.0) == load.demand(1.0) == load.tolerance(1.0) == load
    drawn = load.on(12.0).demand(0.0).port(0.5).current(12.0)[0]
    assert drawn == pytest.approx(0.0, abs=1e-200)


def test_a_load_takes_what_its_figure_says() -> None:
    for load in (POWER, CURRENT, HEATER):
        amps = load.current_at(12.0)
        assert amps is not None
        stated = {"power": 12.0 * amps, "current": amps, "resistance": 12.0 / amps}[load.kind]
        assert stated == pytest.approx(load.stated)
    assert [load.current_at(12.0) for load in (STRING, DRIVER)] == pytest.approx([0.15, 4.5 / 0.75 / 12.0])
    assert {load.current_at(0.0) for load in EVERY} == {None}


def test_what_is_lost_inside() -> None:
    assert [load.losses(12.0, 0.5) for load in (POWER, CURRENT, HEATER)] == [{}] * 3
    assert STRING.losses(12.0, 0.15) == pytest.approx({"resistor": 0.45})
    assert DRIVER.losses(12.0, 0.5) == pytest.approx({"driver": 1.5})


def test_what_each_needs_and_from_where_it_draws() -> None:
    assert [load.needs_v for load in EVERY] == [0.0, 0.0, 0.0, 9.0, 10.0]
    assert [load.starts_at_v for load in EVERY] == [None, 0.0, 0.0, 0.0, 10.0]
    assert [load.ohmmeter_ohm for load in EVERY] == [None, None, 10.0, None, None]
    assert [load.words() for load in EVERY] == ["18 W", "2 A", "10 Ω", "3 LEDs at 500 mA", "3 LEDs at 500 mA"]


@pytest.mark.parametrize("load", EVERY)
def test_a_load_is_a_value(load: Load) -> None:
    assert pickle.loads(pickle.dumps(load)) == load
    assert Load.model_validate(load) is load
    branch = Branch(name="a", load=load)
    assert Branch.model_validate(branch.model_dump()) == branch
    assert Branch.model_validate_json(branch.model_dump_json(exclude_none=True)) == branch
    assert load.kind == type(load).key


@pytest.mark.parametrize(
    ("told", "what"),
    [
        ("5V", "'5V' is not a load"),
        ("24", "'24' is not a load"),
        (7, "7 is not a load"),
        ([1], "is not a load"),
        ({}, "the load says nothing"),
        ({"voltage": "5V-9V"}, "the load says nothing"),
        ({"watts": 3}, "unknown key 'watts'"),
        ({"led": LEDS, "current": "1A"}, "the load is given as led and current"),
        ({"led": {**LEDS, "driver": "resistor", "efficiency": 0.9}}, "an efficiency is given for LEDs on a resistor"),
    ],
)
def test_what_is_no_load_is_refused_alike_everywhere(told: Any, what: str) -> None:
    tries = [Load.model_validate, lambda data: Branch(name="a", load=data)]
    if isinstance(told, dict):
        tries.append(lambda data: Load(**data))
    elif isinstance(told, str):
        tries.append(Load)
    for made in tries:
        with pytest.raises(InputError) as refused:
            made(told)
        assert what in str(refused.value)
