"""Hours: how long a power bank feeds a rig on a case's contract."""

from __future__ import annotations

from pdcheck.parts.store import store_at
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case


def hours_of(case: Case) -> Triple | None:
    """How long [h] a source feeds a rig; None where it states no energy, and where nothing runs.

    The energy that comes out over the mean power that is taken: the least of one over the most of the other, and the
    other way round.

    >>> from pdcheck.parts.cable import Cable
    >>> from pdcheck.parts.rig import Rig
    >>> from pdcheck.parts.source import Source
    >>> rig = Rig(trigger="9V", branch=[{"name": "radio", "load": {"power": "18W", "average": "5W"}}])
    >>> bank = Source("5V 3A, 9V 3A", energy="50Wh", efficiency="90%", tolerance=0)
    >>> [round(each, 6) for each in hours_of(Case(rig, bank, Cable("C-C", loop="0ohm"))) or ()]
    [9.0, 9.0, 9.0]
    """
    store = store_at(case.source, case.contract.voltage_v)
    taken = None if case.over_time is None else case.over_time.source_w
    if store is None or taken is None or taken.min <= 0.0:
        return None
    return Triple(store.output_wh.min / taken.max, store.output_wh.typ / taken.typ, store.output_wh.max / taken.min)
