"""What ``audit`` shows: the JSON document and the text that a person reads at a glance."""

from __future__ import annotations

from typing import Any

from pdcheck.contract.following.state import Agreed
from pdcheck.show.audit.timeline import Entry, entries, runs, who
from pdcheck.show.columns import paragraph, shown_width
from pdcheck.show.decoded import offer_json, offers_table
from pdcheck.show.figures import hex_word
from pdcheck.verdict.audit.auditing import Audit
from pdcheck.verdict.audit.rule import Remark
from pdcheck.verdict.audit.words import agreed_text
from pdcheck.verdict.finding import LEVELS

SCHEMA = "pdcheck/audit/1"


def document(audit: Audit) -> dict[str, Any]:
    """The JSON document of ``audit``: plain values only."""
    return {
        "schema": SCHEMA,
        "messages": len(audit.log.steps),
        "good_crc_shown": audit.log.shows_good_crc,
        "time_step_s": audit.log.resolution_s,
        "epr": audit.log.end.epr,
        "contract": None if audit.log.end.contract is None else contract_json(audit.log.end.contract),
        "findings": [remark_json(remark) for remark in audit.remarks],
        "timeline": [
            {"index": line.number, "time_s": line.time_s, "who": line.sender, "message": line.name, "text": line.text}
            for line in entries(audit.log.steps)
        ],
        "offers": [offer_json(offer) for offer in audit.offers if not offer.is_gap],
    }


def contract_json(contract: Agreed) -> dict[str, Any]:
    """The contract: what was asked for and granted, and since which message."""
    asked = contract.asked
    out: dict[str, Any] = {
        "position": asked.position,
        "kind": None if asked.offer is None else asked.offer.kind,
        "voltage_mv": asked.voltage_mv,
    }
    if asked.power_mw is not None:
        out["power_mw"] = asked.power_mw
    else:
        out["current_ma"] = asked.current_ma
    return out | {
        "request_word": hex_word(asked.reading.word),
        "capability_mismatch": asked.mismatch,
        "index": contract.number,
        "time_s": contract.time_s,
    }


def remark_json(remark: Remark) -> dict[str, Any]:
    """One finding with the message it is about."""
    finding = remark.finding
    return {
        "rule": finding.rule,
        "level": finding.level,
        "subject": finding.subject,
        "index": remark.number,
        "time_s": remark.time_s,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "origin": str(finding.origin),
        "text": finding.text,
        "advice": finding.advice,
    }


def text(audit: Audit) -> str:
    """What a person reads: the time line with its findings, then what stands."""
    lines = entries(audit.log.steps)
    told: dict[int, list[Remark]] = {}
    loose: list[Remark] = []
    numbers = {line.number for line in lines}
    for remark in audit.remarks:
        if remark.number is None:
            loose.append(remark)
        else:
            # A finding about a GoodCRC is shown at the message before it.
            shown_at = max((number for number in numbers if number <= remark.number), default=remark.number)
            told.setdefault(remark.number if remark.number in numbers else shown_at, []).append(remark)
    parts = _time_line(lines, told)
    parts += [_finding_line(remark) for number in told if number not in numbers for remark in told[number]]
    parts += [_finding_line(remark, stamp=True) for remark in loose]
    return "\n".join([*parts, "", *_summary(audit)])


def _time_line(lines: list[Entry], told: dict[int, list[Remark]]) -> list[str]:
    stamps = {line.number: "" if line.time_s is None else f"{line.time_s:.6f} s" for line in lines}
    width = max((len(stamp) for stamp in stamps.values()), default=0)
    out: list[str] = []
    for run in runs(lines, frozenset(told)):
        for line in run.entries:
            start = f"{stamps[line.number]:>{width}}  {who(line.sender):<8}  " if width else f"{who(line.sender):<8}  "
            said = f"{line.name}  {line.text}".rstrip()
            out.append(start + paragraph(said, hang=0).replace("\n", "\n" + " " * shown_width(start)))
            out += [_finding_line(remark) for remark in told.get(line.number, [])]
        if run.again:
            until = "" if run.until_s is None else f", the last at {run.until_s:.6f} s"
            out.append(f"{' ' * width}  ... the same {run.again} times more{until}")
    return out


def _finding_line(remark: Remark, *, stamp: bool = False) -> str:
    finding = remark.finding
    when = f"{remark.time_s:.6f} s  " if stamp and remark.time_s is not None else ""
    limit = ""
    if finding.limit is not None and finding.unit not in ("", "1"):
        limit = f" (limit {_figure(finding.limit, finding.unit)}; {finding.origin})"
    elif finding.level != "note":
        limit = f" ({finding.origin})"
    said = f"{finding.level.upper()}  {when}{finding.subject}: {finding.text}{limit}. {finding.advice}"
    return paragraph(said, indent=4, hang=6)


def _figure(value: float, unit: str) -> str:
    if unit == "s" and value < 1:
        return f"{value * 1e3:g} ms"
    return f"{value:g} {unit}"


def _summary(audit: Audit) -> list[str]:
    end = audit.log.end
    out = [f"{len(audit.log.steps)} messages"]
    if not audit.log.shows_good_crc:
        out[0] += "; no GoodCRC in this log, so none is judged"
    if audit.log.resolution_s is None:
        out[0] += "; no times, so none is judged"
    if end.contract is None:
        out.append("contract: none stands at the end")
    else:
        mode = ", in EPR mode" if end.epr else ""
        out.append(f"contract: {agreed_text(end.contract.asked)} (object {end.contract.asked.position}){mode}")
    if audit.offers:
        out += ["offers:", offers_table(audit.offers)]
    count = {level: sum(remark.finding.level == level for remark in audit.remarks) for level in LEVELS}
    found = [f"{number} {level}" for level, number in count.items() if number]
    out.append(f"findings: {', '.join(found)}" if found else "nothing found wrong")
    return out
