"""Request words against an encoder of plain shifts, on random offers and wishes."""

import importlib.util
import random
from pathlib import Path

import pytest

from pdcheck.bits.offers import battery, epr_avs, fixed, pps, spr_avs, variable
from pdcheck.contract.asking import current_on_step, request_words, voltage_step_mv
from pdcheck.errors import InputError

_spec = importlib.util.spec_from_file_location("independent", Path(__file__).parents[1] / "independent.py")
second = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(second)
dice = random.Random(20240506)


def test_random_fixed_and_variable_requests():
    for _ in range(500):
        position, current = dice.randrange(1, 12), dice.randrange(0, 5001)
        mismatch = dice.random() < 0.3
        offer = dice.choice([fixed(9000, 3000, position), variable(8000, 9000, 3000)._replace(position=position)])
        assert request_words(offer, current, mismatch=mismatch) == (
            second.fixed_request(position, current, mismatch=mismatch),
        )


def test_random_pps_requests():
    for _ in range(500):
        position, current, volts = dice.randrange(1, 8), dice.randrange(0, 5001), dice.randrange(165, 1051) * 20
        offer = pps(3300, 21000, 5000)._replace(position=position)
        assert request_words(offer, current, volts) == (second.pps_request(position, volts, current),)


def test_random_avs_requests():
    for _ in range(500):
        current, volts = dice.randrange(0, 5001), dice.randrange(90, 201) * 100
        offer = spr_avs(3000, 2250)._replace(position=6)
        assert request_words(offer, current, volts) == (second.avs_request(6, volts, current),)
        volts = dice.randrange(150, 281) * 100
        epr = epr_avs(15000, 28000, 140)._replace(position=9)
        assert request_words(epr, current, volts, epr_mode=True) == (
            second.avs_request(9, volts, current, epr=True),
            epr.word,
        )


def test_a_battery_is_asked_for_power():
    # 2 A at up to 9 V: 18 W, in steps of 250 mW; never more than it offers.
    offer = battery(8000, 9000, 20000)._replace(position=3)
    assert request_words(offer, 2000) == (3 << 28 | 72 << 10 | 72,)
    assert request_words(offer, 5000) == (3 << 28 | 80 << 10 | 80,)


@pytest.mark.parametrize(
    ("offer", "step"), [(pps(3300, 11000, 3000), 20), (spr_avs(3000, 2250), 100), (epr_avs(15000, 28000, 140), 100)]
)
def test_the_steps_of_voltage(offer, step):
    assert voltage_step_mv(offer) == step
    with pytest.raises(InputError) as off:
        request_words(offer, 1000, 10010)
    assert (off.value.what, off.value.expected) == ("10010 mV is off the step", f"a multiple of {step} mV")
    with pytest.raises(InputError) as without:
        request_words(offer, 1000)
    assert without.value.what == "an adjustable offer is asked for with a voltage"
    assert without.value.expected == "a voltage within its range"


@pytest.mark.parametrize(
    ("offer", "current", "asked"), [(fixed(5000, 3000), 2999, 2990), (pps(3300, 11000, 3000), 2999, 2950)]
)
def test_current_is_rounded_down_never_up(offer, current, asked):
    assert current_on_step(offer, current) == asked
