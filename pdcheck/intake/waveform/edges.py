"""Waveform: the edges of one channel; and the collectors that gather them chunk by chunk in bounded memory."""

from __future__ import annotations

import mmap
from typing import IO

import numpy as np
from numpy.typing import NDArray

from pdcheck.bits.line import BIT_RATE_MAX, BIT_RATE_MIN
from pdcheck.errors import InputError
from pdcheck.intake.long_list import putting_away
from pdcheck.intake.waveform.text import CaptureText
from pdcheck.named import NamedTuple

Floats = NDArray[np.float64]
Levels = NDArray[np.uint8]

LOW, HIGH, UNKNOWN = 0, 1, 2
"""Level codes while reading; an unknown level (x, z, an empty cell) holds the one before it."""

SHORTEST_S = 0.5 / BIT_RATE_MAX.value * 0.6
LONGEST_S = 1 / BIT_RATE_MIN.value * 1.25
"""Between these, with room for jitter and coarse sampling, lie the intervals between edges of a packet."""

ACTIVE_RUN = 32
"""So many such intervals in a row make a channel one that toggles at PD rates."""

EDGE_BUDGET = 20_000_000
"""Edges kept in memory while several channels are still in the running."""


Span = tuple[float, float]
"""The lowest and the highest voltage of a channel [V]; infinities the wrong way round where it has none."""
NO_SPAN: Span = (np.inf, -np.inf)
_HYSTERESIS_OF_SWING = 0.125


class Uncrossed(InputError):  # noqa: N818
    """A channel that never crosses its threshold."""


class Threshold(NamedTuple):
    """What parts low from high: the middle [V], and the hysteresis to either side of it [V]."""

    middle_v: float
    hysteresis_v: float

    def crossed(self, name: str, span: Span) -> Uncrossed | None:
        """What is said of a channel without an edge that runs over a span; ``None`` where it has no voltages."""
        low_v, high_v = span
        if not low_v <= high_v:
            return None
        if low_v == high_v:
            what = f"{name!r} stays at {low_v:.4g} V: there is no packet in it"
            return Uncrossed(what, expected="a channel that toggles, and the capture of a conversation")
        ends = f"{self.middle_v:.4g} V"
        if low_v <= self.middle_v <= high_v:
            ends = f"{self.middle_v - self.hysteresis_v:.4g} to {self.middle_v + self.hysteresis_v:.4g} V"
        middle_v = of_swing(span).middle_v
        return Uncrossed(
            f"{name!r} runs from {low_v:.4g} to {high_v:.4g} V, not across {ends}",
            expected=f"a threshold between the two: --threshold {middle_v:g}V",
        )

    def fits(self, span: Span) -> bool:
        """Whether it lies well inside a span."""
        low_v, high_v = span
        return low_v + 0.2 * (high_v - low_v) <= self.middle_v <= high_v - 0.2 * (high_v - low_v)


def of_swing(span: Span) -> Threshold:
    """The threshold in the middle of a span.

    >>> of_swing((0.0, 3.3))
    Threshold(middle_v=1.65, hysteresis_v=0.4125)
    """
    return Threshold(float(f"{(span[0] + span[1]) / 2:.3g}"), (span[1] - span[0]) * _HYSTERESIS_OF_SWING)


class Waveform(NamedTuple):
    """One digital channel: ``times`` of its edges in seconds, ascending; ``initial`` the level before the first.

    ``start_s`` and ``end_s`` bound the capture; ``channels`` are the names of all channels that could have been chosen.
    ``span`` are its ends [V] where it has voltages, ``torn`` what is wrong with rows that could not be read.

    >>> Waveform("CC", np.array([1e-6, 3e-6]), 0, 0.0, 5e-6).channels
    ()
    """

    name: str
    times: Floats
    initial: int
    start_s: float
    end_s: float
    channels: tuple[str, ...] = ()
    span: Span = NO_SPAN
    torn: tuple[InputError, ...] = ()


class Times:
    """Times of edges as they are read; where there are very many, they lie on the disk."""

    def __init__(self) -> None:
        self._pieces: list[Floats] = []
        self._held = 0
        self._file: IO[bytes] | None = None

    def add(self, times: Floats) -> None:
        """Some more."""
        self._pieces.append(times)
        self._held += len(times)
        if self._held > _IN_MEMORY:
            with putting_away():
                if self._file is None:
                    from tempfile import TemporaryFile

                    self._file = TemporaryFile("w+b")  # noqa: SIM115 - as long as the times
                self._put_away(self._file)

    def _put_away(self, file: IO[bytes]) -> None:
        for piece in self._pieces:
            file.write(np.ascontiguousarray(piece, dtype=np.float64).data)
        self._pieces.clear()
        self._held = 0

    def all(self) -> Floats:
        """All of them: an array in memory, or one that is read from the disk where it is looked at."""
        if self._file is None:
            return np.concatenate(self._pieces) if self._pieces else np.empty(0)
        with putting_away():
            self._put_away(self._file)
            self._file.flush()
        return np.memmap(self._file, dtype=np.float64, mode="r")


_IN_MEMORY = 1 << 19
"""So many edges of a channel are kept in memory."""


