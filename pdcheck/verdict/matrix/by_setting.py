"""How many pairs of a kit a rig works on at each setting of its trigger; all of them judged together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.parts.cable import Cable
from pdcheck.parts.request import Request
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.finding import WORKS
from pdcheck.verdict.matrix.cells import RigCells, Shared


class SettingCount(NamedTuple):
    """A setting: on how many of how many pairs it works, and on how many it must not be connected."""

    request: Request
    works: int
    unsafe: int
    of: int


def by_setting(
    rig: Rig, pairs: Sequence[tuple[Source, Cable]], requests: Sequence[Request]
) -> tuple[SettingCount, ...]:
    """Count the verdicts of a rig on some pairs with its trigger at each of some settings.

    >>> from pdcheck.parts.request import parse_request
    >>> pair = (Source(id="s", offers="5V 3A, 9V 2A"), Cable(id="c", kind="C-C", loop="0.1ohm"))
    >>> rig = Rig(trigger="9V", branch=[{"name": "fan", "load": {"power": "12W", "voltage": "8V-10V"}}])
    >>> found = by_setting(rig, [pair], [parse_request("5V"), parse_request("9V")])
    >>> [(each.works, each.unsafe, each.of) for each in found]
    [(0, 0, 1), (1, 0, 1)]
    """
    shared = Shared()
    counts = []
    for request in requests:
        trigger = rig.trigger.model_copy(update={"request": request})
        cells = RigCells(rig.model_copy(update={"trigger": trigger}), shared, loads=False)
        verdicts = [outcome.verdict for outcome in cells.outcomes(pairs)]
        works = sum(each in WORKS for each in verdicts)
        counts.append(SettingCount(request, works, verdicts.count("unsafe"), len(verdicts)))
    return tuple(counts)
