"""Around: the messages of a long conversation that stand around the one which is followed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import overload

from pdcheck.bits.sequence import Told

LOOK_AHEAD = 40
"""So many messages are looked at for what a message is taken for."""
_AT_ONCE = 512


class Around(Sequence[Told]):
    """Messages by their index in all, of which those are had that stand near the one at ``index``.

    As long as there are more to come, at least ``LOOK_AHEAD`` of them stand behind it.
    """

    def __init__(self, told: Iterable[Told]) -> None:
        self._coming = iter(told)
        self._begin = 0
        self._held: list[Told] = []

    def reaches(self, index: int) -> bool:
        """Go on to a message; whether there is such a one."""
        if index + LOOK_AHEAD >= len(self):
            behind = max(index - 1 - self._begin, 0)
            self._held = [*self._held[behind:], *islice(self._coming, _AT_ONCE)]
            self._begin += behind
        return index < len(self)

    def __len__(self) -> int:
        return self._begin + len(self._held)

    @overload
    def __getitem__(self, at: int) -> Told: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Told]: ...
    def __getitem__(self, at: int | slice) -> Told | Sequence[Told]:
        if isinstance(at, slice):
            return self._held[at.start - self._begin : at.stop - self._begin]
        return self._held[at - self._begin]
