"""A power bank: how long it feeds a rig on a case's contract, and whether that takes so little that it switches off."""

from __future__ import annotations

from pdcheck.facts.trade import LIGHT_LOAD, OWN_DRAW
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.parts.source import Source
from pdcheck.parts.store import sleeps_below, store_at
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


def hours_of(case: Case) -> Triple | None:
    """How long [h] a source feeds a rig; None where it states no energy, and where nothing runs.

    The energy that comes out over the mean power that is taken: the least of one over the most of the other, and the
    other way round. Where its efficiency is not stated, its own electronics count beside a light load as well.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> rig = Rig(trigger="9V", branch=[{"name": "radio", "load": {"power": "18W", "average": "5W"}}])
    >>> bank = Source("5V 3A, 9V 3A", energy="50Wh", efficiency="90%", tolerance=0)
    >>> [round(each, 6) for each in hours_of(Case(rig, bank, Cable("C-C", loop="0ohm"))) or ()]
    [9.0, 9.0, 9.0]
    """
    store = store_at(case.source, case.contract.voltage_v)
    taken = None if case.over_time is None else case.over_time.source_w
    if store is None or taken is None or taken.min <= 0.0:
        return None
    least = store.output_wh.min / (taken.max + own_draw_w(case.source, taken.max))
    return Triple(least, store.output_wh.typ / taken.typ, store.output_wh.max / taken.min)


def own_draw_w(source: Source, load_w: float) -> float:
    """What a power bank's own electronics may take beside a load [W] of which its efficiency is not stated.

    All of ``OWN_DRAW`` beside no load, nothing from ``LIGHT_LOAD`` on; both together still rise with the load.

    >>> bank = Source("5V 3A", energy="74Wh")
    >>> own_draw_w(bank, 0.0), own_draw_w(bank, 0.5), own_draw_w(bank, 2.0)
    (0.15, 0.075, 0.0)
    """
    if source.efficiency is not None:
        return 0.0
    return OWN_DRAW.value * max(0.0, 1.0 - load_w / LIGHT_LOAD.value)
