"""How the first rows of a log are put together and read: the way that makes most of them; and how few of them tell."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.intake.content import Found, Layout, counted, layout_of, read_with, worth
from pdcheck.intake.times import stamp_of, step_of
from pdcheck.intake.unfolded import KINDS, begins_dump, unfolded, unfoldings
from pdcheck.named import NamedTuple

_SURELY = 8
"""So many messages alike tell a log in which no CRC proves any."""


class Learnt(NamedTuple):
    """How the first rows of a log are unfolded and read, what they hold, how many have a time, and its step [s]."""

    fold: str
    layout: Layout
    found: list[Found | None]
    timed: int
    step_s: float | None


def learnt_of(rows: Sequence[str]) -> Learnt | None:
    """Of all ways to unfold and read the first rows the one that proves most messages, and says most of them."""
    best: tuple[tuple[int, ...], Learnt] | None = None
    for fold in unfoldings(rows):
        folded = [row for _, row in unfolded(enumerate(rows, 1), fold)]
        learnt = layout_of(folded, headed=fold not in KINDS)
        if learnt is None:
            continue
        made = worth(folded, *learnt)
        if best is None or made > best[0]:
            best = made, Learnt(fold, *learnt, made[-1], _step(folded, *learnt))
    return None if best is None else best[1]


def _step(rows: Sequence[str], layout: Layout, found: Sequence[Found | None]) -> float | None:
    steps = []
    for text, each in zip(rows, found, strict=True):
        row = None if each is None else read_with(text, layout)
        stamp = None if row is None or each is None else stamp_of(row, each.at, layout.times)
        unit_s = None if stamp is None else stamp.unit_s or layout.times.unit_s
        if stamp is not None and unit_s is not None:
            steps.append(step_of(stamp, unit_s))
    return min(steps, default=None)


def tells(rows: Sequence[str]) -> bool:
    """Whether so few first rows of a log tell how it is read, where nobody may wait for more.

    Up to the first message that its CRC proves and that has a unit beside its time, else the one behind it.

    >>> tells(["time_us,sop,data"]), tells(["time_us,sop,data", "557,SOP,4100bb6cbba8"])
    (False, True)
    """
    if len(rows) == 1 and rows[0].lstrip()[:1] in ("{", "["):
        # A document in one line, or the first of many objects.
        return False
    learnt = learnt_of(rows)
    if learnt is None:
        return False
    sure, told = counted(learnt.found)
    if any(map(begins_dump, rows)):
        # The first row of a dump may hold a whole message too.
        return learnt.fold == "dump" and sure > 1
    if not sure:
        return told >= _SURELY
    layout = learnt.layout
    above = next(at for at, each in enumerate(learnt.found) if each is not None) - layout.head.rows
    if not learnt.fold and above > 1 and told < 3:
        # Rows above the first message may be the beginning of a record of several rows.
        return False
    folded = [row for _, row in unfolded(enumerate(rows, 1), learnt.fold)]
    read = [(read_with(row, layout), each) for row, each in zip(folded, learnt.found, strict=True) if each is not None]
    stamps = [stamp_of(row, each.at, layout.times) for row, each in read if row is not None]
    return told > 1 or layout.head.unit_s is not None or all(stamp is None or stamp.unit_s for stamp in stamps)
