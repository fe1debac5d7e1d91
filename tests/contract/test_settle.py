"""What the trigger ends up with: every request on sources and cables that have it, and on those that have not."""

import importlib.util
from pathlib import Path

import pytest

from pdcheck.contract.settle import settle
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

_spec = importlib.util.spec_from_file_location("independent", Path(__file__).parents[1] / "independent.py")
second = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(second)

PHONE = "5V 3A, 9V 3A; PPS 3.3-11V 3A"  # 27 W
WALL = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"  # 45 W
LAPTOP = "5V 3A, 9V 3A, 15V 3A, 20V 5A; PPS 3.3-21V 5A"  # 100 W
OLD = "5V 3A, 9V 2A, 12V 1.5A"
EPR = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"
NEW = "5V 3A, 9V 3A, 15V 3A, 20V 2.25A; AVS 9-20V 3A/2.25A"


def ends_up(request, offers, cable="C-C 5A", fallback="next-lower"):
    source = Source(id="s", offers=offers)
    trigger = Trigger(request=request, fallback=fallback)
    return settle(trigger, source, Cable(cable))


# Request, offers, cable, fall-back; outcome, kind, volts, amperes, position, request words.
FIXED, PPS, AVS = second.fixed_request, second.pps_request, second.avs_request
CASES = [
    # What is on offer is had, all of its current asked for.
    ("9V", PHONE, "C-C", "next-lower", "as-asked", "fixed", 9, 3, 2, FIXED(2, 3000)),
    ("20V", LAPTOP, "C-C 5A", "next-lower", "as-asked", "fixed", 20, 5, 4, FIXED(4, 5000)),
    ("12V", OLD, "C-C", "none", "as-asked", "fixed", 12, 1.5, 3, FIXED(3, 1500)),
    ("15V 1A", WALL, "C-C", "none", "as-asked", "fixed", 15, 1, 3, FIXED(3, 1000)),
    # 12 V of a source without it: the next lower, 5 V, or nothing.
    ("12V", WALL, "C-C", "next-lower", "fallback", "fixed", 9, 3, 2, FIXED(2, 3000)),
    ("12V", WALL, "C-C", "5V", "fallback", "fixed", 5, 3, 1, FIXED(1, 3000)),
    ("12V", WALL, "C-C", "none", "off", "none", 0, 0, None, FIXED(1, 0, mismatch=True)),
    # 20 V of 27 W.
    ("20V", PHONE, "C-C", "next-lower", "fallback", "fixed", 9, 3, 2, FIXED(2, 3000)),
    ("20V", PHONE, "C-C", "5V", "fallback", "fixed", 5, 3, 1, FIXED(1, 3000)),
    ("20V", PHONE, "C-C", "none", "off", "none", 0, 0, None, FIXED(1, 0, mismatch=True)),
    # More current than is on offer: the request says mismatch.
    ("9V 5A", PHONE, "C-C 5A", "none", "as-asked", "fixed", 9, 3, 2, FIXED(2, 3000, mismatch=True)),
    # 5 A over a cable without a marker: the source itself offers 3 A.
    ("20V", LAPTOP, "C-C", "none", "as-asked", "fixed", 20, 3, 4, FIXED(4, 3000)),
    ("20V 5A", LAPTOP, "C-C", "none", "as-asked", "fixed", 20, 3, 4, FIXED(4, 3000, mismatch=True)),
    # No PD over A-to-C, whatever is asked for and whatever the fall-back.
    ("20V", LAPTOP, "A-C", "next-lower", "type-c", "type-c", 5, 0.5, None, None),
    ("20V", LAPTOP, "A-C", "none", "type-c", "type-c", 5, 0.5, None, None),
    ("pps 9V 2A", LAPTOP, "A-C", "none", "type-c", "type-c", 5, 0.5, None, None),
    ("highest", LAPTOP, "A-C", "5V", "type-c", "type-c", 5, 0.5, None, None),
    # PPS: on its step, off its step (down to it), out of range, of a source without it.
    ("pps 9V 2A", WALL, "C-C", "none", "as-asked", "pps", 9, 2, 4, PPS(4, 9000, 2000)),
    ("pps 13.2V 3A", WALL, "C-C", "none", "as-asked", "pps", 13.2, 3, 4, PPS(4, 13200, 3000)),
    ("pps 9.03V 2A", WALL, "C-C", "none", "as-asked", "pps", 9.02, 2, 4, PPS(4, 9020, 2000)),
    ("pps 3.3V 1A", WALL, "C-C", "none", "as-asked", "pps", 3.3, 1, 4, PPS(4, 3300, 1000)),
    ("pps 16V 1.03A", WALL, "C-C", "none", "as-asked", "pps", 16, 1, 4, PPS(4, 16000, 1000)),
    ("pps 20V 2A", WALL, "C-C", "none", "off", "none", 0, 0, None, FIXED(1, 0, mismatch=True)),
    ("pps 20V 2A", WALL, "C-C", "next-lower", "fallback", "fixed", 15, 2, 3, FIXED(3, 2000)),
    ("pps 9V 2A", OLD, "C-C", "5V", "fallback", "fixed", 5, 2, 1, FIXED(1, 2000)),
    ("pps 9V 5A", WALL, "C-C 5A", "none", "as-asked", "pps", 9, 3, 4, PPS(4, 9000, 3000, mismatch=True)),
    ("pps 20V 5A", LAPTOP, "C-C", "none", "as-asked", "pps", 20, 3, 5, PPS(5, 20000, 3000, mismatch=True)),
    # SPR AVS: one current to 15 V, another above.
    ("avs 12V 2A", NEW, "C-C", "none", "as-asked", "spr-avs", 12, 2, 5, AVS(5, 12000, 2000)),
    ("avs 18V", NEW, "C-C", "none", "as-asked", "spr-avs", 18, 2.25, 5, AVS(5, 18000, 2250)),
    ("avs 12.37V 1A", NEW, "C-C", "none", "as-asked", "spr-avs", 12.3, 1, 5, AVS(5, 12300, 1000)),
    ("avs 24V 1A", NEW, "C-C", "5V", "fallback", "fixed", 5, 1, 1, FIXED(1, 1000)),
    # What needs EPR is not had over another cable.
    ("28V", EPR, "C-C 5A", "next-lower", "fallback", "fixed", 20, 5, 4, FIXED(4, 5000)),
    ("28V", EPR, "C-C", "next-lower", "fallback", "fixed", 20, 3, 4, FIXED(4, 3000)),
    ("28V", EPR, "C-C 5A", "none", "off", "none", 0, 0, None, FIXED(1, 0, mismatch=True)),
    ("avs 24V 5A", EPR, "C-C 5A", "5V", "fallback", "fixed", 5, 3, 1, FIXED(1, 3000, mismatch=True)),
    # PPS is of SPR alone: a trigger that is set to it does not enter EPR mode, and does not fall back into it.
    ("pps 28V 2A", EPR, "EPR", "next-lower", "fallback", "fixed", 20, 2, 4, FIXED(4, 2000)),
    # Highest voltage, most power, first of several wishes.
    ("highest", WALL, "C-C", "none", "as-asked", "fixed", 15, 3, 3, FIXED(3, 3000)),
    ("highest", LAPTOP, "C-C 5A", "none", "as-asked", "fixed", 20, 5, 4, FIXED(4, 5000)),
    ("highest", "5V 3A", "C-C", "none", "as-asked", "fixed", 5, 3, 1, FIXED(1, 3000)),
    ("power", "5V 3A, 9V 3A, 12V 1.5A", "C-C", "none", "as-asked", "fixed", 9, 3, 2, FIXED(2, 3000)),
    ("power", LAPTOP, "C-C", "none", "as-asked", "fixed", 20, 3, 4, FIXED(4, 3000)),
    ("prefer 12V, 15V, 9V", WALL, "C-C", "none", "as-asked", "fixed", 15, 3, 3, FIXED(3, 3000)),
    ("prefer 12V, 9V", OLD, "C-C", "none", "as-asked", "fixed", 12, 1.5, 3, FIXED(3, 1500)),
    ("prefer 20V, 12V", PHONE, "C-C", "5V", "fallback", "fixed", 5, 3, 1, FIXED(1, 3000)),
    ("5V", "9V 3A", "C-C", "next-lower", "type-c", "type-c", 5, 0.5, None, None),
    ("none", LAPTOP, "C-C 5A", "next-lower", "type-c", "type-c", 5, 0.5, None, None),
]


