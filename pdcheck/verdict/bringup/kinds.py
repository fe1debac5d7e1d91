"""Kinds: every kind of figure that may be off on a bench, with what holds of it on any bench."""

from __future__ import annotations

from typing import Literal

from pdcheck.facts.trade import NAMED_CURRENT, NAMED_EFFICIENCY, NAMED_IDLE, NAMED_LOAD_SHARE, NAMED_RESISTANCE
from pdcheck.named import NamedTuple


class Kind(NamedTuple):
    """A kind of figure.

    ``rarer``: how much less likely it is at fault than the plainest, in units of chi-squared: what decides where
    readings cannot. ``named``: how far off it is worth a name, of a load as a part of it; 0 where any difference is.
    ``side``: which difference that is. ``granted``: what is taken for granted where it is taken as stated. ``cause``:
    the name of a cause, where it is not that of the kind. ``called``: what people call the figure, ``{}`` is the
    branch; empty where it is told of as a fault alone. ``text`` and ``advice`` are what is said of one that is off:
    with its ``{value}``, with what was ``{stated}``, and how much ``{more}`` it is.
    """

    rarer: float
    named: float = 0.0
    side: Literal["more", "less", "either"] = "either"
    granted: str = ""
    cause: str = ""
    called: str = ""
    text: str = ""
    advice: str = ""


_OHM = NAMED_RESISTANCE.value
_CONDUCTOR = "the {kind} with its contacts is {value}; the calculation used {stated}{more}"
KINDS = {
    "source-voltage": Kind(0.0),
    "supply": Kind(
        0.0, _OHM, "more", "the cable is as stated", "supply-resistance", "cable, plugs and trigger",
        text="cable, its plugs and the trigger together are {value}; the calculation used {stated}{more}",
        advice="Swap {cable} for another cable and measure again: if it goes, it was the cable, else a plug or the "
        "trigger. The warm one is the bad one.",
    ),
    "source": Kind(
        1.5, _OHM, "more", "the charger holds its voltage under load", "source-sags",
        text="its voltage falls under load, as if {value} sat inside it; the calculation counts on none",
        advice="Another charger, or less load: this one is at its end, or its own plug is bad.",
    ),
    "bus-draw": Kind(
        0.5, NAMED_CURRENT.value, "more", "nothing else hangs on the bus", called="unexplained current",
        text="{value} flows that does not belong to any branch",
        advice="Something else hangs on the bus, the trigger draws it, or a wire leaks: find it.",
    ),
    "burden": Kind(
        1.5, _OHM, "more", "the ammeter drops nothing", "meter-burden",
        text="the ammeter itself is {value}, in line while voltages were read",
        advice="Nothing is wrong with the wires. Read voltages with the ammeter out, or write its burden down.",
    ),
    "meter": Kind(
        2.5, cause="meter-factor", text="it reads {what} {value} times too high; 1 is right",
        advice="Nothing is wrong with the rig. Compare it with another meter, and try its other range.",
    ),
    "wire": Kind(0.0, _OHM, "more", "the wire is as stated", "wire-resistance", "wire of {}", text=_CONDUCTOR),
    "lead": Kind(0.0, _OHM, "more", "the lead is as stated", "lead-resistance", "lead of {}", text=_CONDUCTOR),
    "efficiency": Kind(
        0.0, NAMED_EFFICIENCY.value, "less", "the efficiency is as stated", called="efficiency of {}",
        text="its efficiency is {value}; the calculation used {stated}",
        advice="It warms up more and draws more: check its input current, let it cool, or take a better one.",
    ),
    "idle": Kind(
        0.5, NAMED_IDLE.value, "more", "the idle power is as stated", called="idle power of {}",
        text="it draws {value} with nothing at its output; the calculation used {stated}",
        advice="Is something left on its output, a display or a lamp? Else write the figure back.",
    ),
    "output": Kind(
        0.0, granted="the output is set as stated", cause="output-setting",
        text="its output is set to {value}, not {stated}",
        advice="Set it again with nothing on it, before any load is joined.",
    ),
    "sag": Kind(
        1.5, _OHM, "more", cause="output-sags", text="its output falls under load, as if {value} sat inside it",
        advice="It is at a limit of its own or starved at its input: see its input voltage at that step.",
    ),
    "load": Kind(
        1.5, NAMED_LOAD_SHARE.value, granted="the load takes what is stated", called="load of {}",
        text="the load is {value}; the calculation used {stated}",
        advice="Put the load that it really is into the rig file and check again.",
    ),
    "test-load": Kind(
        3.0, float("inf"), text="its test load is {value} of half the load",
        advice="Set it again, or read the current that it takes.",
    ),
}  # fmt: skip


def cause_name(kind: str) -> str:
    """What a cause is called that comes of a kind of figure.

    >>> cause_name("supply"), cause_name("idle")
    ('supply-resistance', 'idle')
    """
    return KINDS[kind].cause or kind
