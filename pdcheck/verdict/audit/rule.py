"""AuditRule and Remark: a rule on captured conversations, and what it finds with the message it found it at."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Coroutine, Generator, Iterator, Sequence
from inspect import iscoroutinefunction
from typing import Annotated, cast

from pdcheck.bits.message import Message
from pdcheck.contract.following.follow import airtime_s
from pdcheck.contract.following.state import Log, Step
from pdcheck.facts.origin import Origin, Range
from pdcheck.facts.timing import timer
from pdcheck.intake.long_list import BLOCK
from pdcheck.marks import AMONG, Named
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.verdict.finding import Find, Finding, headline

_GOOD_CRC_BYTES = 2


class Remark(NamedTuple):
    """A finding, with the index and time [s] of the message that it is about."""

    finding: Annotated[Finding, AMONG]
    number: Annotated[int | None, Named("index")]
    time_s: float | None


class AuditRule(NamedTuple):
    """A rule: its name, its level, what is wrong where it is broken, where its limit comes from, what to do then.

    ``covers`` are rules that what breaks this one breaks at the same message as well: they are not told of then, so
    that one fault is one finding. ``*`` is every other rule. ``limit`` is the time that a rule on one time goes by.
    """

    id: str
    level: Level
    title: str
    origin: Origin
    advice: str
    judge: Judge
    covers: tuple[str, ...] = ()
    limit: Range | None = None


class Tell(NamedTuple):
    """What a rule tells by: each call is a remark at a message; level and origin are the rule's unless given."""

    rule: AuditRule
    found: list[Remark]

    def __call__(
        self,
        step: Step,
        subject: str,
        text: str,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
        *,
        level: Level | None = None,
        origin: Origin | None = None,
    ) -> None:
        """A remark at a message."""
        rule = self.rule
        finding = Find(rule.id, rule.level, rule.origin, rule.advice)(
            subject, text, value, limit, unit, level=level, origin=origin
        )
        self.found.append(Remark(finding, step.number, step.time_s))

    @property
    def limit(self) -> Range:
        """The time that the rule goes by."""
        assert self.rule.limit is not None
        return self.rule.limit

    def late(
        self,
        step: Step,
        subject: str,
        text: str,
        elapsed: float | None,
        limit: Range | None = None,
        *,
        level: Level | None = None,
    ) -> bool:
        """A remark where a time [s] is surely beyond the limit's greatest; ``{}`` in the text is that time."""
        limit = limit or self.limit
        if elapsed is None or not later_than(limit, elapsed):
            return False
        text, most = text.format(duration_text(elapsed)), limit.require_max()
        self(step, subject, text, elapsed, most, "s", origin=limit.origin, level=level)
        return True

    def early(self, step: Step, subject: str, text: str, elapsed: float | None, limit: Range | None = None) -> bool:
        """A remark where a time [s] is surely below the limit's least; ``{}`` in the text is that time."""
        limit = limit or self.limit
        if elapsed is None or not sooner_than(limit, elapsed):
            return False
        text, least = text.format(duration_text(elapsed)), limit.require_min()
        self(step, subject, text, elapsed, least, "s", origin=limit.origin)
        return True


Judge = Callable[[Log, Tell], Coroutine[None, None, None]]
StepJudge = Callable[[Log, Step, Tell], None]


class _Turn:
    """What a rule waits for at the end of each stretch of a log, so that all rules read the same stretch together."""

    def __await__(self) -> Generator[None, None, None]:
        yield


async def in_turn(log: Log) -> AsyncIterator[Step]:
    """The steps of a conversation; a stretch of them is read by one rule after the other before the next one is."""
    for step in log.steps:
        if not step.number % STRETCH:
            await _Turn()
        yield step


STRETCH = 2 * BLOCK
"""So many steps are judged by one rule before the next rule judges them."""


def found_in(log: Log, rules: Sequence[AuditRule]) -> Iterator[list[Remark]]:
    """What rules find in a conversation, stretch by stretch; the last list holds what only its end has shown."""
    found: list[Remark] = []
    judging = [rule.judge(log, Tell(rule, found)) for rule in rules]
    while judging:
        judging = [each for each in judging if _goes_on(each)]
        yield found
        found.clear()


def _goes_on(judging: Coroutine[None, None, None]) -> bool:
    """Whether there is more to judge after the next stretch, which is judged now."""
    try:
        judging.send(None)
    except StopIteration:
        return False
    return True


def audit_rule(
    origin: Origin | Range, advice: str, *, level: Level = "fail", title: str = "", covers: tuple[str, ...] = ()
) -> Callable[[Judge | StepJudge], AuditRule]:
    """Turn a function into the rule of its name; its title, unless given, is the first line of the docstring.

    The function judges each step by itself or, where it has to remember, is a coroutine that goes through all of them.
    A rule on one time has its limit in place of an origin.
    """

    def made(judge: Judge | StepJudge) -> AuditRule:
        said = title or headline(judge)
        each = judge if iscoroutinefunction(judge) else _each_step(cast(StepJudge, judge))
        limit = origin if isinstance(origin, Range) else None
        stated = origin if isinstance(origin, Origin) else origin.origin
        return AuditRule(judge.__name__.replace("_", "-"), level, said, stated, advice, each, covers, limit)

    return made


def _each_step(judge: StepJudge) -> Judge:
    async def judge_all(log: Log, tell: Tell) -> None:
        async for step in in_turn(log):
            judge(log, step, tell)

    return judge_all


def at_least_s(log: Log, since_s: float | None, message: Message, until_s: float | None) -> float | None:
    """The least time [s] that can lie between the end of a message with its GoodCRC and a later one.

    Stamps may be of starts or of ends: the longest that message and GoodCRC may take goes off, and the step of the
    stamps. ``None`` where a time is not known, or they run backwards.
    """
    if since_s is None or until_s is None or log.resolution_s is None or until_s < since_s:
        return None
    good_crc = message._replace(raw=bytes(_GOOD_CRC_BYTES), sop="SOP")
    slack = airtime_s(message) + timer("tTransmit").require_max() + airtime_s(good_crc) + log.resolution_s
    return round(max(0.0, until_s - since_s - slack), 7)


def at_most_s(log: Log, since_s: float | None, until_s: float | None) -> float | None:
    """The most time [s] that can lie between two messages; ``None`` where a time is not known."""
    if since_s is None or until_s is None or log.resolution_s is None or until_s < since_s:
        return None
    return round(until_s - since_s + log.resolution_s, 7)


def later_than(limit: Range, elapsed_s: float | None) -> bool:
    """Whether a time [s] is surely beyond a limit's greatest value."""
    return elapsed_s is not None and elapsed_s > limit.require_max()


def sooner_than(limit: Range, elapsed_s: float | None) -> bool:
    """Whether a time [s] is surely below a limit's least value."""
    return elapsed_s is not None and elapsed_s < limit.require_min()


def duration_text(seconds: float) -> str:
    """A time for people, with digits enough to tell it from a limit.

    >>> duration_text(0.0213), duration_text(12.5), duration_text(0.000212)
    ('21.3 ms', '12.5 s', '212 µs')
    """
    if seconds < 1e-3:
        return f"{seconds * 1e6:.4g} µs"
    return f"{seconds * 1e3:.4g} ms" if seconds < 1 else f"{seconds:.4g} s"
