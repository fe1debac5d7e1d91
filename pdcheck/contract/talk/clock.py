"""Clock: what is due when, in the order of time, for a discrete-event simulation; and how long each timer takes."""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable
from dataclasses import dataclass, field

from pdcheck.facts.timing import timer

# How far into a limit that has one side only a modelled side goes: half of a greatest value, a tenth above a least one.
_SHARE_OF_GREATEST = 0.5
_OVER_LEAST = 1.1
_DRAWN_SHARES = (0.3, 0.9)
_DRAWN_OVER = (1.02, 1.5)


@dataclass(order=True, slots=True)
class Due:
    """Something that is due at ``time_s``, and can be called off."""

    time_s: float
    number: int
    call: Callable[[], None] | None = field(compare=False)

    def cancel(self) -> None:
        """Call it off; once more does nothing."""
        self.call = None


class Clock:
    """The time of a simulation [s], and what is still to come.

    >>> clock, heard = Clock(), []
    >>> due = [clock.after(seconds, lambda: heard.append(clock.now_s)) for seconds in (2.0, 1.0)]
    >>> due[1].cancel()
    >>> clock.run(5.0)
    >>> heard, clock.now_s
    ([2.0], 5.0)
    """

    def __init__(self) -> None:
        self.now_s = 0.0
        self._queue: list[Due] = []
        self._count = 0

    def after(self, seconds: float, call: Callable[[], None]) -> Due:
        """Call ``call`` that many seconds from now; what is due at the same time comes in the order of asking."""
        self._count += 1
        due = Due(self.now_s + seconds, self._count, call)
        heapq.heappush(self._queue, due)
        return due

    def run(self, until_s: float) -> None:
        """Let the time go on to ``until_s``."""
        while self._queue and self._queue[0].time_s <= until_s:
            due = heapq.heappop(self._queue)
            if due.call is not None:
                self.now_s = due.time_s
                due.call()
        self.now_s = until_s


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
        row, drawn = timer(name, epr=epr), self._random
        if row.min is not None and row.max is not None:
            return round((row.min + row.max) / 2, 9) if drawn is None else drawn.uniform(row.min, row.max)
        if row.max is not None:
            return row.max * (_SHARE_OF_GREATEST if drawn is None else drawn.uniform(*_DRAWN_SHARES))
        return row.require_min() * (_OVER_LEAST if drawn is None else drawn.uniform(*_DRAWN_OVER))


def longest(*names: str) -> float:
    """The sum of the greatest values of some timers [s]: what one side has to wait for the other.

    >>> longest("tPSHardReset", "tSafe0V")
    0.685
    """
    return sum(timer(name).require_max() for name in names)
