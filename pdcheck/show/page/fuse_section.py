"""The section on fuses: for the bus and each branch what fits, and why."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.facts.fuses import FUSES
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.show.fuse import SHARES, headline, proposal
from pdcheck.show.page.section import Section, Sheet
from pdcheck.verdict.fuses import FusePlace, fuses, values_text
from pdcheck.verdict.judge import MOST_IN_DETAIL


def fuse_section(rig: Rig, pairs: Sequence[tuple[Source, Cable]], pair: tuple[Source, Cable]) -> Section:
    """What fits at each place, on the whole kit; where that takes too long, on the pair that the page is about."""
    found = fuses(rig, pairs if len(pairs) <= MOST_IN_DETAIL else [pair])
    fitting = Sheet(
        "Standard values that fit",
        ["place", *(sort.called for sort in FUSES.values())],
        [[each.place, *_kinds(each)] for each in found.places],
    )
    whys = [
        Sheet(f"{each.place}: {proposal(each)}", ["why"], [[reason] for reason in each.reasons])
        for each in found.places
    ]
    text = [f"{headline(found)}.", "Put a fuse at the start of the wire that it protects."]
    return Section("fuses", "Fuses", "Fuses", text, tables=[fitting, *whys], terms=[("how much", f"{SHARES}.")])


def _kinds(each: FusePlace) -> list[str]:
    by_kind = {kind.kind: kind.values_a for kind in each.kinds}
    return [values_text(by_kind.get(kind, ())) for kind in FUSES]
