"""Finding and Rule: one judgement with its reason, and the list of all that can be judged."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Annotated, Literal

from pdcheck.facts.origin import Origin
from pdcheck.marks import AS_TEXT
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.physics.number import Condition

if TYPE_CHECKING:
    from pdcheck.verdict.case import Case

Verdict = Literal["runs", "limited", "fails", "unsafe"]

LEVELS: tuple[Level, ...] = ("stop", "fail", "warn", "note")
"""From do-not-connect to worth-knowing."""
GRAVE = LEVELS[: LEVELS.index("fail") + 1]
"""The levels that keep a build from doing its job."""

VERDICTS: dict[Level, Verdict] = {"stop": "unsafe", "fail": "fails", "warn": "limited", "note": "runs"}
"""The verdict that a finding of each level leads to; without any it is ``runs``."""
BEST_FIRST = tuple(VERDICTS[level] for level in reversed(LEVELS))

WORKS: tuple[Verdict, ...] = ("runs", "limited")
"""The verdicts of a rig that does its job."""


class Finding(NamedTuple):
    """One judgement: which rule, how grave, about what, by which numbers, from where, in words, and what to do."""

    rule: str
    level: Level
    subject: str
    value: float | None
    limit: float | None
    unit: str
    origin: Annotated[Origin, AS_TEXT]
    text: str
    advice: str


class Find(NamedTuple):
    """Makes findings of the rule at hand; level, origin and advice are the rule's unless given."""

    rule: str
    level: Level
    origin: Origin
    advice: str

    def __call__(
        self,
        subject: str,
        text: str,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
        *,
        level: Level | None = None,
        origin: Origin | None = None,
        advice: str | None = None,
    ) -> Finding:
        """A finding, its value beyond its limit where it has both."""
        return Finding(
            self.rule,
            level or self.level,
            subject,
            value,
            limit,
            unit,
            origin or self.origin,
            text,
            self.advice if advice is None else advice,
        )


Judge = Callable[["Case", Find], Iterable[Finding]]
May = Callable[["Case"], Condition]
"""On which of many cases, told as one whose figures are arrays, there may be a finding; or whether on any of them."""
Scope = Literal["source", "cable", "supply", "circuit"]


class Rule(NamedTuple):
    """A rule: its name, its level, what it asks for, where its limit comes from, what to do when it is broken.

    ``judge`` looks at a case and yields what it finds, at the rule's level or below it. ``scope`` says what it looks
    at, so that many cells can share its answer: ``source`` or ``cable`` for that part alone, ``supply`` for contract,
    voltages and ratings of a rig but nothing that flows, ``circuit`` for all. Where ``may`` says no, it finds nothing:
    of many circuits solved together only those are judged of which it says yes.
    """

    id: str
    level: Level
    title: str
    origin: Origin
    advice: str
    judge: Judge
    scope: Scope = "circuit"
    may: May | None = None

    def findings(self, case: Case) -> Iterator[Finding]:
        """What the rule finds in a case."""
        yield from self.judge(case, self.find)

    @property
    def find(self) -> Find:
        """What makes findings of this rule."""
        return Find(self.id, self.level, self.origin, self.advice)


def rule(
    id: str,
    level: Level,
    title: str,
    origin: Origin | str,
    advice: str,
    *,
    scope: Scope = "circuit",
    may: May | None = None,
) -> Callable[[Judge], Rule]:
    """Turn a judging function into the rule of that name; an origin in words is the user's own.

    >>> from collections.abc import Iterator
    >>> from pdcheck.verdict.case import Case
    >>> from pdcheck.verdict.finding import Find, Finding
    >>> @rule("short-cable", "fail", "A cable of the shed is short", "the shed", "Take a shorter one.")
    ... def short_cable(case: Case, find: Find) -> Iterator[Finding]:
    ...     if (case.cable.length_m or 0) > 1:
    ...         yield find("cable", "is too long", case.cable.length_m, 1.0, "m")
    >>> short_cable.id, str(short_cable.origin)
    ('short-cable', 'the shed [rig]')
    """
    stated = origin if isinstance(origin, Origin) else Origin(origin, "rig")

    def made(judge: Judge) -> Rule:
        return Rule(id, level, title, stated, advice, judge, scope, may)

    return made


def rig_rule(
    level: Level, origin: Origin, advice: str, *, title: str = "", scope: Scope = "circuit", may: May | None = None
) -> Callable[[Judge], Rule]:
    """Turn a function into the rule of its name; its title, unless given, is the first line of its docstring."""

    def made(judge: Judge) -> Rule:
        said = title or headline(judge)
        return rule(judge.__name__.replace("_", "-"), level, said, origin, advice, scope=scope, may=may)(judge)

    return made


def headline(function: Callable[..., object]) -> str:
    """The first line of a function's docstring without its full stop; of its source where Python left docstrings out.

    >>> headline(headline)
    "The first line of a function's docstring without its full stop; of its source where Python left docstrings out"
    """
    said = function.__doc__
    if said is None:
        import ast
        from inspect import getsource

        said = ast.get_docstring(ast.parse(getsource(function)).body[0])  # type: ignore[arg-type]
    return (said or "").partition("\n")[0].rstrip(".")


def verdict_of(findings: Iterable[Finding]) -> Verdict:
    """The verdict that the gravest finding leads to.

    >>> verdict_of([])
    'runs'
    """
    present = {finding.level for finding in findings}
    return next((VERDICTS[level] for level in LEVELS if level in present), "runs")


def by_gravity(findings: Iterable[Finding]) -> list[Finding]:
    """Findings, the gravest first, otherwise in the order they were found."""
    return sorted(findings, key=lambda finding: LEVELS.index(finding.level))
