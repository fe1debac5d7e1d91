"""Pace: how long each timer of the standard takes in a modelled conversation; typical, or drawn from a seed."""

from __future__ import annotations

import random

from pdcheck.facts.origin import Range
from pdcheck.facts.timing import timer

# How far into a limit that has one side only a modelled side goes: half of a greatest value, a tenth above a least one.
_SHARE_OF_GREATEST = 0.5
_OVER_LEAST = 1.1
_DRAWN_SHARES = (0.3, 0.9)
_DRAWN_OVER = (1.02, 1.5)


class Pace:
    """The time that each timer takes: the middle of its range, or with a ``seed`` anywhere that the standard allows.

    A timer with a greatest value only is taken at half of it, one with a least value only at a tenth above.

    >>> pace = Pace()
    >>> pace.of("tSenderResponse"), pace.of("tReceiverResponse"), round(pace.of("tSinkRequest"), 6)
    (0.03, 0.0075, 0.11)
    """

    def __init__(self, seed: int | None = None) -> None:
        self._random = None if seed is None else random.Random(seed)

    def of(self, name: str, *, epr: bool = False) -> float:
        """Seconds that timer ``name`` takes this time; in EPR mode that of its EPR variant, where there is one."""
        row = timer(name, epr=epr)
        return self._middle(row) if self._random is None else self._drawn(row, self._random)

    def _middle(self, row: Range) -> float:
        if row.min is not None and row.max is not None:
            return round((row.min + row.max) / 2, 9)
        if row.max is not None:
            return row.max * _SHARE_OF_GREATEST
        return row.require_min() * _OVER_LEAST

    def _drawn(self, row: Range, random: random.Random) -> float:
        if row.min is not None and row.max is not None:
            return random.uniform(row.min, row.max)
        if row.max is not None:
            return row.max * random.uniform(*_DRAWN_SHARES)
        return row.require_min() * random.uniform(*_DRAWN_OVER)


def longest(*names: str, epr: bool = False) -> float:
    """The sum of the greatest values of some timers [s]: what one side has to wait for the other.

    >>> longest("tPSHardReset", "tSafe0V")
    0.685
    """
    return sum(timer(name, epr=epr).require_max() for name in names)
