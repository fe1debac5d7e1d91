"""Options that say how a captured waveform is to be read, and the bar that shows how far the reading has come."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TypedDict

from pdcheck.errors import InputError

_RATE = r"(?i)(\d+(?:[.,]\d*)?(?:[eE][+-]?\d{1,2})?)\s*([kKMG]?)\s*(?:hz|s/s|sa/s|sps)?"
_PREFIX = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}
# A job that is over sooner needs no bar.
_BAR_AFTER_S = 1.0
_BAR_EVERY_S = 0.1


class WaveformOptions(TypedDict):
    """What ``read_input`` takes for a waveform."""

    channel: str | None
    sample_rate_hz: float | None
    threshold_v: float | None


def waveform_options(channel: str | None, rate: str | None, threshold: str | None) -> WaveformOptions:
    """The options as typed, in Hz and V. Raises ``InputError`` for what is no rate or no voltage.

    >>> waveform_options("CC1", "10MHz", None)
    {'channel': 'CC1', 'sample_rate_hz': 10000000.0, 'threshold_v': None}
    """
    volts: float | None = None
    if threshold is not None:
        from pdcheck.quantities import parse_quantity

        volts = parse_quantity(threshold, "V", signed=True)
    return {
        "channel": channel,
        "sample_rate_hz": None if rate is None else sample_rate(rate),
        "threshold_v": volts,
    }


def sample_rate(text: str) -> float:
    """A sample rate in Hz.

    >>> sample_rate("2e6"), sample_rate("12.5 MHz"), sample_rate("500 kS/s")
    (2000000.0, 12500000.0, 500000.0)
    """
    found = re.fullmatch(_RATE, text.strip())
    if found is None:
        raise InputError(f"{text[:40]!r} is no sample rate", where="--rate", expected="a rate such as 10MHz or 2e6")
    return float(found[1].replace(",", ".")) * _PREFIX[found[2].lower()]


@contextmanager
def progress_bar() -> Iterator[Callable[[int, int], None] | None]:
    """A callback for bytes done and in all that draws a bar on standard error; ``None`` where that is no terminal.

    The bar comes when the reading has taken a while, and is wiped out at the end.
    """
    if not sys.stderr.isatty():
        yield None
        return
    drawn = ""
    due = monotonic() + _BAR_AFTER_S

    def advance(done: int, total: int) -> None:
        nonlocal drawn, due
        now = monotonic()
        if now < due:
            return
        due = now + _BAR_EVERY_S
        share = min(1.0, done / total) if total else 0.0
        told = f"{done / 1e6:.0f} MB"
        drawn = f"reading [{'#' * round(30 * share):30}] {share:4.0%}, {told}" if total else f"reading: {told}"
        sys.stderr.write("\r" + drawn)
        sys.stderr.flush()

    try:
        yield advance
    finally:
        if drawn:
            sys.stderr.write("\r" + " " * len(drawn) + "\r")
            sys.stderr.flush()
