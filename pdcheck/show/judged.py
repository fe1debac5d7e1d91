"""What ``check`` shows: the JSON document and the text of a judgement."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pdcheck.contract.settle import Contract
from pdcheck.quantities import Triple
from pdcheck.show.columns import paragraph, table
from pdcheck.show.figures import hex_word
from pdcheck.verdict.finding import Finding
from pdcheck.verdict.judge import Judgement

SCHEMA = "pdcheck/check/1"

HEADLINES = {
    "runs": "It works.",
    "limited": "It works, with less than it should have in hand.",
    "fails": "It does not do the job.",
    "unsafe": "Do not connect it.",
}
MARKS = {"stop": "STOP", "fail": "FAIL", "warn": "warn", "note": "note"}


def document(judgements: Sequence[Judgement], title: str = "") -> dict[str, Any]:
    """The JSON document of ``check``: ``results``, and the one result's own keys beside it where there is one."""
    results = [judgement_json(each) for each in judgements]
    out: dict[str, Any] = {"schema": SCHEMA, "rig": title}
    if len(results) == 1:
        out |= results[0]
    return out | {"results": results}


def judgement_json(judgement: Judgement) -> dict[str, Any]:
    """One judgement."""
    case = judgement.case
    nodes = case.point.nodes if case.point is not None else {}
    return {
        "source": case.source.id,
        "cable": case.cable.id,
        "verdict": judgement.verdict,
        "contract": contract_json(case.contract),
        "nodes": [
            {"node": name, "voltage_v": triple_json(node.voltage_v), "current_a": triple_json(node.current_a)}
            for name, node in nodes.items()
        ],
        "losses": [
            {"part": part, "loss_w": triple_json(loss)}
            for part, loss in (case.point.losses if case.point is not None else {}).items()
        ],
        "findings": [finding_json(finding) for finding in judgement.findings],
    }


def triple_json(triple: Triple) -> dict[str, float]:
    """A triple as an object."""
    return {"min": triple.min, "typ": triple.typ, "max": triple.max}


def contract_json(contract: Contract) -> dict[str, Any]:
    """What stands between source and trigger."""
    return {
        "outcome": contract.outcome,
        "position": contract.position,
        "kind": contract.kind,
        "voltage_v": contract.voltage_v,
        "current_a": contract.current_a,
        "power_w": contract.power_w,
        "epr": contract.epr,
        "mismatch": contract.mismatch,
        "request_word": hex_word(contract.request_words[0]) if contract.request_words else None,
        "request_words": [hex_word(word) for word in contract.request_words],
        "reason": contract.reason,
    }


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding with its numbers and where they are from."""
    return {
        "rule": finding.rule,
        "level": finding.level,
        "subject": finding.subject,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "origin": str(finding.origin),
        "text": finding.text,
        "advice": finding.advice,
    }


def contract_line(contract: Contract) -> str:
    """The contract in one line.

    >>> contract_line(Contract("off", "none", 0.0, 0.0, None, (), False, "12 V is not on offer"))
    'nothing: 12 V is not on offer'
    """
    if contract.outcome == "off":
        return f"nothing: {contract.reason}"
    what = {"type-c": "5 V without PD", "fixed": "fixed"}.get(contract.kind, contract.kind.upper())
    where = "" if contract.position is None else f", offer {contract.position}"
    return f"{contract.voltage_v:g} V, up to {contract.current_a:g} A ({what}{where}); {contract.reason}"


def shown_triple(triple: Triple, unit: str) -> str:
    """A triple as typ with its ends, or one figure where they agree.

    >>> shown_triple(Triple(14.0, 15.0, 16.0), "V"), shown_triple(Triple(1.0, 1.0, 1.0), "A")
    ('15.00 V (14.00..16.00)', '1.000 A')
    """
    places = 3 if unit == "A" else 2
    if round(triple.min, places) == round(triple.max, places):
        return f"{triple.typ:.{places}f} {unit}"
    return f"{triple.typ:.{places}f} {unit} ({triple.min:.{places}f}..{triple.max:.{places}f})"


def headline(judgement: Judgement) -> str:
    """Source, cable and verdict in words."""
    case = judgement.case
    return f"{case.source.id} over {case.cable.id}: {judgement.verdict.upper()}. {HEADLINES[judgement.verdict]}"


def text(judgement: Judgement, *, notes: bool = True, nodes: bool = True) -> str:
    """What a person reads of one judgement: verdict, contract, nodes, findings with what to do."""
    case = judgement.case
    parts = [paragraph(headline(judgement), hang=2)]
    parts.append(paragraph(f"contract: {contract_line(case.contract)}", indent=2, hang=2))
    if nodes and case.point is not None and case.point.nodes:
        rows = [
            [name, shown_triple(node.voltage_v, "V"), shown_triple(node.current_a, "A")]
            for name, node in case.point.nodes.items()
        ]
        parts += ["", table(["node", "voltage, typ (worst)", "current, typ (worst)"], rows)]
    shown = [finding for finding in judgement.findings if notes or finding.level != "note"]
    if shown:
        parts.append("")
    parts += [finding_text(finding) for finding in shown]
    hidden = len(judgement.findings) - len(shown)
    if hidden:
        parts.append(f"  and {hidden} note{'s' if hidden > 1 else ''}")
    return "\n".join(parts)


def finding_text(finding: Finding) -> str:
    """One finding: level, subject, text; then what to do; then rule and origin."""
    lines = [paragraph(f"{MARKS[finding.level]}  {finding.subject}: {finding.text}", indent=2, hang=6)]
    if finding.advice and finding.level != "note":
        lines.append(paragraph(f"-> {finding.advice}", indent=8, hang=3))
    if finding.level != "note":
        lines.append(paragraph(f"[{finding.rule}; {finding.origin}]", indent=8, hang=1))
    return "\n".join(lines)


def summary(judgements: Sequence[Judgement]) -> str:
    """Many judgements as a table: one line each with the deciding finding."""
    rows = []
    for judgement in judgements:
        case = judgement.case
        decided = judgement.findings[0] if judgement.findings and judgement.findings[0].level != "note" else None
        why = f"{decided.subject}: {decided.text}" if decided else "nothing against it"
        volts = "off" if case.contract.outcome == "off" else f"{case.contract.voltage_v:g} V"
        rows.append([case.source.id, case.cable.id, volts, judgement.verdict, why])
    return table(["source", "cable", "bus", "verdict", "why"], rows)