def forget(times: Floats) -> None:
    """Give back the memory that looking at times on the disk took, where the system knows how."""
    mapped = times.base
    unwanted = getattr(mmap, "MADV_DONTNEED", None)
    if isinstance(times, np.memmap) and isinstance(mapped, mmap.mmap) and unwanted is not None:
        mapped.madvise(unwanted)


class Budget:
    """How many edges may still be kept; shared by the channels of one reading."""

    def __init__(self, edges: int = EDGE_BUDGET) -> None:
        self.left = edges


class EdgeCollector:
    """Edges of one channel as they are read; without a budget it keeps all, else it counts only once that is spent."""

    def __init__(self, name: str, budget: Budget | None = None) -> None:
        self.name = name
        self.keeps = True
        self._budget = budget
        self._times = Times()
        self._last_time = -np.inf
        self._run = 0
        self.active = False
        self.count = 0
        self.repeats = 0
        self.initial: int | None = None
        self.level = UNKNOWN

    def changes(self, levels: Levels) -> NDArray[np.intp]:
        """Where a piece of successive level codes differs from the known level before, edges only."""
        known = np.flatnonzero(levels != UNKNOWN) if (levels == UNKNOWN).any() else None
        seen = levels if known is None else levels[known]
        if not len(seen):
            return np.empty(0, dtype=np.intp)
        if self.initial is None:
            self.initial = self.level = int(seen[0])
        where = np.flatnonzero(seen[1:] != seen[:-1]) + 1
        if int(seen[0]) != self.level:
            where = np.concatenate([[0], where])
        self.level = int(seen[-1])
        return where if known is None else known[where]

    def add(self, times: Floats) -> int | None:
        """Take the times of further edges; the index of the first that lies before its predecessor, or None."""
        if not len(times):
            return None
        step = np.diff(times, prepend=self._last_time)
        if not (step >= 0).all():
            return int(np.flatnonzero(~(step >= 0))[0])
        self._last_time = float(times[-1])
        self.count += len(times)
        self.repeats += len(times) - int(np.count_nonzero(step))
        if not self.active:
            self._watch(step)
        if self._budget is not None:
            self._budget.left -= len(times)
            if self._budget.left < 0:
                self.keeps = False
                self._times = Times()
        if self.keeps:
            self._times.add(times)
        return None

    def _watch(self, step: Floats) -> None:
        breaks = np.flatnonzero(~((step > SHORTEST_S) & (step < LONGEST_S)))
        if not len(breaks):
            self._run += len(step)
            self.active = self._run >= ACTIVE_RUN
            return
        longest = int(np.diff(breaks).max()) - 1 if len(breaks) > 1 else 0
        self.active = max(longest, self._run + int(breaks[0])) >= ACTIVE_RUN
        self._run = len(step) - 1 - int(breaks[-1])
        self.active = self.active or self._run >= ACTIVE_RUN

    def waveform(self, start_s: float, end_s: float, channels: tuple[str, ...]) -> Waveform:
        """What was kept, as a Waveform."""
        return Waveform(self.name, self._times.all(), self.initial or 0, start_s, end_s, channels)


class Reader:
    """A capture while it is read: its text, what parts low from high in it, how long it lasts, what is torn."""

    def __init__(self, text: CaptureText, threshold: Threshold) -> None:
        self._text, self._threshold = text, threshold
        self._swings: dict[str, Threshold] = {}
        self.spans: dict[str, Span] = {}
        self.torn: dict[int, InputError] = {}
        self.start_s = self.end_s = 0.0

    def threshold_of(self, name: str) -> Threshold:
        """The threshold of a channel."""
        return self._swings.get(name, self._threshold)

    def codes_of(self, name: str, volts: Floats) -> Levels:
        """The level codes of further voltages of a channel, whose span they widen."""
        threshold = self.threshold_of(name)
        codes = np.full(len(volts), UNKNOWN, dtype=np.uint8)
        codes[volts >= threshold.middle_v + threshold.hysteresis_v] = HIGH
        codes[volts <= threshold.middle_v - threshold.hysteresis_v] = LOW
        finite = np.isfinite(volts)
        real = volts if finite.all() else volts[finite]
        if len(real):
            low, high = self.spans[name]
            self.spans[name] = (min(low, float(real.min())), max(high, float(real.max())))
        return codes

    def by_swing(self) -> bool:
        """Part low from high in the middle of each channel's own swing from now on; whether that changes anything."""
        wider = {name: span for name, span in self.spans.items() if span[0] < span[1]}
        self._swings = {name: of_swing(span) for name, span in wider.items() if not self._threshold.fits(span)}
        return bool(self._swings)


def no_such_channel(wanted: str, channels: tuple[str, ...]) -> InputError:
    """The error for a channel name that the capture does not have."""
    return InputError(f"no channel {wanted!r}", expected=f"one of {listed(channels)}")


def listed(channels: tuple[str, ...], most: int = 24) -> str:
    """Channel names for an error line."""
    shown = ", ".join(channels[:most])
    return shown + (f" and {len(channels) - most} more" if len(channels) > most else "")
