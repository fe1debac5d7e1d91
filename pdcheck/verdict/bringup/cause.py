"""What a figure that readings imply points to: a cable or a contact, a converter, a load, and what to do."""

from __future__ import annotations

import math
from typing import Annotated, NamedTuple

from pdcheck.facts.measuring import (
    NAMED_CURRENT,
    NAMED_EFFICIENCY,
    NAMED_IDLE,
    NAMED_LOAD_SHARE,
    NAMED_RESISTANCE,
)
from pdcheck.parts.limits import Level
from pdcheck.quantities import Triple, format_quantity
from pdcheck.result import UNTOLD, Named
from pdcheck.verdict.bringup.implied import Implied
from pdcheck.verdict.case import Case


class Cause(NamedTuple):
    """What a pattern of readings points to.

    ``level`` is ``stop``, ``fail``, ``warn``, or ``note`` for a difference too small to matter. ``kind``: ``polarity``,
    ``short``, ``trigger-fallback``, ``trigger-setting``, ``bus-voltage``, ``supply-resistance``, ``wire-resistance``,
    ``lead-resistance``, ``efficiency``, ``idle``, ``load``, ``bus-draw``, ``output-setting``, ``output-sags``,
    ``source-sags``, ``verdict``, ``unexplained``.
    """

    kind: Annotated[str, Named("cause")]
    level: Level
    subject: str
    text: str
    advice: str
    implied: Annotated[Implied | None, UNTOLD] = None


def cause_of(figure: Implied, case: Case) -> Cause | None:
    """What an implied figure points to; None where it is what was stated, or better."""
    match figure.kind:
        case "supply" | "wire" | "lead" if figure.above:
            return _resistance(figure, case)
        case "efficiency" if figure.below:
            gap = figure.stated.min - figure.value.typ
            text = f"its efficiency is {interval(figure)}; the calculation used {_stated(figure)}{_on(figure)}"
            advice = "It warms up more and draws more: check its input current, let it cool, or take a better one."
            return Cause("efficiency", _level(gap, NAMED_EFFICIENCY.value), figure.subject, text, advice, figure)
        case "idle" if figure.above:
            gap = figure.value.typ - figure.stated.max
            text = f"it draws {interval(figure)} with nothing at its output; the calculation used {_stated(figure)}"
            advice = "Is something left on its output, a display or a lamp? Else write the figure back."
            return Cause("idle", _level(gap, NAMED_IDLE.value), figure.subject, text, advice, figure)
        case "load" if figure.below if figure.unit == "ohm" else figure.above:
            ends = figure.stated
            gap = abs(figure.value.typ - (ends.min if figure.unit == "ohm" else ends.max)) / ends.typ
            text = f"the load is {interval(figure)}; the calculation used {_stated(figure)}"
            advice = "Put the load that it really is into the rig file and check again."
            return Cause("load", _level(gap, NAMED_LOAD_SHARE.value), figure.subject, text, advice, figure)
        case "bus-draw" if figure.above:
            gap = figure.value.typ - figure.stated.max
            text = f"{interval(figure)} flows that does not belong to any branch"
            advice = "Something else hangs on the bus, the trigger draws it, or a wire leaks: find it."
            return Cause("bus-draw", _level(gap, NAMED_CURRENT.value), figure.subject, text, advice, figure)
    return None


def _level(gap: float, named: float) -> Level:
    return "warn" if gap >= named else "note"


def _resistance(figure: Implied, case: Case) -> Cause:
    more = Triple(
        figure.value.min - figure.stated.max, figure.value.typ - figure.stated.typ, figure.value.max - figure.stated.min
    )
    names = {
        "supply": "cable, its plugs and the trigger together are",
        "wire": "the wire with its contacts is",
        "lead": "the lead with its contacts is",
    }
    text = f"{names[figure.kind]} {interval(figure)}; the calculation used {_stated(figure)}"
    if figure.stated.max > 0:
        text += f": {format_quantity(more.typ, 'ohm', 3)} more{_on(figure)}"
    else:
        text += f"{_on(figure)}"
    if figure.kind == "supply":
        advice = (
            f"Swap {case.cable.id} for another cable and measure again: if it goes, it was the cable, else a plug or "
            "the trigger. The warm one is the bad one."
        )
    elif figure.stated.max == 0:
        advice = f"The rig file names no {figure.kind} here: put it in."
    else:
        advice = "A contact: press, clean or solder it again and measure once more; the warm one is the bad one."
    gap = figure.value.typ - figure.stated.max
    level = _level(gap, NAMED_RESISTANCE.value)
    return Cause(f"{figure.kind}-resistance", level, figure.subject, text, advice, figure)


def _on(figure: Implied) -> str:
    """What the figure rests on beyond the readings."""
    parts = []
    if figure.assumed:
        parts.append(f"if {figure.assumed}")
    if not figure.agree:
        parts.append("the steps do not agree within their digits: it changes with load or warmth")
    return f" ({'; '.join(parts)})" if parts else ""


def interval(figure: Implied) -> str:
    """The figure with the uncertainty of the readings' digits.

    >>> stated = Triple.exact(0.265)
    >>> interval(Implied("supply", "bus", Triple(0.377, 0.382, 0.388), "ohm", stated, ()))
    '382 ± 6 mΩ'
    """
    factor, unit = _scale(figure)
    low, typical, high = (each * factor for each in figure.value)
    half = max(high - typical, typical - low)
    places = _places(half)
    shown = math.ceil(half * 10**places - 1e-6) / 10**places
    return f"{typical:.{max(places, 0)}f} ± {shown:.{max(places, 0)}f} {unit}"


def _places(half: float) -> int:
    """Decimals that show an uncertainty with one digit, two where it starts with 1."""
    if half <= 0:
        return 3
    exponent = math.floor(math.log10(half))
    return -exponent + (1 if half / 10.0**exponent < 2 else 0)


def _scale(figure: Implied) -> tuple[float, str]:
    if figure.unit == "ohm":
        return (1.0, "Ω") if figure.value.typ >= 2 else (1000.0, "mΩ")
    if figure.unit == "%":
        return 100.0, "%"
    return 1.0, figure.unit


def _stated(figure: Implied) -> str:
    stated = figure.stated
    if stated.max == 0 and figure.unit == "ohm":
        return "none"
    if stated.max - stated.min < 1e-12 * max(1.0, stated.max):
        return format_quantity(stated.typ, figure.unit, 3)
    low, high = format_quantity(stated.min, figure.unit, 3), format_quantity(stated.max, figure.unit, 3)
    return f"{low} to {high}"