@pytest.mark.parametrize(
    "case", CASES, ids=[f"{case[0]} of {case[1][:20]} over {case[2]}, {case[3]}" for case in CASES]
)
def test_outcomes(case):
    request, offers, cable, fallback, outcome, kind, volts, amps, position, word = case
    found = ends_up(request, offers, cable, fallback)
    assert (found.outcome, found.kind, found.position) == (outcome, kind, position)
    assert (found.voltage_v, found.current_a) == pytest.approx((volts, amps))
    assert found.request_words == (() if word is None else (word,))
    assert found.reason


def test_an_epr_voltage_over_an_epr_cable_is_asked_for_in_a_pair():
    found = ends_up("28V", EPR, "EPR")
    offer = next(
        offer for offer in Source(id="s", offers=EPR).offers if offer.max_mv == 28000 and offer.kind == "fixed"
    )
    assert (found.outcome, found.position, found.voltage_v, found.current_a, found.epr) == (
        "as-asked",
        8,
        28.0,
        5.0,
        True,
    )
    assert found.request_words == (FIXED(8, 5000) | 1 << 22, offer.word)


def test_the_epr_avs_pair():
    found = ends_up("avs 24V 4A", EPR, "EPR")
    assert (found.kind, found.voltage_v, found.current_a, found.position) == ("epr-avs", 24.0, 4.0, 9)
    copy = 0b11 << 30 | 1 << 28 | 280 << 17 | 150 << 8 | 140
    assert found.request_words == (AVS(9, 24000, 4000, epr=True), copy)
    # 140 W at 28 V is 5 A; at 28 V and 140 W no more than that, at 24 V the 5 A of the connector.
    assert ends_up("avs 28V", EPR, "EPR").current_a == 5.0
    assert ends_up("avs 26V", "5V 3A, 20V 5A, 28V 4A; AVS 15-28V 112W", "EPR").current_a == 4.3


