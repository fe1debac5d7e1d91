"""The step of the time stamps in a log: how sure a time between two lines can be."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.intake.time_units import UNITS_S, any_of

_STAMP = re.compile(
    r"\s*[\[(]?\s*(?:\d{4}-\d\d-\d\d[T ])?(?:t\s*=\s*)?[+]?(?P<whole>(?:\d+:)*\d*)(?:[.,](?P<part>\d+))?"
    rf"(?:[eE](?P<power>[+-]?\d{{1,2}}))?\s*(?P<unit>{any_of(UNITS_S)})?(?=[\s\]):,;]|Z|[+-]\d\d:?\d\d)"
)


def finest_step(rows: Iterable[str], finest: float | None = None) -> float | None:
    """The finest step that the time stamps of a log are written to [s]; ``None`` where no row has one.

    The finest, because a logger that drops trailing zeros writes most of them shorter. ``finest`` is that of the rows
    before these.

    >>> finest_step(["0.5 SOP a161", "0.5013 SOP 4101"]), finest_step(["[12.5ms] a161"]), finest_step(["a1 61 2c"])
    (0.0001, 0.0001, None)
    """
    for row in rows:
        found = _STAMP.match(row)
        if found is None or not (found["part"] or found["unit"] or ":" in found["whole"]):
            continue
        if not (found["whole"] or found["part"]):
            continue
        digits = len(found["part"] or "") - int(found["power"] or 0)
        step = UNITS_S[found["unit"] or "s"] * 10.0**-digits
        finest = step if finest is None else min(finest, step)
    return None if finest is None else float(f"{finest:.3g}")
