"""Samples of every node, thinned so that straight lines between those that stay hold."""

from __future__ import annotations

from pdcheck.circuit.transient.result import Samples


class Recorder:
    """Keeps a sample where a straight line from the one kept before would miss a sample between by too much.

    ``give_v`` [V] is how much is too much. One pass with a cone of admissible slopes for each node (swinging door).

    >>> recorder = Recorder(["bus"], 0.01)
    >>> for step in range(11): recorder.add(step / 10, [max(step - 5, 0) * 1.0])
    >>> recorder.samples().time_s, recorder.samples().nodes["bus"]
    ((0.0, 0.5, 1.0), (0.0, 0.0, 5.0))
    """

    def __init__(self, names: list[str], give_v: float) -> None:
        self._names, self._give = names, give_v
        self._times: list[float] = []
        self._rows: list[list[float]] = []
        self._last: tuple[float, list[float]] | None = None
        self._low: list[float] = []
        self._high: list[float] = []
        self.gaps: list[tuple[float, float, float]] = []

    def add(self, time_s: float, volts: list[float]) -> None:
        """One sample of each node, later than the one before; at the same time again, it is a jump and both stay."""
        if not self._times:
            self._keep(time_s, volts)
            return
        last = self._last
        if last is not None and time_s <= last[0]:
            self._last = (last[0], volts)
            return
        if not self._inside(time_s, volts):
            assert last is not None
            self._keep(*last)
            self._inside(time_s, volts)
        self._last = (time_s, volts)

    def gap(self, from_s: float, to_s: float, period_s: float) -> None:
        """A stretch that is not sampled, as a cycle goes on in it unchanged."""
        if self._last is not None:
            self._keep(*self._last)
        self.gaps.append((from_s, to_s, period_s))

    def _keep(self, time_s: float, volts: list[float]) -> None:
        self._times.append(time_s)
        self._rows.append(volts)
        self._last = None
        self._low = [float("-inf")] * len(volts)
        self._high = [float("inf")] * len(volts)

    def _inside(self, time_s: float, volts: list[float]) -> bool:
        """Whether the sample lies in every cone; the cones are then narrowed to it."""
        span = time_s - self._times[-1]
        if span <= 0.0:
            return True
        kept, give = self._rows[-1], self._give
        lows, highs = [], []
        for now, before, low, high in zip(volts, kept, self._low, self._high, strict=True):
            slope = (now - before) / span
            if not low <= slope <= high:
                return False
            lows.append(max(low, slope - give / span))
            highs.append(min(high, slope + give / span))
        self._low, self._high = lows, highs
        return True

    def samples(self) -> Samples:
        """What was kept, with the last sample of all."""
        times, rows = list(self._times), list(self._rows)
        if self._last is not None:
            times.append(self._last[0])
            rows.append(self._last[1])
        columns = zip(*rows, strict=True) if rows else [()] * len(self._names)
        return Samples(tuple(times), dict(zip(self._names, map(tuple, columns), strict=True)), tuple(self.gaps))
