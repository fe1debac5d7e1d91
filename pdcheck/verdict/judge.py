"""Judgement: a rig on a source and cable, or on every pair of a kit, with verdict, findings and nodes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import NamedTuple

from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable, read_cable_description
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import Finding, by_gravity, verdict_of
from pdcheck.verdict.rules.every import RIG_RULES

UNKNOWN_CABLE = read_cable_description("C-C", "unknown")

MOST_PAIRS = 5000
"""Judged one by one within seconds; a matrix judges more of them together."""

FEWER_BY_ID = "--source ID or --cable ID, or a look at all of them with 'pdcheck matrix'"
FEWER_IN_KIT = "a smaller kit, or a look at all of them with 'pdcheck matrix'"
"""A cable of which nothing is known: taken as a plain one, and said so in every result."""


class Judgement(NamedTuple):
    """A case with its verdict and its findings, the gravest first."""

    case: Case
    verdict: str
    findings: tuple[Finding, ...]

    @property
    def works(self) -> bool:
        """Whether it does the job: exit code 0."""
        return self.verdict in ("runs", "limited")


def judge(rig: Rig, source: Source, cable: Cable) -> Judgement:
    """Judge one rig on one source and cable.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A")
    >>> rig = Rig(trigger={"request": "9V", "rating": "5A"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> judge(rig, charger, Cable(id="c", kind="C-C", loop="100mOhm")).verdict
    'runs'
    """
    return judge_case(Case(rig, source, cable))


def judge_case(case: Case) -> Judgement:
    """Judge a case that stands."""
    found = by_gravity(finding for rule in RIG_RULES for finding in rule.findings(case))
    return Judgement(case, verdict_of(found), tuple(found))


def pairs_of(kit: Kit, source_id: str | None = None, cable_id: str | None = None) -> Iterator[tuple[Source, Cable]]:
    """The pairs to judge: all of a kit, or those of one source or one cable.

    A source with a cable fixed to it goes with that alone. A kit without cables gets one of which nothing is known.

    Raises ``InputError`` for an id that is not in the kit, and for a kit without sources.
    """
    sources = kit.sources if source_id is None else (kit.source(source_id),)
    if not sources:
        raise InputError("the kit holds no source", expected="a [[source]] with its offers")
    cables = (kit.cables or (UNKNOWN_CABLE,)) if cable_id is None else (_cable(kit, cable_id),)
    for source in sources:
        if source.cable is not None:
            if cable_id is None or cable_id == source.cable.id:
                yield source, source.cable
            elif source_id is not None:
                raise InputError(
                    f"source {source_id!r} has its cable fixed to it", expected=f"no --cable, or {source.cable.id!r}"
                )
        else:
            for cable in cables:
                yield source, cable


def few_pairs(
    kit: Kit, source_id: str | None, cable_id: str | None, most: int, *, expected: str = FEWER_BY_ID
) -> list[tuple[Source, Cable]]:
    """As ``pairs_of``, where each pair takes its time: ``InputError`` for more than ``most`` of them."""
    pairs = list(islice(pairs_of(kit, source_id, cable_id), most + 1))
    if len(pairs) > most:
        raise InputError(f"more than {most} pairs of source and cable", expected=expected)
    return pairs


def _cable(kit: Kit, cable_id: str) -> Cable:
    for source in kit.sources:
        if source.cable is not None and source.cable.id == cable_id:
            return source.cable
    return kit.cable(cable_id)
