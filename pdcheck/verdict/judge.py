"""Judgement: a rig on a source and cable, or on every pair of a kit, with verdict, findings and nodes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain, islice
from typing import Annotated, Any, ClassVar

from pdcheck.circuit.point import is_warm
from pdcheck.contract.settle import Contract
from pdcheck.errors import InputError
from pdcheck.marks import IF_KNOWN, UNTOLD, listed, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple
from pdcheck.result import Result
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import VERDICTS, WORKS, Finding, Rule, Verdict, by_gravity, verdict_of
from pdcheck.verdict.gravest import LIMITS, verdict_on
from pdcheck.verdict.heat import BoxAir, Temperature, box_air, temperatures
from pdcheck.verdict.not_judged import NotJudged, not_judged
from pdcheck.verdict.power_bank import hours_of
from pdcheck.verdict.rules.every import RIG_RULES

UNKNOWN_CABLE = Cable("C-C", id="unknown")
"""A cable of which nothing is known: taken as a plain one, and said so in every result."""

MOST_PAIRS = 5000
"""Judged one by one within seconds; a matrix judges more of them together."""

MOST_IN_DETAIL = 500
"""Worked out in full, as fuses or outputs, within seconds."""

FEWER_BY_ID = "--source ID or --cable ID, or a look at all of them with 'pdcheck matrix'"
FEWER_IN_KIT = "a smaller kit, or a look at all of them with 'pdcheck matrix'"


class Node(NamedTuple):
    """A node of the circuit: its voltage [V] and the current [A] through it towards the loads, over all corners."""

    node: str
    voltage_v: Triple
    current_a: Triple


class Loss(NamedTuple):
    """What a part turns into heat [W], over all corners."""

    part: str
    loss_w: Triple


@dataclass(frozen=True, repr=False)
class Judgement(Result):
    """A case judged: verdict, contract, every node of the circuit, what is lost, the findings, the gravest first."""

    SHOWN: ClassVar[str] = "check"

    source: str
    cable: str
    verdict: Verdict
    contract: Contract
    nodes: tuple[Node, ...]
    losses: tuple[Loss, ...]
    findings: tuple[Finding, ...]
    case: Annotated[Case, UNTOLD] = field(compare=False)
    rules: Annotated[tuple[Rule, ...], UNTOLD] = field(default=(), compare=False)

    @property
    def works(self) -> bool:
        """Whether it does the job: exit code 0."""
        return self.verdict in WORKS

    @property
    def decided(self) -> Finding | None:
        """The finding that decides the verdict; None where nothing speaks against it."""
        return next((each for each in self.findings[:1] if each.level != "note"), None)

    @told
    def not_judged(self) -> tuple[NotJudged, ...]:
        """Every figure that nobody states and that the verdict depends on."""
        return self._open

    @cached_property
    def _open(self) -> tuple[NotJudged, ...]:
        return not_judged(self.case, self.verdict, lambda case: verdict_on(case, self.rules))

    @told
    def hours(self) -> Annotated[Triple | None, IF_KNOWN]:
        """How long a power bank lasts [h]; None for a source that does not say what it holds."""
        return hours_of(self.case)

    @told
    def temperatures(self) -> tuple[Temperature, ...]:
        """How warm each part gets once it has warmed up."""
        return temperatures(self.case)

    @told
    def box(self) -> BoxAir | None:
        """The air in the box; None where the rig states none."""
        return box_air(self.case)

    @listed
    def rule(self) -> str | None:
        """The rule of the finding that decides."""
        return None if self.decided is None else self.decided.rule

    def answer(self) -> str:
        """Source, cable and verdict."""
        return f"{self.source} with {self.cable}: {self.verdict}"

    def to_dict(self) -> dict[str, Any]:
        """The document of ``check`` on this pair alone."""
        return Checked(self.case.rig.title, (self,)).to_dict()


@dataclass(frozen=True, repr=False)
class Checked(Result):
    """A rig judged on some pairs of source and cable."""

    SCHEMA: ClassVar[str] = "check/3"
    TITLE: ClassVar[str] = "A rig judged"
    ROWS: ClassVar[tuple[str, ...]] = ("results",)
    ALONE: ClassVar[str | None] = "results"

    rig: str
    results: tuple[Judgement, ...]

    @property
    def works(self) -> bool:
        """Whether it does the job on every pair."""
        return all(each.works for each in self.results)

    def answer(self) -> str:
        """How many pairs there are of each verdict, or the one that there is."""
        if len(self.results) == 1:
            return self.results[0].answer()
        counted = Counter(each.verdict for each in self.results)
        return ", ".join(f"{verdict} on {counted[verdict]}" for verdict in VERDICTS.values() if counted[verdict])


def judge(rig: Rig, source: Source, cable: Cable, rules: Sequence[Rule] = ()) -> Judgement:
    """Judge one rig on one source and cable, by all rules and by ``rules`` of one's own, made by ``@rule``.

    >>> charger = Source(id="s", offers="5V 3A, 9V 3A")
    >>> rig = Rig(trigger={"request": "9V", "rating": "5A"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> judge(rig, charger, Cable(id="c", kind="C-C", loop="100mOhm")).verdict
    'runs'
    """
    return judge_case(Case(rig, source, cable), rules)


def judge_pairs(rig: Rig, pairs: Iterable[tuple[Source, Cable]], rules: Sequence[Rule] = ()) -> tuple[Judgement, ...]:
    """Judge one rig on each of some pairs, as ``judge`` does; a circuit that pairs share is solved once.

    >>> rig, cable = Rig(trigger="9V", branch=[{"name": "fan", "load": "1A"}]), Cable("C-C 3A")
    >>> [each.verdict for each in judge_pairs(rig, [(Source("5V 3A, 9V 3A"), cable), (Source("9V 0.5A"), cable)])]
    ['runs', 'fails']
    """
    cases = [Case(rig, *pair) for pair in pairs]
    known: dict[Hashable, Case] = {}
    for case in cases:
        contract = case.contract
        flows = contract.outcome == "off", contract.voltage_v, contract.holds_a, case.source_v
        first = known.setdefault((*flows, case.cable.current_a, case.cable.resistance), case)
        case.rig_limits = cases[0].rig_limits
        if first is not case and contract.outcome != "off":
            case.spec, case.worst, case.point = first.spec, first.worst, first.point
    alone: dict[Hashable, tuple[Finding, ...]] = {}
    return tuple(judge_case(case, rules, alone) for case in cases)


def judge_case(
    case: Case, rules: Sequence[Rule] = (), alone: dict[Hashable, tuple[Finding, ...]] | None = None
) -> Judgement:
    """Judge a case that stands; what was found on a source or a cable alone is kept in ``alone``."""
    alone = {} if alone is None else alone
    told = [*(_findings(rule, case, alone) for rule in RIG_RULES), *(rule.findings(case) for rule in rules)]
    found = by_gravity(chain.from_iterable(told))
    point = case.point
    return Judgement(
        case.source.id,
        case.cable.id,
        verdict_of(found),
        case.contract,
        () if point is None else tuple(Node(name, *node) for name, node in point.nodes.items() if not is_warm(name)),
        () if point is None else tuple(Loss(part, loss_w) for part, loss_w in point.losses.items()),
        tuple(found),
        case,
        tuple(rules),
    )


def _findings(rule: Rule, case: Case, alone: dict[Hashable, tuple[Finding, ...]]) -> Iterable[Finding]:
    if rule.id in LIMITS:
        # A rule of limits has nothing to say where no part has one.
        return rule.judge(case, rule.find) if rule.id in case.limits_by_rule else ()
    if rule.scope not in ("source", "cable"):
        return rule.judge(case, rule.find)
    key = (id(rule.judge), id(case.source if rule.scope == "source" else case.cable))
    if key not in alone:
        alone[key] = tuple(rule.judge(case, rule.find))
    return alone[key]


def pairs_of(
    kit: Kit, source: Source | str | None = None, cable: Cable | str | None = None
) -> Iterator[tuple[Source, Cable]]:
    """The pairs to judge: all of a kit, or those of one source or one cable, named by id or of one's own.

    A source with a cable fixed to it goes with that alone. A kit without cables gets one of which nothing is known.

    Raises ``InputError`` for an id that is not in the kit, and for a kit without sources.
    """
    chosen = kit.source(source) if isinstance(source, str) else source
    sources = kit.sources if chosen is None else (chosen,)
    if not sources:
        raise InputError("the kit holds no source", expected="a [[source]] with its offers")
    between = _cable(kit, cable) if isinstance(cable, str) else cable
    cables = (kit.cables or (UNKNOWN_CABLE,)) if between is None else (between,)
    for each in sources:
        if each.cable is None:
            yield from ((each, one) for one in cables)
        elif between is None or between.id == each.cable.id:
            yield each, each.cable
        elif chosen is not None:
            raise InputError(
                f"source {chosen.id!r} has its cable fixed to it", expected=f"no --cable, or {each.cable.id!r}"
            )


def few_pairs(
    kit: Kit, source: Source | str | None, cable: Cable | str | None, most: int, *, expected: str = FEWER_BY_ID
) -> list[tuple[Source, Cable]]:
    """As ``pairs_of``, where each pair takes its time: ``InputError`` for more than ``most`` of them."""
    pairs = list(islice(pairs_of(kit, source, cable), most + 1))
    if len(pairs) > most:
        raise InputError(f"more than {most} pairs of source and cable", expected=expected)
    return pairs


def _cable(kit: Kit, cable_id: str) -> Cable:
    for source in kit.sources:
        if source.cable is not None and source.cable.id == cable_id:
            return source.cable
    return kit.cable(cable_id)