def test_a_mismatch_is_said_in_words_too():
    found = ends_up("9V 5A", PHONE)
    assert found.mismatch and "3 A of the 5 A" in found.reason


def test_pps_limits_its_current_and_a_fixed_supply_does_not():
    assert ends_up("pps 9V 2A", WALL).limits_current
    assert not ends_up("9V", WALL).limits_current


def test_a_variable_and_a_battery_supply_wander_between_their_ends():
    for text in ("5V 3A, variable 8-9V 2A", "5V 3A, battery 8-9V 18W"):
        assert not any(word == () for word in [ends_up("9V", text).request_words])
        found = ends_up("9V", text, fallback="next-lower")
        # A trigger asks for fixed offers: these two it passes over.
        assert (found.outcome, found.voltage_v) == ("fallback", 5.0)


@pytest.mark.parametrize(("current", "amps"), [("0.5A", 0.5), ("1.5A", 1.5), ("3A", 3.0)])
def test_typec_current_where_the_source_states_it(current, amps):
    source = Source(id="s", offers="5V 3A, 9V 3A", typec_current=current)
    found = settle(Trigger(request="9V"), source, Cable(id="c", kind="A-C"))
    assert (found.kind, found.voltage_v, found.current_a) == ("type-c", 5.0, amps)


def test_a_list_with_gaps_keeps_its_positions():
    words = (0x0801912C, 0, 0x0004B12C)
    found = settle(Trigger(request="15V"), Source(id="s", offers=words), Cable("C-C"))
    assert found.position == 3 and found.request_words == (FIXED(3, 3000),)
