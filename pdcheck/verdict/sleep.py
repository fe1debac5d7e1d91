"""Sleep: whether a rig takes so little that a power bank switches itself off."""

from __future__ import annotations

from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.parts.store import sleeps_below
from pdcheck.quantities import Triple, under
from pdcheck.verdict.case import Case


class Sleep(NamedTuple):
    """Currents from a power bank while its loads take least and most, and the current below which it switches off [A].

    ``stated``: that current is the power bank's own, and not what is usual.
    """

    lightest_a: Triple
    heaviest_a: Triple
    below_a: Triple
    stated: bool

    @property
    def may(self) -> bool:
        """Whether it may switch itself off, now and then or for good."""
        return under(self.lightest_a.min, self.below_a.max)

    @property
    def always(self) -> bool:
        """Whether even the most that the loads take may be too little."""
        return under(self.heaviest_a.max, self.below_a.max)

    @property
    def level(self) -> Level | None:
        """How grave that is; None where it stays on."""
        return None if not self.may else "fail" if self.stated and self.always else "warn"


def sleep_of(case: Case) -> Sleep | None:
    """What a case takes beside what keeps its source awake; None for what is no power bank, and where nothing runs.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger="9V", branch=[{"name": "radio", "load": "40mA"}])
    >>> found = sleep_of(Case(rig, Source("5V 3A, 9V 2A", sleeps_below="60mA"), Cable()))
    >>> found.level, found.lightest_a.typ
    ('fail', 0.04)
    """
    below = sleeps_below(case.source)
    taken = None if below is None else case.taken_a()
    if below is None or taken is None:
        return None
    return Sleep(*taken, below, case.source.sleeps_below_a is not None)
