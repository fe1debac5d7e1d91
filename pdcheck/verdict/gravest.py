"""Gravest: the verdict on a case without a word about it, by the same rules and limits that ``judge`` words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Catalogue, PartLimit
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, VERDICTS, Find, Judge, Rule, Scope, Verdict
from pdcheck.verdict.rules.every import RIG_RULES

Gravest = tuple[int, int]
"""The gravest finding: the index of its level and that of its rule, of several on one level the first."""

_NOTE = LEVELS.index("note")
NOTHING: Gravest = (_NOTE, len(RIG_RULES))
_ABOVE_WARN: Gravest = (LEVELS.index("warn"), -1)
_PLACES: dict[str, Gravest] = {rule.id: (LEVELS.index(rule.level), at) for at, rule in enumerate(RIG_RULES)}
_COLLAPSE = _PLACES["bus-collapse"]
LIMITS = {each.id for each in Catalogue.rules}
"""The names of the rules that are plain limits."""
_SCOPES: tuple[Scope, ...] = get_args(Scope)


def _deciding(scope: Scope) -> list[tuple[Gravest, Judge, Find]]:
    """The rules of a scope that are no plain limits and can decide, the gravest first; notes never do."""
    rules = [rule for rule in RIG_RULES if rule.scope == scope and rule.id not in LIMITS]
    listed = [(_PLACES[rule.id], rule.judge, rule.find) for rule in rules]
    return sorted((each for each in listed if each[0][0] < _NOTE), key=lambda each: each[0])


_BY_SCOPE = {scope: _deciding(scope) for scope in _SCOPES}


class Graded(NamedTuple):
    """A limit, with the finding that it leads to where it is broken, and where it is kept but only just."""

    broken: Gravest
    close: Gravest
    limit: PartLimit


def graded(scope: Scope, limits: Sequence[PartLimit]) -> list[Graded]:
    """Those of some limits that can decide on what is supplied or on what flows, the gravest first."""
    supply, found = scope == "supply", []
    for limit in limits:
        rule, near = limit.rule, limit.rule.near
        broken = _PLACES[rule.id] if rule.supply is supply else NOTHING
        close = _PLACES[near.id] if near is not None and near.supply is supply else NOTHING
        if min(broken, close)[0] < _NOTE:
            found.append(Graded(broken, close, limit))
    return sorted(found, key=lambda each: min(each[:2]))


def gravest(
    scope: Scope,
    case: Case,
    limits: Sequence[Graded] | None = None,
    *,
    bar: Gravest = NOTHING,
    level_alone: bool = False,
) -> Gravest:
    """The gravest finding of the rules of a scope; ``NOTHING`` where they find no more than notes.

    ``limits`` are those of the case, graded, where somebody has graded them before. What is not graver than ``bar`` is
    not looked for. With ``level_alone`` it is one of the gravest, whichever is found first.
    """
    best = NOTHING
    if level_alone and scope == "circuit" and case.collapses and bar > _COLLAPSE:
        # As grave as all that it leads to, and dear to explain.
        best, bar = _COLLAPSE, (_COLLAPSE[0], -1)
    if limits is None:
        limits = graded(scope, case.known_limits) if scope in ("supply", "circuit") else ()
    for broken, close, limit in limits:
        if broken >= bar and close >= bar:
            continue
        value = case.reached(limit)
        if value is None:
            continue
        found = NOTHING
        if broken < bar and limit.broken(value):
            found = broken
        elif close < bar and limit.close(value):
            found = close
        if found < best:
            best = found
            bar = (found[0], -1) if level_alone else found
    for most, judge, find in _BY_SCOPE[scope]:
        if most >= bar:
            break
        for finding in judge(case, find):
            told = (LEVELS.index(finding.level), most[1])
            # A rule may find less than the gravest that it can.
            if told < bar:
                best, bar = told, ((told[0], -1) if level_alone else told)
    return best if best[0] < _NOTE else NOTHING


def fails(case: Case, limits: Sequence[Graded]) -> bool:
    """Whether anything that flows keeps a case from doing the job; ``limits`` are those on it, graded."""
    return gravest("circuit", case, limits, bar=_ABOVE_WARN, level_alone=True) < _ABOVE_WARN


def does_its_job(case: Case) -> bool:
    """Whether nothing keeps a case from doing the job, as ``verdict_on`` says it; warnings are not looked for.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> charger = Source("5V 3A, 9V 3A")
    >>> rigs = [Rig(trigger="9V", branch=[{"name": "fan", "load": amperes}]) for amperes in ("2.9A", "3.1A")]
    >>> cases = [Case(rig, charger, Cable("C-C 3A")) for rig in rigs]
    >>> [(does_its_job(case), verdict_on(case)) for case in cases]
    [(True, 'limited'), (False, 'fails')]
    """
    return all(gravest(scope, case, bar=_ABOVE_WARN, level_alone=True) == NOTHING for scope in _SCOPES)


def verdict_on(case: Case, rules: Sequence[Rule] = ()) -> Verdict:
    """The verdict on one case, by ``rules`` of one's own as well.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> verdict_on(Case(rig, Source("5V 3A, 9V 3A"), Cable("C-C 3A")))
    'runs'
    """
    best = NOTHING
    for scope in _SCOPES:
        best = min(best, gravest(scope, case, level_alone=True))
        if best[0] == 0:
            break
    own = (LEVELS.index(finding.level) for rule in rules for finding in rule.findings(case))
    return VERDICTS[LEVELS[min((best[0], *own))]]
