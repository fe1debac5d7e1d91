"""Clock: what is due when, in the order of time; the heart of a discrete-event simulation."""

from __future__ import annotations

import heapq
from collections.abc import Callable


class Due:
    """Something that is due at ``time_s``, and can be called off."""

    __slots__ = ("call", "number", "time_s")

    def __init__(self, time_s: float, number: int, call: Callable[[], None] | None) -> None:
        self.time_s = time_s
        self.number = number
        self.call = call

    def __lt__(self, other: Due) -> bool:
        return (self.time_s, self.number) < (other.time_s, other.number)

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
