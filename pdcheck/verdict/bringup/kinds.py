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
    branch; empty where it is told of as a fault alone.
    """

    rarer: float
    named: float = 0.0
    side: Literal["more", "less", "either"] = "either"
    granted: str = ""
    cause: str = ""
    called: str = ""


_OHM = NAMED_RESISTANCE.value
KINDS = {
    "source-voltage": Kind(0.0),
    "supply": Kind(0.0, _OHM, "more", "the cable is as stated", "supply-resistance", "cable, plugs and trigger"),
    "source": Kind(1.5, _OHM, "more", "the charger holds its voltage under load", "source-sags"),
    "bus-draw": Kind(0.5, NAMED_CURRENT.value, "more", "nothing else hangs on the bus", called="unexplained current"),
    "burden": Kind(1.5, _OHM, "more", "the ammeter drops nothing", "meter-burden"),
    "meter": Kind(2.5, cause="meter-factor"),
    "wire": Kind(0.0, _OHM, "more", "the wire is as stated", "wire-resistance", "wire of {}"),
    "lead": Kind(0.0, _OHM, "more", "the lead is as stated", "lead-resistance", "lead of {}"),
    "efficiency": Kind(0.0, NAMED_EFFICIENCY.value, "less", "the efficiency is as stated", called="efficiency of {}"),
    "idle": Kind(0.5, NAMED_IDLE.value, "more", "the idle power is as stated", called="idle power of {}"),
    "output": Kind(0.0, granted="the output is set as stated", cause="output-setting"),
    "sag": Kind(1.5, _OHM, "more", cause="output-sags"),
    "load": Kind(1.5, NAMED_LOAD_SHARE.value, granted="the load takes what is stated", called="load of {}"),
    "test-load": Kind(3.0, float("inf")),
}


def cause_name(kind: str) -> str:
    """What a cause is called that comes of a kind of figure.

    >>> cause_name("supply"), cause_name("idle")
    ('supply-resistance', 'idle')
    """
    return KINDS[kind].cause or kind
