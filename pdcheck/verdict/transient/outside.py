"""What happens to a build from outside, as typed: the events of ``talk``, branches joined, loads switched, unplug."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pdcheck.circuit.transient.from_rig import level_of
from pdcheck.circuit.transient.given import Event, Level
from pdcheck.contract.lowering import left_of, lowered
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.contract.talk.events import parse_event, split_event
from pdcheck.errors import InputError
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.quantities import quoted
from pdcheck.verdict.case import Case

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
