"""Paths of the bus from one contract to the next: every step whole, with voltage, times, timers and origin."""

from __future__ import annotations

import pytest

from pdcheck.bits.offers import fixed, pps
from pdcheck.contract.settle import Contract
from pdcheck.facts.origin import Origin
from pdcheck.quantities import Triple
from pdcheck.verdict.change.bus_path import WAYS, hard_reset, new_capabilities, unplugged

TABLES = "PD R3.2 V1.1, Tables 5.18, 6.68, 6.70, 7.23 to 7.25 [checked]"
HIGH = Contract("as-asked", "fixed", 15.0, 3.0, fixed(15000, 3000, 3), (), False, "")
HIGH_V = Triple(14.25, 15.0, 15.75)
LOW = HIGH._replace(voltage_v=9.0, offer=fixed(9000, 3000, 2))
LOW_V = Triple(8.55, 9.0, 9.45)
EPR = HIGH._replace(voltage_v=28.0, offer=fixed(28000, 5000, 8))
EPR_V = Triple(26.6, 28.0, 29.4)

ENDS = {"high": (14.25, 15.75), "low": (8.55, 9.45), "epr": (26.6, 29.4), "zero": (0.0, 0.8), "five": (4.75, 5.5)}


def told(path):
    """Steps as text and figures; that their origins are the tables' is asked here, of all but what has none there."""
    for step in path.steps:
        if step.timers not in ((), ("tCCDebounce",)):
            assert str(step.origin) == TABLES
    return [tuple(step[:5]) for step in path.steps]


def asked(at):
    return [
        ("new Source_Capabilities; the trigger asks again", ENDS[at], None, 0.033, ("tSenderResponse",)),
        ("Accept; the load should go down (tSnkStdby)", ENDS[at], 0.025, 0.035, ("tSrcTransition",)),
    ]


def ready(at):
    return ("PS_RDY; the load may come back", ENDS[at], None, 0.015, ("tSnkNewPower",))


RISE = ("VBUS rises to 5 V, with no limit to its slope", ENDS["five"], None, 0.275, ("tSrcTurnOn",))
AGAIN = [
    ("5 V; first Source_Capabilities", ENDS["five"], None, 0.25, ("tFirstSourceCap",)),
    ("5 V; the trigger asks", ENDS["five"], None, 0.033, ("tSenderResponse",)),
]
OUT = [
    ("the plug is out; the capacitance empties into the loads", ENDS["zero"], None, None, ()),
    ("the plug is in again; CC has to be steady", ENDS["zero"], 0.1, 0.2, ("tCCDebounce",)),
]


def moving(before, after, at, least, greatest, *timers):
    return (f"VBUS goes from {before} V straight to {after} V", ENDS[at], least, greatest, timers)


def test_new_capabilities_lead_straight_down_or_up():
    down = new_capabilities(HIGH, HIGH_V, LOW, LOW_V)
    # 6 V at 30 mV/us; 5 % below 9 V and vSrcValid's 0.5 V below that.
    assert told(down) == [*asked("high"), moving(15, 9, "low", 0.0002, 0.285, "tSrcReady", "vSrcSlewNeg"), ready("low")]
    assert (down.way, down.lowest_v, down.off_s, down.five_s, down.interrupted) == (
        "capabilities",
        8.05,
        None,
        None,
        False,
    )
    up = new_capabilities(LOW, LOW_V, HIGH, HIGH_V)
    assert told(up) == [*asked("low"), moving(9, 15, "high", 0.0002, 0.285, "tSrcReady", "vSrcSlewPos"), ready("high")]
    assert up.lowest_v == 8.05


def test_the_same_voltage_does_not_move():
    assert told(new_capabilities(HIGH, HIGH_V, HIGH, HIGH_V)) == [*asked("high"), ready("high")]


def test_extended_power_on_either_end_has_longer_times():
    down = new_capabilities(EPR, EPR_V, HIGH, HIGH_V)
    assert told(down) == [
        *asked("epr"),
        moving(28, 15, "high", 0.000433333, 0.72, "tSrcReady EPR", "vSrcSlewNeg"),
        ready("high"),
    ]
    up = new_capabilities(HIGH, HIGH_V, EPR, EPR_V)
    assert told(up)[2] == moving(15, 28, "epr", 0.000433333, 0.72, "tSrcReady EPR", "vSrcSlewPos")


@pytest.mark.parametrize(
    ("before", "volts", "at", "recovers", "off_s"),
    [
        (HIGH, HIGH_V, "high", (0.66, 1.0, ("tSrcRecover",)), (0.66, 1.925)),
        (EPR, EPR_V, "epr", (1.085, 1.425, ("tSrcRecover EPR",)), (1.085, 2.35)),
    ],
)
def test_a_hard_reset_leads_over_zero_and_five(before, volts, at, recovers, off_s):
    path = hard_reset(before, volts, LOW, LOW_V)
    assert told(path) == [
        ("Hard Reset; VBUS is still on", ENDS[at], 0.025, 0.035, ("tPSHardReset",)),
        ("VBUS falls to 0 V", ENDS["zero"], None, 0.65, ("tSafe0V",)),
        ("VBUS is off", ENDS["zero"], *recovers),
        RISE,
        *AGAIN,
        ("Accept; VBUS goes to 9 V", ENDS["low"], None, 0.325, ("tSrcTransReq",)),
    ]
    # VBUS still stands in the first step: it is away from the second on.
    assert path[2:] == (0.0, off_s, (None, 0.608)) and path.way == "hard-reset" and path.interrupted


def test_into_extended_power_it_takes_the_mode_first():
    path = hard_reset(HIGH, HIGH_V, EPR, EPR_V)
    assert told(path)[4:] == [
        *AGAIN,
        ("5 V; EPR mode is entered", ENDS["five"], 0.45, 0.55, ("tEnterEPR",)),
        ("Accept; VBUS goes to 28 V", ENDS["epr"], None, 0.76, ("tSrcTransReq EPR",)),
    ]
    assert path.five_s == (0.45, 1.593)


def test_unplugged_for_as_long_as_one_likes():
    path = unplugged(HIGH, HIGH_V)
    accept = ("Accept; VBUS goes to 15 V", ENDS["high"], None, 0.325, ("tSrcTransReq",))
    assert told(path) == [*OUT, RISE, *AGAIN, accept]
    assert path[2:] == (0.0, (0.1, None), (None, 0.608)) and path.way == "unplug" and path.interrupted
    assert [step.origin for step in path.steps[:2]] == [
        Origin("no limit of the standard", "common practice"),
        Origin("Type-C, CC timing", "memory"),
    ]


@pytest.mark.parametrize("kind", ["type-c", "none"])
def test_without_an_offer_nothing_follows_the_five_volts(kind):
    path = unplugged(HIGH._replace(kind=kind, offer=None), HIGH_V)
    assert told(path) == [*OUT, RISE]
    assert path.off_s == (0.1, None) and path.five_s is None


def test_an_offer_is_asked_for_whatever_its_kind():
    programmed = HIGH._replace(kind="pps", voltage_v=8.5, offer=pps(5000, 11000, 3000, 4))
    assert unplugged(programmed, LOW_V).steps[-1].what == "Accept; VBUS goes to 8.5 V"


def test_each_way_has_its_words():
    assert WAYS == {
        "capabilities": "if the charger announces it",
        "hard-reset": "if the charger resets",
        "unplug": "if the plug is pulled and put back",
    }
