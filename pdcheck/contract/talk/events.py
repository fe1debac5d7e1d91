"""Events: what happens to a conversation from outside, as typed: "second port at 3s", "request 9V at 5s"."""

from __future__ import annotations

import re

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple
from pdcheck.parts.behaviour import LONGEST_S, Lowered, read_lowered
from pdcheck.parts.fields import read_bounded
from pdcheck.parts.request import Request, parse_request
from pdcheck.parts.source import Source
from pdcheck.quantities import quoted

EXPECTED = (
    'an event such as "second port at 3s", "second port 30W at 3s", "second port off at 8s", "lower to 30W at 5s", '
    '"full power at 9s", "hard reset at 4s", "goto min at 4s", "reject at 4s", "wait at 4s", "request 9V at 5s", '
    '"sink silent at 3s", "source silent at 3s"'
)
_AT = re.compile(r"(?P<what>.*\S)\s+(?:at|@)\s*(?P<when>[0-9].*)", re.IGNORECASE | re.DOTALL)
_PLAIN = {
    "second port off": "full",
    "second port free": "full",
    "full power": "full",
    "hard reset": "reset",
    "goto min": "least",
    "gotomin": "least",
    "reject": "reject",
    "wait": "wait",
    "sink silent": "sink silent",
    "trigger silent": "sink silent",
    "source silent": "source silent",
}


class Event(NamedTuple):
    """Something from outside at ``at_s`` [s] after the plug goes in.

    ``kind``: ``lower`` (to ``left``; None: half the power, as nobody has said), ``full``, ``reset`` (by the source),
    ``least`` (GotoMin), ``reject`` and ``wait`` (the next request is answered so), ``request`` (the trigger is set
    anew), ``sink silent``, ``source silent``. ``text`` is what to call it.
    """

    at_s: float
    kind: str
    text: str
    left: Lowered | None = None
    request: Request | None = None


def split_event(text: str, expected: str = EXPECTED) -> tuple[str, float]:
    """What happens, and when [s]. Raises ``InputError`` for a text that is no event, which then says ``expected``.

    >>> split_event("second  port at 500ms")
    ('second port', 0.5)
    """
    found = _AT.fullmatch(text.strip()) if len(text) <= 300 else None
    if found is None:
        raise InputError(f"{quoted(text)} is no event", expected=expected)
    try:
        at_s = read_bounded(found["when"], "s", LONGEST_S, zero=True)
    except InputError as error:
        raise InputError(f"{quoted(text)}: {error.what}", expected="a time such as 3s or 500ms") from None
    return " ".join(found["what"].split()), at_s


def parse_event(text: str, source: Source) -> Event:
    """Read an event; what a second port leaves to this one is the source's to say.

    Raises ``InputError`` for a text that is no event.

    >>> charger = Source(id="s", offers="5V 3A, 20V 3A", behaviour={"second_port": "45W"})
    >>> parse_event("second port at 3s", charger).left.power_w
    45.0
    """
    what, at_s = split_event(text)
    plain = _PLAIN.get(what.lower())
    if plain is not None:
        return Event(at_s, plain, what)
    head, _, rest = what.partition(" ")
    if head.lower() in ("request", "set") and rest:
        return Event(at_s, "request", what, request=parse_request(rest))
    lowered = re.fullmatch(r"(?:(second port)|lower|step(?:s)? down)(?:(?: to)? (.+))?", what, re.IGNORECASE)
    if lowered is None:
        raise InputError(f"{quoted(text)} is no event", expected=EXPECTED)
    left = read_lowered(lowered[2]) if lowered[2] else None
    if left is None and lowered[1]:
        left = source.behaviour.second_port
    return Event(at_s, "lower", what, left)


def events_of(source: Source) -> list[Event]:
    """The events that a source's own behaviour brings."""
    behaviour = source.behaviour
    events = [Event(step.at_s, "lower", f"steps down to {step.to}", step.to) for step in behaviour.steps_down]
    if behaviour.hard_reset_s is not None:
        events.append(Event(behaviour.hard_reset_s, "reset", "the source resets"))
    if behaviour.goto_min_s is not None:
        events.append(Event(behaviour.goto_min_s, "least", "the source wants the sink at its least current"))
    return events
