"""What to do, with the figure filled in: another setting of the trigger, or another pair of the kit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pdcheck.parts.request import Request, request_text
from pdcheck.parts.rig import Rig
from pdcheck.show.matrix import watts
from pdcheck.show.page.section import Sheet
from pdcheck.verdict.finding import WORKS
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.matrix.by_setting import SettingCount
from pdcheck.verdict.matrix.matrix import Cell, sort_cells


def what_to_do(judgement: Judgement, counts: Sequence[SettingCount], cells: Sequence[Cell]) -> list[str]:
    """A line on the setting, and where the build does not work, one on the best pair on which it does."""
    return [*_setting(judgement.case.rig, counts), *_pair(judgement, cells)]


def _setting(rig: Rig, counts: Sequence[SettingCount]) -> Iterator[str]:
    now = next(each for each in counts if each.request == rig.trigger.request)
    best = best_count(counts)
    danger = f", and must not be connected on {now.unsafe}" if now.unsafe else ""
    it_is = f"Set to {request_text(now.request)} it works on {now.works} of your {now.of} pairs{danger}"
    if now.of < 2:
        return
    if best is None or best.works == 0 or best.request == now.request:
        yield f"{it_is}; no other setting is better." if now.works else f"{it_is}, and no other setting helps."
    elif best.works > now.works or now.unsafe:
        yield f"Set it to {request_text(best.request)}: then {best.works} of your {best.of} pairs work. {it_is}."
    else:
        yield f"{it_is}; no other setting is better."


def best_count(counts: Sequence[SettingCount]) -> SettingCount | None:
    """The setting that works on most pairs and is unsafe on none; None where each is unsafe somewhere.

    >>> from pdcheck.parts.request import FixedRequest
    >>> listed = [SettingCount(FixedRequest(volts), works, bad, 9) for volts, works, bad in ((9, 4, 0), (15, 8, 1))]
    >>> best_count(listed).request.voltage_v
    9
    """
    return max((each for each in counts if not each.unsafe), key=lambda each: each.works, default=None)


def _pair(judgement: Judgement, cells: Sequence[Cell]) -> Iterator[str]:
    if judgement.works or not cells:
        return
    best = sort_cells(cells, "verdict")[0]
    if best.verdict in WORKS:
        yield f"As it is set, it works on {best.source} with {best.cable}, up to {watts(best.max_w)} for all loads."


def settings_sheet(rig: Rig, counts: Sequence[SettingCount]) -> Sheet:
    """Every setting with its counts."""
    rows = [[_named(each.request, rig), f"{each.works} of {each.of}", str(each.unsafe or "")] for each in counts]
    return Sheet("Each setting of the trigger on this kit", ["set to", "works on", "unsafe on"], rows)


def _named(request: Request, rig: Rig) -> str:
    return f"{request_text(request)}{' (now)' if request == rig.trigger.request else ''}"
