"""All rules on a rig: those of the limits that parts have, and those of this folder, found by looking."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from importlib import import_module
from pkgutil import iter_modules

from pdcheck.parts.limits import ABOUT, Catalogue, LimitRule
from pdcheck.verdict import rules
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Find, Finding, Judge, Rule


def _broken(of: LimitRule, case: Case, find: Find) -> Iterator[Finding]:
    """Every limit that breaks a rule, or comes near to it, with the worst value that it reaches."""
    for limit in case.limits_by_rule.get(of.id, ()):
        value = case.reached(limit)
        if value is None or limit.limit is None:
            continue
        volts = case.contract.voltage_v
        if limit.rule is not of:
            if limit.close(value):
                yield find(limit.subject, limit.told(value, volts, of.words), value, limit.near, limit.unit)
        elif limit.broken(value):
            words = of.off_words if limit.branch in case.off and limit.stops else of.words
            shown, bound = case.derated(limit, value) if limit.quantity == "derated" else (value, limit.limit)
            told = limit._replace(figure=bound).told(shown, volts, words) if bound != limit.limit else None
            yield find(limit.subject, told or limit.told(value, volts, words), shown, bound, limit.unit)


def _of_limit(of: LimitRule) -> Rule:
    judge: Judge = partial(_broken, of)
    return Rule(of.id, of.level, of.title, of.origin, of.advice, judge, "supply" if of.supply else "circuit")


def _found() -> Iterator[tuple[int, Rule]]:
    """Each rule with its place among what rules are about; within one, those of this folder come first."""
    for module in iter_modules(rules.__path__):
        if module.name == __name__.rpartition(".")[2]:
            continue
        place = ABOUT.index(module.name) if module.name in ABOUT else len(ABOUT)
        for value in vars(import_module(f"{rules.__name__}.{module.name}")).values():
            if isinstance(value, Rule):
                yield place, value
    for limit in Catalogue.rules:
        yield ABOUT.index(limit.about), _of_limit(limit)


RIG_RULES: tuple[Rule, ...] = tuple(rule for _, rule in sorted(_found(), key=lambda each: each[0]))
"""Every rule, causes before what follows from them."""
