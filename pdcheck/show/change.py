"""What ``change`` shows."""

from __future__ import annotations

from pdcheck.facts.voltage import SAFE_5V
from pdcheck.quantities import format_quantity
from pdcheck.result import shows
from pdcheck.show.check import contract_line, finding_text
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import pair_named
from pdcheck.verdict.change.bus_path import WAYS, BusPath, Span
from pdcheck.verdict.change.changes import BranchFate, Change, Changed


@shows(Changed)
def text(found: Changed) -> str:
    """What a person reads: what it has now, then each change with its paths and what becomes of the branches.

    The steps of the bus are shown of a change that was asked for.
    """
    parts = [
        paragraph(
            f"{pair_named(found.source, found.cable)}: what happens when the charger offers less or is unplugged",
            hang=2,
        ),
        paragraph(f"now: {contract_line(found.contract)}", indent=2, hang=2),
    ]
    steps = found.asked is not None
    return "\n\n".join(["\n".join(parts), *(_change_text(change, steps) for change in found.changes)])


def _change_text(change: Change, steps: bool) -> str:
    contract = contract_line(change.contract)
    word = "it works then too." if change.works else "do not count on it."
    parts = [paragraph(f"{change.to}: {word}", hang=2), paragraph(f"then: {contract}", indent=2, hang=2)]
    if not change.paths:
        parts.append("  there is no PD contract that could change")
    for each in change.paths:
        parts += ["", paragraph(f"{WAYS[each.path.way]}: {bus_words(each.path)}", indent=2, hang=2)]
        if steps:
            rows = [
                [
                    "as long as it takes" if step.greatest_s is None else _span(step.lasts_s),
                    f"{step.voltage_v.min:.4g}..{step.voltage_v.max:.4g} V",
                    step.what,
                ]
                for step in each.path.steps
            ]
            parts += ["", table(["takes", "VBUS then", "step"], rows, indent=4), ""]
        parts.append(table(["branch", "what", "why"], [fate_row(fate) for fate in each.fates], indent=4))
        parts += [finding_text(finding) for finding in each.findings if steps or finding.level != "note"]
    return "\n".join(parts)


def bus_words(path: BusPath) -> str:
    """What the bus does meanwhile."""
    if not path.interrupted:
        return f"the bus never falls below {format_quantity(path.lowest_v, 'V', 3)}"
    shown = f"no power for {_span(path.off_s)}"
    return shown if path.five_s is None else f"{shown}, then {SAFE_5V.typ:g} V for {_span(path.five_s)}"


def _span(span: Span | None) -> str:
    least, greatest = span or (None, None)
    if greatest is None:
        return "as long as the plug is out"
    end = format_quantity(greatest, "s", 3)
    return f"up to {end}" if least is None else f"{format_quantity(least, 's', 3)} to {end}"


def fate_row(fate: BranchFate) -> list[str]:
    """A branch, what becomes of it, and why."""
    why = fate.reason
    if fate.fate == "restarts" and not why:
        why = f"already on the {SAFE_5V.typ:g} V in between" if fate.starts_on_5v else "with the new contract"
        if fate.hold_up_s is not None:
            why += f"; its capacitors keep it up for {format_quantity(fate.hold_up_s, 's', 2)}"
    return [fate.branch, fate.fate, why]
