"""What was not judged, as something to look up: which figure is missing, what it must be for the verdict to hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from pdcheck.parts.limits import PartLimit, SettleBy
from pdcheck.quantities import format_quantity
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, VERDICTS

SETTLED_BY: dict[SettleBy, str] = {
    "sheet": "look it up on its data sheet",
    "print": "read what is printed on it",
    "meter": "measure it with a meter",
    "look": "look at the part",
}
"""How a maker settles each kind of question."""


class NotJudged(NamedTuple):
    """One figure that nobody states and that the verdict depends on.

    ``what`` is the key that is missing in the rig file, ``needs`` the figure [``unit``] that it must have at least or
    at most (``sense``) for the verdict to hold. ``text`` says the same in words.
    """

    subject: str
    what: str
    sense: Literal["at_most", "at_least"]
    needs: float
    unit: str
    settle_by: SettleBy
    text: str


def not_judged(case: Case, verdict: str) -> tuple[NotJudged, ...]:
    """Every figure that is not stated and could change a verdict at a plausible value.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> box = {"kind": "buck", "input": "6V-30V", "input_limit": "3A", "output": "5V", "efficiency": 0.9}
    >>> rig = Rig(trigger={"request": "9V", "rating": "5A"}, branch=[{"name": "box", "load": "10W", "converter": box}])
    >>> case = Case(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C", loop="0.1ohm"))
    >>> [(each.what, each.sense, each.needs, each.unit, each.text) for each in not_judged(case, "runs")]
    [('box.converter.output_limit', 'at_least', 2.5, 'A', "box's converter may give 2.5 A")]
    """
    return tuple(_unknown_limits(case, _place(verdict)))


def _place(verdict: str) -> int:
    """How far down the list of levels a verdict stands."""
    return next(at for at, level in enumerate(LEVELS) if VERDICTS[level] == verdict)


def _unknown_limits(case: Case, place: int) -> Iterator[NotJudged]:
    for limit in case.limits:
        if limit.figure is not None or not limit.key:
            continue
        value = case.reached(limit)
        if value is not None and _worsens(limit, value, place):
            comfortable = VERDICTS[LEVELS[place]] == "runs"
            yield _told(limit, limit.needs(value, comfortable=comfortable))


def _worsens(limit: PartLimit, value: float, place: int) -> bool:
    """Whether a limit, at the worst figure that the part may have, would lead to a graver verdict."""
    worst = limit._replace(figure=limit.plausible)
    if limit.plausible is None or worst.broken(value):
        return LEVELS.index(limit.rule.level) < place
    near = limit.rule.near
    return near is not None and worst.close(value) and LEVELS.index(near.level) < place


def _told(limit: PartLimit, needs: float) -> NotJudged:
    sense: Literal["at_most", "at_least"] = "at_least" if limit.sense == "at_most" else "at_most"
    text = limit.rule.if_words.format(needs=format_quantity(needs, limit.unit, 4), branch=limit.branch)
    return NotJudged(limit.subject, limit.key, sense, needs, limit.unit, limit.settle_by, text)
