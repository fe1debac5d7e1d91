"""Options that say how a captured waveform is to be read, and the bar that shows how far the reading has come."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypedDict

from pdcheck.errors import InputError

_RATE = re.compile(r"(\d+(?:[.,]\d*)?(?:[eE][+-]?\d{1,2})?)\s*([kKMG]?)\s*(?:hz|s/s|sa/s|sps)?", re.IGNORECASE)
_PREFIX = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}
_BAR_FROM_BYTES = 4_000_000


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
    found = _RATE.fullmatch(text.strip())
    if found is None:
        raise InputError(f"{text[:40]!r} is no sample rate", where="--rate", expected="a rate such as 10MHz or 2e6")
    return float(found[1].replace(",", ".")) * _PREFIX[found[2].lower()]


@contextmanager
def progress_bar() -> Iterator[Callable[[int, int], None] | None]:
    """A callback for bytes done and in all that draws a bar on standard error; ``None`` where that is no terminal.

    The bar comes with large files only, and is wiped out at the end.
    """
    if not sys.stderr.isatty():
        yield None
        return
    drawn = ""

    def advance(done: int, total: int) -> None:
        nonlocal drawn
        if total < _BAR_FROM_BYTES:
            return
        share = min(1.0, done / total)
        bar = f"reading [{'#' * round(30 * share):30}] {share:4.0%}"
        if bar != drawn:
            drawn = bar
            sys.stderr.write("\r" + bar)
            sys.stderr.flush()

    try:
        yield advance
    finally:
        if drawn:
            sys.stderr.write("\r" + " " * len(drawn) + "\r")
            sys.stderr.flush()
