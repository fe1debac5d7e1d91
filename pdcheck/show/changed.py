"""What ``change`` shows: the JSON document and the text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.quantities import format_quantity
from pdcheck.show.columns import paragraph, table
from pdcheck.show.judged import contract_json, contract_line, finding_json, finding_text
from pdcheck.verdict.change.bus_path import WAYS, BusPath, Step
from pdcheck.verdict.change.changes import BranchFate, Change, PathChange

SCHEMA = "pdcheck/change/1"

Span = tuple[float | None, float | None]


def document(found: Sequence[Change], title: str = "") -> dict[str, Any]:
    """The JSON document of ``change``."""
    case = found[0].before.case
    return {
        "schema": SCHEMA,
        "rig": title,
        "source": case.source.id,
        "cable": case.cable.id,
        "contract": contract_json(case.contract),
        "verdict": found[0].before.verdict,
        "works": all(change.works for change in found),
        "changes": [_change_json(change) for change in found],
    }


def _change_json(change: Change) -> dict[str, Any]:
    return {
        "to": change.to,
        "works": change.works,
        "contract": contract_json(change.after.case.contract),
        "verdict": change.after.verdict,
        "findings": [finding_json(finding) for finding in change.after.findings],
        "paths": [_path_json(each) for each in change.paths],
    }


def _path_json(each: PathChange) -> dict[str, Any]:
    path = each.path
    return {
        "way": path.way,
        "works": each.works,
        "lowest_v": path.lowest_v,
        "off_s": _span_json(path.off_s),
        "five_volts_s": _span_json(path.five_s),
        "steps": [_step_json(step) for step in path.steps],
        "branches": [fate._asdict() for fate in each.fates],
        "findings": [finding_json(finding) for finding in each.findings],
    }


def _span_json(span: Span | None) -> dict[str, float | None] | None:
    return None if span is None else {"min": span[0], "max": span[1]}


def _step_json(step: Step) -> dict[str, Any]:
    return {
        "what": step.what,
        "voltage_v": {"min": step.voltage_v[0], "max": step.voltage_v[1]},
        "time_s": {"min": step.least_s, "max": step.greatest_s},
        "timers": list(step.timers),
        "origin": str(step.origin),
    }


def text(found: Sequence[Change], *, steps: bool) -> str:
    """What a person reads: what it has now, then each change with its paths and what becomes of the branches."""
    case = found[0].before.case
    parts = [
        paragraph(f"{case.source.id} over {case.cable.id}: what happens when that changes", hang=2),
        paragraph(f"now: {contract_line(case.contract)}", indent=2, hang=2),
    ]
    return "\n\n".join(["\n".join(parts), *(_change_text(change, steps) for change in found)])


def _change_text(change: Change, steps: bool) -> str:
    contract = contract_line(change.after.case.contract)
    word = "It comes through." if change.works else "It does not come through."
    parts = [paragraph(f"{change.to}: {word}", hang=2), paragraph(f"then: {contract}", indent=2, hang=2)]
    if not change.paths:
        parts.append("  there is no PD contract that could change")
    for each in change.paths:
        parts += ["", paragraph(f"{WAYS[each.path.way]}: {_bus(each.path)}", indent=2, hang=2)]
        if steps:
            rows = [[_time(step), _volts(step.voltage_v), step.what] for step in each.path.steps]
            parts += ["", table(["takes", "VBUS then", "step"], rows, indent=4), ""]
        parts.append(table(["branch", "what", "why"], [_fate_row(fate) for fate in each.fates], indent=4))
        parts += [finding_text(finding) for finding in each.findings if steps or finding.level != "note"]
    return "\n".join(parts)


def _bus(path: BusPath) -> str:
    if not path.interrupted:
        return f"VBUS is never below {path.lowest_v:.4g} V"
    shown = f"VBUS is away for {_span(path.off_s)}"
    return shown if path.five_s is None else f"{shown}, then at 5 V for {_span(path.five_s)}"


def _span(span: Span | None) -> str:
    least, greatest = span or (None, None)
    if greatest is None:
        return "as long as the plug is out"
    end = format_quantity(greatest, "s", 3)
    return f"up to {end}" if least is None else f"{format_quantity(least, 's', 3)} to {end}"


def _time(step: Step) -> str:
    if step.greatest_s is None:
        return "as long as it takes"
    return _span((step.least_s, step.greatest_s))


def _volts(ends: tuple[float, float]) -> str:
    return f"{ends[0]:.4g}..{ends[1]:.4g} V"


def _fate_row(fate: BranchFate) -> list[str]:
    why = fate.why
    if fate.fate == "restarts":
        why = "already on the 5 V in between" if fate.starts_on_5v else "with the new contract"
        if fate.hold_up_s is not None:
            why += f"; its capacitance holds {format_quantity(fate.hold_up_s, 's', 2)}"
    return [fate.branch, fate.fate, why]
