"""Transient: what happens to a rig on a source and cable from plugging in on, with its fates and its extremes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, cast

from pdcheck.circuit.transient.from_rig import circuit_of, level_of
from pdcheck.circuit.transient.given import Circuit, Event, Level
from pdcheck.circuit.transient.result import BranchFate, Energies, Extreme, Moment, Samples
from pdcheck.circuit.transient.result import Result as Solved
from pdcheck.contract.lowering import left_of, lowered
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.contract.talk.events import parse_event, split_event
from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.marks import AS_TEXT, UNLISTED, UNTOLD, WORDS, told
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import LimitingPart, known
from pdcheck.quantities import quoted
from pdcheck.result import Result
from pdcheck.verdict.case import Case

UNTIL_S = 1.0
GOOD = ("starts", "comes back")
SOLVED_TO = 5e-4
"""The solver's own error, as a part of a voltage or a current: what is past a rating by less is on it."""


class AssumedFigure(NamedTuple):
    """A figure that nobody stated: whose it is, what was taken for it, and where that comes from."""

    subject: str
    text: str
    origin: Annotated[Origin, AS_TEXT]


class Rated(NamedTuple):
    """The greatest voltage or current at a node, beside what a part is rated for there [V or A].

    ``past``: beyond its rating. A current that is past it only for a moment, which the rating of a wire or a cable does
    not mind, is told and does not count; ``check`` judges the steady one.
    """

    node: str
    part: Annotated[LimitingPart, WORDS]
    quantity: Literal["voltage", "current"]
    value: float
    limit: float
    rule: str
    past: bool


@dataclass(frozen=True, repr=False)
class Transient(Result):
    """What happens from plugging in on."""

    SCHEMA: ClassVar[str] = "transient/2"
    TITLE: ClassVar[str] = "What happens when it is plugged in"
    ROWS: ClassVar[tuple[str, ...]] = ("moments",)

    rig: str
    source: str
    cable: str
    contract: Contract
    until_s: float
    fates: tuple[BranchFate, ...]
    moments: tuple[Moment, ...]
    extremes: tuple[Extreme, ...]
    rated: tuple[Rated, ...]
    samples: Annotated[Samples, UNLISTED]
    energy: Annotated[Energies, UNLISTED]
    assumed: tuple[AssumedFigure, ...]
    complete: bool
    circuit: Annotated[Circuit | None, UNTOLD] = None

    @told
    def works(self) -> bool:
        """Whether every branch starts, or comes back, and nothing gets more volts than it is rated for."""
        failed = [each for each in self.fates if each.fate not in GOOD and each.branch not in self.switched_off]
        return self.complete and not failed and not self.killed

    @property
    def switched_off(self) -> frozenset[str]:
        """Branches that an event switched off last, or all of them where the plug is out at the end."""
        off: set[str] = set()
        plugged = True
        for moment in self.moments:
            if moment.what in ("load on", "load off"):
                (off.add if moment.what == "load off" else off.discard)(moment.subject)
            elif moment.what in ("plugged in", "unplugged"):
                plugged = moment.what == "plugged in"
        return frozenset(off if plugged else (each.branch for each in self.fates))

    @property
    def killed(self) -> tuple[Rated, ...]:
        """What gets more volts than it is rated for."""
        return tuple(each for each in self.rated if each.past and each.quantity == "voltage")

    def answer(self) -> str:
        """What becomes of each branch."""
        return ", ".join(f"{each.branch} {each.fate}" for each in self.fates)


def transient(case: Case, events: Iterable[str] = (), until_s: float = UNTIL_S) -> Transient:
    """What happens to a case from plugging in until ``until_s`` [s], every figure at its stated or typical value.

    Raises ``InputError`` for a text that is no event.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> case = Case(Rig(trigger="9V", branch=[{"name": "heater", "load": "9ohm"}]), Source("5V 3A, 9V 3A"), Cable())
    >>> transient(case), transient(case).works
    (<Transient: heater starts>, True)
    """
    planned = events_of(case, events)
    head = (case.rig.title, case.source.id, case.cable.id, case.contract)
    if case.contract.outcome == "off":
        off = tuple(BranchFate(branch.name, "stays off", 0, 0) for branch in case.rig.branches)
        energy = Energies(0.0, {}, {}, 0.0)
        return Transient(*head, until_s, off, (), (), (), Samples((), {}, ()), energy, (), True)
    from pdcheck.circuit.transient.run import run  # the solver is loaded where time is asked for

    circuit, assumed = circuit_of(case.rig, case.source, case.cable, case.seen, case.contract)
    later = {event.subject for event in planned if event.kind == "join"}
    branches = tuple(branch._replace(joined=branch.name not in later) for branch in circuit.branches)
    circuit = circuit._replace(branches=branches)
    solved = run(circuit, planned, until_s)
    return Transient(
        *head,
        solved.end_s,
        solved.fates,
        solved.moments,
        solved.extremes,
        tuple(_rated(case, solved)),
        solved.samples,
        solved.energies,
        tuple(AssumedFigure(*each) for each in assumed),
        solved.complete,
        circuit,
    )


