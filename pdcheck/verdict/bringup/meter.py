"""The meter that a sheet was read with: how true it is, what its ammeter drops, and what its last digit is worth."""

from __future__ import annotations

import math
import re
from itertools import pairwise

from pdcheck.errors import InputError
from pdcheck.facts.trade import METER_COARSE, METER_FINE
from pdcheck.named import NamedTuple
from pdcheck.quantities import parse_quantity, quoted
from pdcheck.verdict.bringup.sheet import Filled


class Meter(NamedTuple):
    """How far off it reads volts and amperes at most (a part of the reading), and its ammeter's resistance [ohm].

    The last digit comes on top, and each reading brings its own. ``burden_ohm`` is None where nobody knows it, 0 where
    the ammeter was out of the line while voltages were read.
    """

    volts: float
    amperes: float
    burden_ohm: float | None = None

    def share_of(self, unit: str) -> float:
        """How far off it reads that unit; an ohmmeter's readings have their own range."""
        return {"V": self.volts, "A": self.amperes}.get(unit, 0.0)


METER_KEYS = ("accuracy", "burden")
_OUT = ("out", "none", "no")


def meter_of(filled: Filled) -> Meter:
    """The meter of a sheet as its head says it; what it does not say is taken from the digits that were read.

    ``accuracy`` is a share (``0.5%``); ``burden`` a resistance, or ``out`` where the ammeter was not in the line while
    voltages were read. Raises ``InputError`` for what is neither.

    >>> meter_of(Filled({"accuracy": "2%", "burden": "out"}, {}))
    Meter(volts=0.02, amperes=0.02, burden_ohm=0.0)
    """
    digits = max((digits_of(each.value, each.half) for each in filled.readings.values()), default=3)
    share = (METER_FINE if digits >= 4 else METER_COARSE).value
    told = filled.head.get("accuracy", "").strip()
    if told:
        share = parse_quantity(told, "%")
        if not 0 < share <= 0.1:
            raise InputError(f"{quoted(told)} is not how true a meter reads", expected="a share such as 0.5%")
    burden = filled.head.get("burden", "").strip()
    ohms = None if not burden else 0.0 if burden.lower() in _OUT else parse_quantity(burden, "ohm")
    return Meter(share, share, ohms)


def digits_of(value: float, half: float) -> int:
    """How many digits a reading was taken with.

    >>> digits_of(14.52, 0.005), digits_of(0.38, 0.005), digits_of(0.0, 0.005)
    (4, 2, 0)
    """
    if half <= 0 or value == 0 or not math.isfinite(value):
        return 0
    return math.floor(math.log10(abs(value) / (2 * half)) + 1e-9) + 1


def slips_of(shown: str) -> list[str]:
    """A reading with two neighbouring digits in each other's place.

    >>> slips_of("14.52")
    ['41.52', '15.42', '14.25']
    """
    at = [found.start() for found in re.finditer(r"[0-9]", shown)]
    made = []
    for one, other in pairwise(at):
        if shown[one] != shown[other]:
            listed = list(shown)
            listed[one], listed[other] = listed[other], listed[one]
            made.append("".join(listed))
    return made
