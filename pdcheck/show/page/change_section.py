"""The section on what happens when the charger offers less, or is unplugged and plugged in again."""

from __future__ import annotations

from pdcheck.show.change import bus_words, fate_row
from pdcheck.show.check import contract_line
from pdcheck.show.page.section import Section, Sheet
from pdcheck.verdict.case import Case
from pdcheck.verdict.change.bus_path import WAYS
from pdcheck.verdict.change.changes import Changed, changed


def change_section(case: Case) -> Section:
    """Each change with what stands then, and for each way in which it comes what becomes of every branch."""
    found = changed(case.rig, case.source, case.cable)
    rows = [[each.to, "works" if each.works else "do not count on it", contract_line(each.contract)] for each in
            found.changes]  # fmt: skip
    sheets = [Sheet("What the charger may change to", ["change", "then", "contract then"], rows)]
    sheets += [
        Sheet(
            f"{change.to}, {WAYS[each.path.way]}: {bus_words(each.path)}",
            ["branch", "what", "why"],
            [*map(fate_row, each.fates)],
        )
        for change in found.changes
        for each in change.paths
    ]
    return Section("change", "When the charger offers less", "Less offered", [_answer(found)], tables=sheets)


def _answer(found: Changed) -> str:
    """What it survives, and what not, in one line."""
    survived = [each.to for each in found.changes if each.works]
    lost = [each.to for each in found.changes if not each.works]
    told = [f"It still works after: {', '.join(survived)}."] if survived else []
    return " ".join(told + ([f"Do not count on it after: {', '.join(lost)}."] if lost else []))
