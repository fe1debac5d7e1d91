"""What is worked out of a part, kept for the next who asks: rigs that differ in one branch share all the others."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

_MOST_KEPT = 4000

Found = TypeVar("Found")


def kept(work: Callable[..., Found]) -> Callable[..., Found]:
    """The same function of a part, which does not change, and of a few figures; it looks at each part once.

    >>> from pdcheck.parts.wire import Wire
    >>> ohms = kept(lambda wire, celsius: [wire.resistance_ohm(celsius)])
    >>> wire = Wire("20AWG 1m")
    >>> ohms(wire, 20.0) is ohms(wire, 20.0), ohms(wire, 20.0) is ohms(wire.replace(length="1m"), 20.0)
    (True, False)
    """
    # By the identity of a part, which holds as long as it is kept beside its answer: to compare two takes longer.
    known: dict[tuple[Any, ...], tuple[Any, Found]] = {}

    def found(part: Any, *figures: Any) -> Found:
        key = (id(part), *figures)
        answer = known.get(key)
        if answer is None:
            if len(known) >= _MOST_KEPT:
                known.clear()
            answer = known[key] = (part, work(part, *figures))
        return answer[1]

    return found
