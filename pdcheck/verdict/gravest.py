"""Gravest: the verdict on a case without a word about it, by the same rules and limits that ``judge`` words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.parts.limits import Catalogue, PartLimit
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import LEVELS, VERDICTS, Rule, Scope, Verdict
from pdcheck.verdict.rules.every import RIG_RULES

Gravest = tuple[int, int]
"""The gravest finding: the index of its level and that of its rule, of several on one level the first."""

_NOTE = LEVELS.index("note")
NOTHING: Gravest = (_NOTE, len(RIG_RULES))
_PLACES: dict[str, Gravest] = {rule.id: (LEVELS.index(rule.level), at) for at, rule in enumerate(RIG_RULES)}
_LIMITS = {each.id for each in Catalogue.rules}
_SCOPES: tuple[Scope, ...] = ("source", "cable", "supply", "circuit")


def _deciding(scope: Scope) -> list[tuple[Gravest, Rule]]:
    """The rules of a scope that are no plain limits and can decide, the gravest first; notes never do."""
    listed = [(_PLACES[rule.id], rule) for rule in RIG_RULES if rule.scope == scope and rule.id not in _LIMITS]
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


def gravest(scope: Scope, case: Case, limits: Sequence[Graded] | None = None) -> Gravest:
    """The gravest finding of the rules of a scope; ``NOTHING`` where they find no more than notes.

    ``limits`` are those of the case, graded, where somebody has graded them before.
    """
    best = NOTHING
    if limits is None:
        limits = graded(scope, case.known_limits) if scope in ("supply", "circuit") else ()
    for broken, close, limit in limits:
        if broken >= best and close >= best:
            break
        value = case.reached(limit)
        if value is not None and broken < best and limit.broken(value):
            best = broken
        elif value is not None and close < best and limit.close(value):
            best = close
    for most, rule in _BY_SCOPE[scope]:
        if most >= best:
            break
        for finding in rule.findings(case):
            best = min(best, (LEVELS.index(finding.level), most[1]))
    return best if best[0] < _NOTE else NOTHING


def verdict_on(case: Case) -> Verdict:
    """The verdict on one case.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> verdict_on(Case(rig, Source("5V 3A, 9V 3A"), Cable("C-C 3A")))
    'runs'
    """
    best = NOTHING
    for scope in _SCOPES:
        best = min(best, gravest(scope, case))
        if best[0] == 0:
            break
    return VERDICTS[LEVELS[best[0]]]
