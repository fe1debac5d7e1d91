"""The bar that shows how far the reading of a capture has come."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from pdcheck.intake.waveform.options import WaveformOptions, waveform_options

__all__ = ["WaveformOptions", "progress_bar", "waveform_options"]

_BAR_FROM_BYTES = 4_000_000


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
