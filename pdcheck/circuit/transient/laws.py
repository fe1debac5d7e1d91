"""How a load draws: its current behind a resistance, for power, current, resistance and LEDs, with the slope."""

from __future__ import annotations

import math

from pdcheck.named import NamedTuple

NOTHING, POWER, LINEAR, CURRENT = 0, 1, 2, 3
KNEE_V = 0.1
"""Below this a load of constant current draws in proportion, so that it never pulls a node below 0 V."""


class Law(NamedTuple):
    """A kind with its figures: a power [W]; a conductance [S] above a threshold [V]; a current [A]."""

    kind: int
    size: float = 0.0
    threshold_v: float = 0.0


OFF = Law(NOTHING)


def drawn(kind: int, size: float, threshold_v: float, open_v: float, ohm: float) -> tuple[float, float]:
    """Current [A] behind a resistance [ohm] on a voltage [V], and its slope over that voltage [A/V].

    A constant power past maximum power transfer gets what can pass, open_v / (2 R). Sources: Ohm's law, the
    constant-power quadratic [any circuits textbook].

    >>> drawn(POWER, 24.0, 0.0, 10.0, 1.0), drawn(LINEAR, 0.5, 9.0, 12.0, 2.0), drawn(CURRENT, 2.0, 0.0, 12.0, 1.0)
    ((4.0, -2.0), (0.75, 0.25), (2.0, 0.0))
    """
    if kind == POWER:
        inside = open_v * open_v - 4.0 * ohm * size
        if open_v <= 0.0:
            return 0.0, 0.0
        if inside <= 1e-9 * open_v * open_v:
            return open_v / (2.0 * ohm), 0.5 / ohm
        root = math.sqrt(inside)
        current = 2.0 * size / (open_v + root)
        return current, -current / root
    if kind == LINEAR:
        over = open_v - threshold_v
        if over <= 0.0:
            return 0.0, 0.0
        slope = size / (1.0 + ohm * size)
        return slope * over, slope
    if kind == CURRENT:
        if open_v - ohm * size >= KNEE_V:
            return size, 0.0
        slope = 1.0 / (ohm + KNEE_V / size)
        return max(open_v, 0.0) * slope, slope if open_v > 0.0 else 0.0
    return 0.0, 0.0
