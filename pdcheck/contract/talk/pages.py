"""The page of the state tables, written from them: ``python -m pdcheck.contract.talk.pages > docs/states.md``."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from itertools import chain

from pdcheck.contract.talk.policy import ANY, DIAGRAMS, ENTRY, SENT, TIMEOUT, TimerUse, conditions
from pdcheck.contract.talk.port import Port
from pdcheck.contract.talk.sink_port import SinkPort
from pdcheck.contract.talk.source_port import SourcePort
from pdcheck.facts.origin import Range
from pdcheck.facts.timing import EPR, TIMERS
from pdcheck.quantities import format_quantity

_HEAD = """# The states of sink and source

Made from the tables in `pdcheck/contract/talk/sink_policy.py` and `source_policy.py`; do not edit. To make it anew:

    python -m pdcheck.contract.talk.pages > docs/states.md

`pdcheck talk` runs these two tables against each other. States, timers and counters have the standard's names; the
figures of the timers stand in `pdcheck/facts/timing.py` and nowhere else. Where a range has two ends, a conversation
takes its middle; where it has only a greatest value, half of it; where only a least one, a tenth more. `--seed` draws
from the range instead.

Left out are the parts of the diagrams that a trigger and a charger do not use: role swaps, alternate modes, status,
batteries, country codes, firmware, security. Where an arrow depends on several things, they are joined by "and". The
first arrow whose conditions hold is taken. A message that no arrow of a state names is passed over.
"""


_SIDES: tuple[type[Port], ...] = (SinkPort, SourcePort)


def _of(guard: str, port: type[Port]) -> str:
    return "; and ".join(("" if wanted else "not: ") + port.guards[key][0] for key, wanted in conditions(guard))


def _does(actions: Iterable[str], port: type[Port]) -> str:
    return "; ".join(port.actions[action][0] for action in actions)


def _timer(use: TimerUse, port: type[Port]) -> str:
    text = f"`{use.name}`"
    if use.after == SENT:
        text += " from the GoodCRC on"
    elif use.after != ENTRY:
        text += f" after: {port.actions[use.after][0]}"
    return text + (f" (where {_of(use.guard, port)})" if use.guard else "")


def _event(event: str) -> str:
    if event.startswith(TIMEOUT):
        return f"`{event.removeprefix(TIMEOUT)}` runs out"
    names = {"sent": "its message has got a GoodCRC", "unsent": "no GoodCRC came, try after try"}
    return names.get(event, event.replace("_Reset", " Reset") if event == "Hard_Reset" else event)


def table(port: type[Port]) -> Iterator[str]:
    """The lines of one side: states, then arrows."""
    policy = port.policy
    yield f"## {port.name.capitalize()}"
    yield ""
    yield f"{DIAGRAMS}. It begins in `{policy.initial}`."
    yield ""
    yield "| state | does on entry | timers |"
    yield "|---|---|---|"
    for state in policy.states.values():
        does = _does(state.does, port)
        timers = "<br>".join(_timer(use, port) for use in state.timers)
        yield f"| `{state.name}` | {does} | {timers} |"
    yield ""
    yield "| from | on | where | to | on the way |"
    yield "|---|---|---|---|---|"
    for arrow in policy.arrows:
        start = "any state" if arrow.start == ANY else f"`{arrow.start}`"
        target = f"`{arrow.target}`" if arrow.target else "stays"
        does = _does(arrow.does, port)
        yield f"| {start} | {_event(arrow.event)} | {_of(arrow.guard, port)} | {target} | {does} |"
    yield ""


def _ends(row: Range) -> str:
    if row.min is not None and row.max is not None:
        return f"{format_quantity(row.min, 's')} to {format_quantity(row.max, 's')}"
    if row.max is not None:
        return f"at most {format_quantity(row.max, 's')}"
    return f"at least {format_quantity(row.require_min(), 's')}"


def timers() -> Iterator[str]:
    """The lines of the timers that these tables run."""
    used = frozenset[str]().union(*(port.policy.timers() for port in _SIDES))
    yield "## Timers of these tables"
    yield ""
    yield "| timer | range | what it is | from |"
    yield "|---|---|---|---|"
    for row in TIMERS.values():
        if row.name.removesuffix(EPR) in used:
            yield f"| `{row.name}` | {_ends(row)} | {row.note} | {row.origin} |"


def page() -> str:
    """The whole page."""
    return "\n".join([_HEAD, *chain(*map(table, _SIDES)), *timers()]) + "\n"


if __name__ == "__main__":
    sys.stdout.write(page())
