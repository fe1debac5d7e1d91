"""What was not judged, as something to look up: which figure is missing, what it must be for the verdict to hold."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated

from pdcheck.marks import AS_UNIT
from pdcheck.named import NamedTuple
from pdcheck.parts.converter import INPUT_HIGH
from pdcheck.parts.limits import PartLimit, Sense, SettleBy, rounded
from pdcheck.parts.missing import Missing, missing_figures
from pdcheck.parts.rig import Rig
from pdcheck.quantities import format_quantity
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, VERDICTS, Verdict
from pdcheck.verdict.power_bank import sleep_of
from pdcheck.verdict.rules.starting import live_peak_v

SETTLED_BY: dict[SettleBy, str] = {
    "sheet": "look it up on the data sheet",
    "print": "read what is printed on it",
    "meter": "measure it with a meter",
    "look": "look at the part itself",
}
"""How a maker settles each kind of question."""

SLEEPS_BELOW = "sleeps_below"
"""The key of a power bank that says below which current it switches itself off."""
_NEVER_WORSE = 1e-3
"""How close two tries of a figure come before the search ends, as a part of it."""


class NotJudged(NamedTuple):
    """One figure that nobody states and that the verdict depends on.

    ``what`` is the key that is missing in the rig file, ``needs`` the figure [``unit``] that it must have at least or
    at most (``sense``) for the verdict to hold. ``text`` says the same in words.
    """

    subject: str
    what: str
    sense: Sense
    needs: float
    unit: Annotated[str, AS_UNIT]
    settle_by: SettleBy
    text: str


def not_judged(case: Case, verdict: Verdict, judged: Callable[[Case], Verdict]) -> tuple[NotJudged, ...]:
    """Every figure that is not stated and could make a verdict graver at a plausible value.

    ``judged`` gives the verdict on a case that states such a figure.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.source import Source
    >>> box = {"kind": "buck", "input": "6V-30V", "input_limit": "3A", "output": "5V", "efficiency": 0.9, "idle": "0W"}
    >>> wires = {"wire": "20AWG 0.3m", "lead": "20AWG 0.3m"}
    >>> trigger = {"request": "9V", "rating": "5A", "resistance": "0ohm"}
    >>> rig = Rig(trigger=trigger, branch=[{"name": "box", "load": "10W", "converter": box, **wires}])
    >>> case = Case(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C", loop="0.1ohm"))
    >>> [(each.what, each.sense, each.needs, each.unit) for each in not_judged(case, "runs", lambda case: "runs")]
    [('box.converter.output_limit', 'at_least', 2.521, 'A')]
    """
    place = place_of(verdict)
    # Only what is off, or must not be connected at all, has no use for further questions.
    if place == 0 or case.contract.outcome == "off":
        return ()
    found = (*_limits(case, place), *_sleeps(case, place), *_figures(case, place, judged))
    return found or tuple(_together(case, place, judged))


def place_of(verdict: Verdict) -> int:
    """How far down the list of levels a verdict stands."""
    return next(at for at, level in enumerate(LEVELS) if VERDICTS[level] == verdict)


def open_places(case: Case) -> Iterator[int]:
    """For each limit of an unknown figure how far up the list of levels it could lead at worst, if anywhere."""
    yield from (place for _, _, place in _unknown_limits(case) if place is not None)
    if _may_sleep(case) is not None:
        yield LEVELS.index("fail")


def _may_sleep(case: Case) -> float | None:
    """The current [A] down to which a power bank must stay on, where nobody says whether it does; None without such."""
    found = sleep_of(case)
    return None if found is None or found.stated or not found.always else found.lightest_a.min


def _sleeps(case: Case, place: int) -> Iterator[NotJudged]:
    least = _may_sleep(case)
    if least is not None and LEVELS.index("fail") < place:
        text = f"the power bank stays on down to {_shown(least, 'A', 'at_most')}"
        needs = rounded(least, up=False)
        yield NotJudged("source", f"{case.source.id}.{SLEEPS_BELOW}", "at_most", needs, "A", "meter", text)


def _unknown_limits(case: Case) -> Iterator[tuple[PartLimit, float, int | None]]:
    """The limits of unknown figures, each with the value that it must bear and the place that it could lead to."""
    for limit in case.limits:
        if limit.figure is None and limit.key:
            value = case.reached(limit)
            if value is not None:
                value = max(value, _rings_to(case, limit.branch)) if limit.rule is INPUT_HIGH else value
                yield limit, value, _worst_place(limit, value)


def _rings_to(case: Case, branch: str) -> float:
    """How high the input of a converter rings [V] where it is plugged in live; 0 where it is not."""
    found = zip(case.starts, case.branches(), strict=False)
    return next((live_peak_v(case, *each) or 0.0 for each in found if each[0].branch == branch), 0.0)


def _limits(case: Case, place: int) -> Iterator[NotJudged]:
    comfortable = VERDICTS[LEVELS[place]] == "runs"
    for limit, value, worst in _unknown_limits(case):
        if worst is None or worst >= place:
            continue
        needs = limit.needs(value, comfortable=comfortable)
        sense: Sense = "at_least" if limit.sense == "at_most" else "at_most"
        text = limit.rule.if_words.format(needs=_shown(needs, limit.unit, sense), branch=limit.branch)
        yield NotJudged(limit.subject, limit.key, sense, needs, limit.unit, limit.settle_by, text)


def _shown(needs: float, unit: str, sense: Sense) -> str:
    """A figure of three digits, on the safe side of what is needed."""
    return format_quantity(rounded(needs, up=sense == "at_least", digits=3), unit, 3)


def _worst_place(limit: PartLimit, value: float) -> int | None:
    """The place of the level that a limit leads to at the worst figure that the part may have."""
    worst = limit._replace(figure=limit.plausible)
    if limit.plausible is None or worst.broken(value):
        return LEVELS.index(limit.rule.level)
    near = limit.rule.near
    return LEVELS.index(near.level) if near is not None and worst.close(value) else None


def _holds(case: Case, place: int, judged: Callable[[Case], Verdict], each: Missing) -> Callable[[float], bool]:
    return lambda figure: place_of(judged(case.with_rig(each.given(figure)))) >= place


def _figures(case: Case, place: int, judged: Callable[[Case], Verdict]) -> Iterator[NotJudged]:
    for each in missing_figures(case.rig):
        holds = _holds(case, place, judged, each)
        if holds(each.plausible):
            continue
        short = holds if each.shorter is None else _holds(case, place, judged, each._replace(given=each.shorter))
        yield _asked(each, _both(holds, short))


def _both(one: Callable[[float], bool], other: Callable[[float], bool]) -> Callable[[float], bool]:
    return one if one is other else lambda figure: one(figure) and other(figure)


def _together(case: Case, place: int, judged: Callable[[Case], Verdict]) -> Iterator[NotJudged]:
    """What is to be asked for where no figure alone makes it worse, and all together do: one that sets it right, with
    the others at their worst; where none does, the one that is one too many."""
    lasting = tuple(each for each in missing_figures(case.rig) if not each.for_a_moment)
    if len(lasting) < 2 or place_of(judged(case.with_rig(rig_at_worst(case.rig)))) >= place:
        return
    rig = case.rig
    for each in lasting:
        same = _same(each, rig_at_worst(case.rig, skipping=each.key))
        if _holds(case, place, judged, same)(same.counted):
            yield _asked(same, _holds(case, place, judged, same))
            return
    for each in lasting:
        same = _same(each, rig)
        if not _holds(case, place, judged, same)(same.plausible):
            yield _asked(same, _holds(case, place, judged, same))
            return
        rig = same.given(same.plausible)


def _same(each: Missing, rig: Rig) -> Missing:
    return next(other for other in missing_figures(rig) if other.key == each.key)


def _asked(each: Missing, holds: Callable[[float], bool]) -> NotJudged:
    needs = _last_that_holds(each, holds)
    shown = f"AWG {needs:g}" if each.unit == "AWG" else _shown(needs, each.unit, each.sense)
    return NotJudged(
        each.subject, each.key, each.sense, needs, each.unit, each.settle_by, each.words.format(needs=shown)
    )


def _last_that_holds(each: Missing, holds: Callable[[float], bool]) -> float:
    """The figure nearest to the worst plausible one on which the verdict holds, to four digits on the safe side."""
    good, bad = each.counted, each.plausible
    if each.whole:
        return float(max((gauge for gauge in range(round(good), round(bad)) if holds(gauge)), default=good))
    while abs(bad - good) > _NEVER_WORSE * max(abs(bad), abs(good)):
        middle = 0.5 * (good + bad)
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return rounded(good, up=each.sense == "at_least")


def rigs_at_worst(rig: Rig) -> tuple[list[Rig], list[Rig]]:
    """The rig with each of its missing figures, one at a time, at the worst that it may plausibly be: those that last,
    and those that count for a moment."""
    missing = tuple(missing_figures(rig))
    lasting, moments = ([each for each in missing if each.for_a_moment is brief] for brief in (False, True))
    return [each.given(each.plausible) for each in lasting], [each.given(each.plausible) for each in moments]


def rig_at_worst(rig: Rig, skipping: str = "") -> Rig:
    """The rig with all of its missing figures that last, but one, at once at the worst that they may plausibly be."""

    def left() -> Iterator[Missing]:
        return (each for each in missing_figures(rig) if each.key != skipping and not each.for_a_moment)

    while (each := next(left(), None)) is not None:
        rig = each.given(each.plausible)
    return rig


def conditions(found: tuple[NotJudged, ...]) -> str:
    """What must be true for a verdict to hold, in one sentence; empty where nothing is open.

    >>> conditions(())
    ''
    """
    return f"if {_listed([each.text for each in found])}" if found else ""


def _listed(texts: list[str]) -> str:
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])}, and {texts[-1]}"
