"""Hours: how long a power bank feeds a rig on a case's contract."""

from __future__ import annotations

from pdcheck.facts.trade import LIGHT_LOAD, OWN_DRAW
from pdcheck.parts.source import Source
from pdcheck.parts.store import store_at
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case


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
