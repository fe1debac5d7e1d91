"""What stands before the hex in a log line: a time stamp, a direction, an SOP mark; the step of such time stamps."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.intake.names import SOP_MARK, UNITS_S, any_of, sop_of
from pdcheck.named import NamedTuple


class Prefix(NamedTuple):
    """What a line begins with; ``rest`` is where the hex starts, ``given`` whether anything stood before it."""

    time_s: float | None
    sop: str
    rest: int
    given: bool
    reset: bool


# Patterns are compiled when a line first needs them: most hex has nothing before it, and compiling takes longer than
# reading one message.
_PLAIN = "0123456789abcdefABCDEFxX \t"
_UNIT = any_of(UNITS_S)

_CLOCK = (
    r"[\[(]?\s*(?:\d{4}-\d\d-\d\d[T ])?"
    r"(?:(?P<h>[01]?\d|2[0-3]):(?P<m>[0-5]\d):(?P<s>[0-5]\d(?:[.,]\d+)?)|(?P<mm>[0-5]?\d):(?P<ss>[0-5]\d\.\d+))"
    r"(?:Z|[+-]\d\d:?\d\d)?"
    r"\s*[\])]?(?:[\s,;]|:\s|$)\s*"
)
_SECONDS = (
    rf"[\[(]?\s*(?:t\s*=\s*)?[+@]?(?:(?P<dotted>\d+\.\d+(?:[eE][+-]?\d+)?|\.\d+|\d+,\d{{3,}}(?=\s*[\s;s]))\s*(?P<unit>{_UNIT})?"
    rf"|(?P<whole>\d+)\s*(?P<must>{_UNIT}))\s*[\])]?(?:[\s,;:]+|$)"
)
_DIRECTION = r"(?i)(?:(?:rx|tx|recv|sent|in|out|src|snk|source|sink|cable)\b\s*[:>]*|->|<-|=>|→|←|>|<)\s*"
_SOP = rf"(?i)[\[(]?\s*(?P<sop>{SOP_MARK})\s*[\])]?\s*(?:[:,;|]\s*|\s+|$)"
_RESET = r"(?i)[\[(]?\s*(?P<which>hard|cable)[ _-]?reset\s*[\])]?[\s,;|]*$"
_STEP = (
    r"\s*[\[(]?\s*(?:\d{4}-\d\d-\d\d[T ])?(?:t\s*=\s*)?[+]?(?P<whole>(?:\d+:)*\d*)(?:[.,](?P<part>\d+))?"
    rf"(?:[eE](?P<power>[+-]?\d{{1,2}}))?\s*(?P<unit>{_UNIT})?(?=[\s\]):,;]|Z|[+-]\d\d:?\d\d)"
)


def strip_prefix(line: str) -> Prefix:
    """Read what stands before the hex.

    >>> strip_prefix("[ 12.5ms] TX SOP'': a1 61")
    Prefix(time_s=0.0125, sop="SOP''", rest=20, given=True, reset=False)
    >>> strip_prefix("a1 61")
    Prefix(time_s=None, sop='SOP', rest=0, given=False, reset=False)
    """
    at = len(line) - len(line.lstrip())
    start = at
    if not line.strip(_PLAIN):
        return Prefix(None, "SOP", at, False, False)
    time_s: float | None = None
    sop = "SOP"
    clock = re.compile(_CLOCK).match(line, at)
    seconds = None if clock else re.compile(_SECONDS).match(line, at)
    if clock:
        seconds_text = clock["s"] or clock["ss"]
        minutes = int(clock["h"] or 0) * 60 + int(clock["m"] or clock["mm"])
        time_s = minutes * 60 + float(seconds_text.replace(",", "."))
        at = clock.end()
    elif seconds:
        unit = seconds["unit"] or seconds["must"] or "s"
        # Divided rather than multiplied, so that 12.5 ms is 0.0125 s to the last digit.
        time_s = float((seconds["dotted"] or seconds["whole"]).replace(",", ".")) / round(1 / UNITS_S[unit])
        at = seconds.end()
    # As in: Source -> Sink: SOP.
    for _ in range(4):
        if re.compile(_RESET).match(line, at):
            break
        direction = re.compile(_DIRECTION).match(line, at)
        if direction:
            at = direction.end()
        mark = re.compile(_SOP).match(line, at)
        if mark:
            sop = str(sop_of(mark["sop"]))
            at = mark.end()
        if not (direction or mark):
            break
    reset = re.compile(_RESET).match(line, at)
    if reset:
        return Prefix(time_s, f"{reset['which'].capitalize()}_Reset", len(line), True, True)
    return Prefix(time_s, sop, at, at > start, False)


def finest_step(rows: Iterable[str], finest: float | None = None) -> float | None:
    """The finest step that the time stamps of a log are written to [s]; ``None`` where no row has one.

    The finest, because a logger that drops trailing zeros writes most of them shorter. ``finest`` is that of the rows
    before these.

    >>> finest_step(["0.5 SOP a161", "0.5013 SOP 4101"]), finest_step(["[12.5ms] a161"]), finest_step(["a1 61 2c"])
    (0.0001, 0.0001, None)
    """
    stamp = re.compile(_STEP)
    for row in rows:
        found = stamp.match(row)
        if found is None or not (found["part"] or found["unit"] or ":" in found["whole"]):
            continue
        if not (found["whole"] or found["part"]):
            continue
        digits = len(found["part"] or "") - int(found["power"] or 0)
        step = UNITS_S[found["unit"] or "s"] * 10.0**-digits
        finest = step if finest is None else min(finest, step)
    return None if finest is None else float(f"{finest:.3g}")
