"""Journal: what a modelled conversation leaves behind beside its packets: states, contracts, remarks."""

from __future__ import annotations

from typing import Annotated, Literal

from pdcheck.contract.settle import Contract
from pdcheck.contract.talk.clock import Clock
from pdcheck.marks import WORDS
from pdcheck.named import NamedTuple

Side = Literal["source", "sink"]
RemarkKind = Literal["line", "event", "trouble"]


class Change(NamedTuple):
    """A side that went into a state at ``time_s``, and on what event."""

    time_s: float
    side: Annotated[Side, WORDS]
    state: str
    reason: str


class Remark(NamedTuple):
    """Something that happened at ``time_s``: ``line`` (plug, VBUS), ``event`` (from outside), ``trouble``.

    Trouble is what ought not to be.
    """

    time_s: float
    kind: Annotated[RemarkKind, WORDS]
    text: str


class Stand(NamedTuple):
    """A contract that stands from ``time_s`` on; None: none does any more."""

    time_s: float
    contract: Contract | None


class Journal:
    """Takes down what happens, in the order of time."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.changes: list[Change] = []
        self.remarks: list[Remark] = []
        self.stands: list[Stand] = []

    def change(self, side: Side, state: str, because: str) -> None:
        """A side went into a state."""
        self.changes.append(Change(self._clock.now_s, side, state, because))

    def remark(self, kind: RemarkKind, text: str) -> None:
        """Something happened."""
        self.remarks.append(Remark(self._clock.now_s, kind, text))

    def stand(self, contract: Contract | None) -> None:
        """A contract stands, or none does any more; the same again is not news."""
        before = self.stands[-1].contract if self.stands else None
        if contract != before:
            self.stands.append(Stand(self._clock.now_s, contract))
