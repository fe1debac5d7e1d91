"""What to do, with the figure filled in: another setting of the trigger, or another pair of the kit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Branch, Rig
from pdcheck.show.matrix import watts
from pdcheck.show.page.section import Sheet
from pdcheck.verdict.finding import WORKS
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.matrix.matrix import Cell, sort_cells
from pdcheck.verdict.settings import Setting, best_of


def what_to_do(judgement: Judgement, counts: Sequence[Setting], cells: Sequence[Cell]) -> list[str]:
    """A line on the setting, and where the build does not work, one on the best pair on which it does."""
    return [*_setting(judgement.case.rig, counts), *_pair(judgement, cells)]


def _setting(rig: Rig, counts: Sequence[Setting]) -> Iterator[str]:
    now = next(each for each in counts if each.request == rig.trigger.request)
    best = best_of(counts)
    danger = f", and must not be connected on {now.unsafe}" if now.unsafe else ""
    it_is = f"Set to {request_text(now.request)} it works on {now.works} of your {len(now.verdicts)} pairs{danger}"
    if len(now.verdicts) < 2:
        return
    bound = [branch.name for branch in rig.branches if follows_the_bus(branch)]
    if bound:
        # Another setting may look better only because nobody says what such a load is made for.
        yield f"{it_is}. Another setting changes what {', '.join(bound)} gets: nothing says which voltage suits it."
    elif best is None or best.works == 0 or best.request == now.request:
        yield f"{it_is}; no other setting is better." if now.works else f"{it_is}, and no other setting helps."
    elif best.works > now.works or now.unsafe:
        count = f"{best.works} of your {len(best.verdicts)}"
        yield f"Set it to {request_text(best.request)}: then {count} pairs work. {it_is}."
    else:
        yield f"{it_is}; no other setting is better."


def follows_the_bus(branch: Branch) -> bool:
    """Whether a branch hangs straight on the bus and nothing says which voltage it is made for.

    >>> heater, known = ({"resistance": "36ohm"} | more for more in ({}, {"power": "6W"}))
    >>> [follows_the_bus(Branch("heater", load=each)) for each in (heater, known)]
    [True, False]
    """
    load = branch.load
    stated = load.voltage_v is not None or (load.kind == "resistance" and load.meant_w(None) is not None)
    return branch.converter is None and not stated


def _pair(judgement: Judgement, cells: Sequence[Cell]) -> Iterator[str]:
    if judgement.works or not cells:
        return
    best = sort_cells(cells, "verdict")[0]
    if best.verdict in WORKS:
        yield f"As it is set, it works on {best.source} with {best.cable}, up to {watts(best.max_w)} for all loads."


def settings_sheet(rig: Rig, counts: Sequence[Setting]) -> Sheet:
    rows = [
        [
            f"{request_text(each.request)}{' (now)' if each.request == rig.trigger.request else ''}",
            f"{each.works} of {len(each.verdicts)}",
            str(each.unsafe or ""),
        ]
        for each in counts
    ]
    return Sheet("Each setting of the trigger on this kit", ["set to", "works on", "unsafe on"], rows)
