"""Times of evenly sampled rows by counting them, where they are printed with too few digits to tell two rows apart."""

from __future__ import annotations

import numpy as np

from pdcheck.intake.waveform.numbers import Floats

LOOK = 2000
_FEWEST = 64
_ROUNDED = 0.05
"""Steps that differ by so much of their mean are rounded."""


def look_rounded(stamps: Floats) -> bool:
    """Whether some first times of a table look as if their last digits were cut off: steps differ, or are none.

    >>> stamps = np.linspace(0.0, 40e-6, 101)
    >>> look_rounded(np.round(stamps, 6)), look_rounded(stamps)
    (True, False)
    """
    steps = np.diff(stamps)
    if len(steps) < _FEWEST or (steps < 0).any():
        return False
    mean = float(steps.mean())
    return mean > 0 and bool(np.abs(steps - mean).max() > _ROUNDED * mean)


def counted_times(stamps: Floats) -> Floats | None:
    """Times [s] on the straight line through all stamps; ``None`` where one is further off it than rounding goes.

    >>> times = counted_times(np.round(np.linspace(0.0, 40e-6, 101), 6))
    >>> None if times is None else round(float(times[9] - times[8]) * 1e6, 2)
    0.4
    """
    count = len(stamps)
    if count < _FEWEST:
        return None
    place = np.arange(count) - (count - 1) / 2
    middle = float(stamps.mean())
    step = float((place * (stamps - middle)).sum() / (place * place).sum())
    steps = np.diff(stamps)
    printed = float(steps[steps > 0].min()) if (steps > 0).any() else 0.0
    times: Floats = np.asarray(middle + step * place, dtype=np.float64)
    return times if step > 0 and float(np.abs(stamps - times).max()) <= max(printed, step) else None
