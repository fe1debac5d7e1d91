"""A policy engine as data: states, timers and arrows, for a port to run and for a page to print."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from pdcheck.facts.origin import Origin
from pdcheck.named import NamedTuple

DIAGRAMS = Origin("PD R3.2 V1.1, policy engine state diagrams (8.3.3): names of states and arrows", "memory")

ANY = "any"
"""As the start of an arrow: whatever the state."""
AT_ONCE = "at once"
"""The event of an arrow that is taken as soon as the state is entered."""
ENTRY = "entry"
SENT = "sent"
"""The event of a message of the state that has got its GoodCRC."""
TIMEOUT = "timeout "
"""Begins the event of a timer that has run out: ``timeout tSenderResponse``."""
_NOT = "not "
_AND = " and "


class TimerUse(NamedTuple):
    """A timer that a state runs, by its name in ``pdcheck.facts.timing``.

    It starts when the state is entered, or after something that happens in it: ``sent`` (its message has got its
    GoodCRC) or an action by key; only where ``guard`` holds. It goes on running from one state to the next where both
    list it from their entry.
    """

    name: str
    guard: str = ""
    after: str = ENTRY


class State(NamedTuple):
    """A state with what is done on entry, by keys of ``Port.actions``, and the timers that run in it."""

    name: str
    does: tuple[str, ...] = ()
    timers: tuple[TimerUse, ...] = ()


class Arrow(NamedTuple):
    """From ``start`` on ``event`` to ``target`` (empty: stays), where ``guard`` holds; ``does`` on the way.

    ``guard`` is keys of ``Port.guards`` joined by ``and``, each perhaps after ``not``. Arrows are tried in order.
    """

    start: str
    event: str
    target: str
    guard: str = ""
    does: tuple[str, ...] = ()


class Policy:
    """The table of one side, whose port has an action and a guard for each key in it (see ``port.py``)."""

    def __init__(self, states: Sequence[State], arrows: Sequence[Arrow]) -> None:
        self.states = {state.name: state for state in states}
        self.arrows = tuple(arrows)
        self.initial = states[0].name
        self.resets = frozenset(
            state.name for state in states if {"send_hard_reset", "send_soft_reset"} & set(state.does)
        )
        """The states in which this side sends a Soft_Reset or a Hard Reset."""
        self._by_start: defaultdict[tuple[str, str], list[Arrow]] = defaultdict(list)
        for arrow in arrows:
            self._by_start[arrow.start, arrow.event].append(arrow)

    def arrows_from(self, state: str, event: str) -> list[Arrow]:
        """The arrows that an event may take in a state: its own first, then those of any state."""
        return self._by_start[state, event] + self._by_start[ANY, event]

    def timers(self) -> frozenset[str]:
        """The names of all timers that some state runs."""
        return frozenset(use.name for state in self.states.values() for use in state.timers)


def conditions(guard: str) -> list[tuple[str, bool]]:
    """The keys of a guard, each with whether it must hold or must not.

    >>> conditions("explicit_contract and not in_epr")
    [('explicit_contract', True), ('in_epr', False)]
    """
    parts = guard.split(_AND) if guard else []
    return [(part.removeprefix(_NOT), not part.startswith(_NOT)) for part in parts]
