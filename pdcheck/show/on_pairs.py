"""A rig on many pairs of source and cable: on how many it works, the setting to choose, and why not on the others."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.parts.request import request_text
from pdcheck.parts.rig import Rig
from pdcheck.show.columns import paragraph, table
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.settings import Setting


def on_pairs(rig: Rig, found: Sequence[Judgement], best: Setting | None) -> list[str]:
    """On how many pairs it works, which voltage to set for more, and the verdicts; ``best`` is what works on most."""
    working = sum(each.works for each in found)
    lines = [paragraph(f"It works on {working} of {len(found)} pairs of source and cable.", indent=2)]
    if best is not None and best.works > working:
        told = f"Set the trigger to {request_text(best.request)}: then {best.works} of your {len(found)} pairs work."
    else:
        told = f"No other setting works on more of them: {request_text(rig.trigger.request)} is the voltage to set."
    return [*lines, paragraph(told, indent=2), "", grouped(found)]


def grouped(found: Sequence[Judgement]) -> str:
    """The judgements as a table, those that end alike for the same cause on one line."""
    groups: dict[tuple[str, float, str], list[Judgement]] = {}
    for each in found:
        first = each.findings[0] if each.findings and each.findings[0].level != "note" else None
        cause = "" if first is None else f"{first.rule} {first.subject}"
        groups.setdefault((each.verdict, each.case.contract.voltage_v, cause), []).append(each)
    rows = []
    for (verdict, volts, cause), members in groups.items():
        sources = dict.fromkeys(each.case.source.id for each in members)
        cables = dict.fromkeys(each.case.cable.id for each in members)
        why = f"{members[0].findings[0].subject}: {members[0].findings[0].text}" if cause else "nothing against it"
        where = f"{', '.join(sources)} with {', '.join(cables)}: {why}"
        rows.append([verdict, "off" if not volts else f"{volts:g} V", where])
    return table(["verdict", "bus", "on, and why"], rows)