def _rated(case: Case, solved: Solved) -> Iterator[Rated]:
    extremes = {each.node: each for each in solved.extremes}
    for limit in known(case.limits):
        extreme, most = extremes.get(limit.node), limit.limit or 0.0
        if extreme is None or limit.sense != "at_most" or limit.state in ("nominal", "rating"):
            continue
        value = {"voltage": extreme.peak_v, "current": extreme.max_a or 0.0}.get(limit.quantity)
        if value is not None:
            quantity = cast(Literal["voltage", "current"], limit.quantity)
            past = value > most * (1.0 + SOLVED_TO)
            yield Rated(limit.node, limit.part, quantity, value, most, limit.rule.id, past)


EXPECTED = (
    'an event such as "join NAME at 1s", "load NAME off at 1s", "unplug at 1s", "replug at 2s", "second port at 1s", '
    '"lower to 30W at 1s", "full power at 2s", "hard reset at 1s", "request 9V at 1s"'
)
_OWN = re.compile(r"(?:(join)|load) (.+?)(?: (on|off))?", re.IGNORECASE)
_SILENT = ("least", "reject", "wait", "sink silent", "source silent")
_HALF = 0.5
LEAST_A = 1e-3
"""What a source gives [A] to a trigger that takes nothing: next to nothing."""


def events_of(case: Case, texts: Iterable[str]) -> tuple[Event, ...]:
    """The solver's events; a lower offer is what the trigger of the case gets of what is left.

    Raises ``InputError`` for a text that is no event, a branch that there is none, one that says nothing of volts.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> case = Case(Rig(trigger="15V", branch=[{"name": "fan", "load": "5W"}]), Source("5V 3A, 9V 3A, 15V 3A"), Cable())
    >>> [event.level for event in events_of(case, ["request 9V at 1s"])]
    [Level(voltage_v=9.0, limit_a=3.0, trips=False)]
    >>> [(event.kind, event.subject, event.at_s) for event in events_of(case, ["load fan off at 500ms"])]
    [('load off', 'fan', 0.5)]
    """
    return tuple(_event(case, text) for text in texts)


def _event(case: Case, text: str) -> Event:
    what, at_s = split_event(text, EXPECTED)
    plain = what.lower()
    if plain == "unplug":
        return Event(at_s, "unplug")
    if plain == "replug":
        return Event(at_s, "replug")
    own = _OWN.fullmatch(what)
    if own is not None and bool(own[1]) != bool(own[3]):
        names = [branch.name for branch in case.rig.branches]
        if own[2] not in names:
            raise InputError(f"{quoted(text)}: there is no branch {quoted(own[2])}", expected=", ".join(names))
        if own[1]:
            return Event(at_s, "join", own[2])
        return Event(at_s, "load on" if own[3].lower() == "on" else "load off", own[2])
    return _told(case, text, at_s)


def _told(case: Case, text: str, at_s: float) -> Event:
    """An event of the conversation, as the bus sees it."""
    try:
        event = parse_event(text, case.source)
    except InputError as error:
        raise InputError(error.what, expected=EXPECTED) from None
    trigger, seen = case.rig.trigger, case.seen
    if event.kind in _SILENT:
        what = f"{quoted(text)} is about messages, and moves no volts by itself"
        raise InputError(what, expected="'pdcheck talk' for what comes of it, or another event")
    if event.kind == "reset":
        return Event(at_s, "hard reset")
    if event.kind == "full":
        return Event(at_s, "level", level=_level(case, case.contract))
    if event.request is not None:
        return Event(at_s, "level", level=_level(case, settle_on(event.request, trigger.fallback, seen)))
    if event.left is not None:
        left = lowered(seen, event.left)
    else:
        most = max((offer.max_mv * offer.current_ma_at(offer.max_mv) for offer in seen.offers), default=0)
        left = seen._replace(offers=left_of(seen.offers, _HALF * most / 1e6))
    return Event(at_s, "level", level=_level(case, settle_on(trigger.request, trigger.fallback, left)))


def _level(case: Case, contract: Contract) -> Level:
    """Where the source goes; where the trigger then takes nothing, it is 5 V without anything to give."""
    if contract.outcome == "off":
        return Level(SAFE_5V.require_min(), LEAST_A)
    return level_of(case.source, contract)
