"""Units of time by the names that loggers, scopes and waveforms write."""

from __future__ import annotations

from collections.abc import Iterable

_NAMES = {
    1.0: "s sec secs second seconds",
    1e-3: "ms msec millis milliseconds",
    1e-6: "us µs μs usec micros microseconds",
    1e-9: "ns nsec nanoseconds",
}
UNITS_S = {name: unit_s for unit_s, names in _NAMES.items() for name in names.split()}
"""Units of a log's times [s]."""
SPELT = {unit_s: names.split()[-1] for unit_s, names in _NAMES.items()}
"""What a unit [s] is called in a sentence."""
SAMPLED_S = UNITS_S | {"ps": 1e-12, "fs": 1e-15, "\ufffds": 1e-6}
"""Units of samples [s]; the last is what is left of a micro sign that was read in another alphabet."""


def any_of(units: Iterable[str]) -> str:
    """A pattern for any of some units, the longest first.

    >>> any_of(["s", "ms"])
    'ms|s'
    """
    return "|".join(sorted(units, key=len, reverse=True))
