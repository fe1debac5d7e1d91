"""The bar that shows how far a long job has come."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic

# A job that is over sooner needs no bar.
_BAR_AFTER_S = 1.0
_BAR_EVERY_S = 0.1


@contextmanager
def progress_bar(unit: str = "MB") -> Iterator[Callable[[int, int], None] | None]:
    """A callback for bytes (or things, by ``unit``) done and in all that draws a bar on standard error.

    ``None`` where that is no terminal. The bar comes when the job has taken a while, and is wiped out at the end.
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
        told = f"{done / (1e6 if unit == 'MB' else 1):.0f} {unit}"
        drawn = f"[{'#' * round(30 * share):30}] {share:4.0%}, {told}" if total else told
        sys.stderr.write("\r" + drawn)
        sys.stderr.flush()

    try:
        yield advance
    finally:
        if drawn:
            sys.stderr.write("\r" + " " * len(drawn) + "\r")
            sys.stderr.flush()
