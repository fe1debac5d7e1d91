"""RulesResult: every rule, on rigs and on conversations, with its level and where its limit comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.marks import AS_TEXT, Named
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.result import Result
from pdcheck.verdict.audit.auditing import AUDIT_RULES
from pdcheck.verdict.audit.rule import AuditRule
from pdcheck.verdict.finding import Rule
from pdcheck.verdict.rules.every import RIG_RULES

Judges = Literal["rig", "conversation"]


class ListedRule(NamedTuple):
    """A rule: its name, what it judges, its level, what it asks for, its origin, what to do when it is broken."""

    id: Annotated[str, Named("rule")]
    judges: Judges
    level: Level
    title: str
    origin: Annotated[Origin, AS_TEXT]
    advice: str


@dataclass(frozen=True, repr=False)
class RulesResult(Result):
    """Every rule in the order in which they judge, or one."""

    SCHEMA: ClassVar[str] = "rules/1"
    TITLE: ClassVar[str] = "Every rule"
    ROWS: ClassVar[tuple[str, ...]] = ("rules",)

    rules: tuple[ListedRule, ...]

    def answer(self) -> str:
        """How many, or which."""
        return f"{len(self.rules)} rules" if len(self.rules) > 1 else ", ".join(each.id for each in self.rules)


def _listed(judges: Judges, rules: Iterable[Rule | AuditRule]) -> tuple[ListedRule, ...]:
    return tuple(ListedRule(each.id, judges, each.level, each.title, each.origin, each.advice) for each in rules)


def rules(name: str | None = None) -> RulesResult:
    """Every rule, or the one of that name.

    Raises ``InputError`` with the nearest names for one that does not exist.

    >>> rules("cable-current").rules[0].level
    'fail'
    """
    every = (*_listed("rig", RIG_RULES), *_listed("conversation", AUDIT_RULES))
    if name is None:
        return RulesResult(every)
    found = tuple(each for each in every if each.id == name)
    if not found:
        from difflib import get_close_matches

        near = get_close_matches(name, [each.id for each in every], n=3, cutoff=0.4)
        expected = " or ".join(near) if near else "a name that 'pdcheck rules' lists"
        raise InputError(f"no rule {name!r}", expected=expected)
    return RulesResult(found)
