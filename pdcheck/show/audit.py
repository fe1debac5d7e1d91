"""What ``audit`` says, as people read it at a glance: the time line with its findings, then what stands."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from pdcheck.contract.following.state import PLUG, PORT
from pdcheck.result import shows
from pdcheck.show.columns import beside, paragraph
from pdcheck.show.decode import readings_after
from pdcheck.show.offers import offers_table
from pdcheck.show.talk import repetition
from pdcheck.verdict.audit.auditing import AuditResult
from pdcheck.verdict.audit.rule import Remark
from pdcheck.verdict.audit.timeline import Entry
from pdcheck.verdict.audit.words import agreed_text
from pdcheck.verdict.finding import LEVELS

_LONGEST_CYCLE = 4


class Run(NamedTuple):
    """Some lines, and how often the same came ``again``, the last of it at ``until_s`` [s]."""

    entries: tuple[Entry, ...]
    again: int = 0
    until_s: float | None = None


@shows(AuditResult)
def text(audit: AuditResult) -> str:
    """What a person reads: the time line with its findings, then what stands."""
    lines = audit.timeline
    told: dict[int, list[Remark]] = {}
    loose: list[Remark] = []
    numbers = {line.number for line in lines}
    shown = sorted(numbers)
    for remark in audit.remarks:
        if remark.number is None:
            loose.append(remark)
        else:
            # A finding about a GoodCRC is shown at the message before it.
            told.setdefault(_shown_at(shown, remark.number, remark.number), []).append(remark)
    parts = _time_line(lines, told, _beside(audit, shown))
    parts += [_finding_line(remark) for number in told if number not in numbers for remark in told[number]]
    parts += [_finding_line(remark, stamp=True) for remark in loose]
    return "\n".join([*parts, "", *_summary(audit)])


def _shown_at(shown: Sequence[int], number: int, otherwise: int) -> int:
    """The last of the rising numbers that is no later than another."""
    at = bisect_right(shown, number)
    return shown[at - 1] if at else otherwise


def _beside(audit: AuditResult, shown: Sequence[int]) -> dict[int, list[str]]:
    """Readings of the bus as lines, by the number of the line of the time line that they stand behind."""
    readings = audit.log.readings
    return readings_after([each._replace(after=_shown_at(shown, each.after, -1)) for each in readings])


def _time_line(lines: Sequence[Entry], told: dict[int, list[Remark]], readings: dict[int, list[str]]) -> list[str]:
    stamps = {line.number: "" if line.time_s is None else f"{line.time_s:.6f} s" for line in lines}
    width = max((len(stamp) for stamp in stamps.values()), default=0)
    out = readings.get(-1, [])
    for run in runs(lines, frozenset(told) | frozenset(readings)):
        for line in run.entries:
            start = f"{stamps[line.number]:>{width}}  {who(line.sender):<8}  " if width else f"{who(line.sender):<8}  "
            said = f"{line.type}  {line.text}".rstrip()
            out.append(beside(start, said))
            out += [_finding_line(remark) for remark in told.get(line.number, [])]
            out += readings.get(line.number, [])
        if run.again:
            until = "" if run.until_s is None else f", the last at {run.until_s:.6f} s"
            out.append(paragraph(f"... the same {run.again} times more{until}", indent=width + 2, hang=4))
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


def _summary(audit: AuditResult) -> list[str]:
    end = audit.log.end
    heard = f"{len(audit.log.steps)} messages"
    if not audit.log.shows_good_crc:
        heard += "; no GoodCRC in this log, so none is judged"
    if audit.log.resolution_s is None:
        heard += "; times are not known, so none is judged"
    out = [paragraph(heard, hang=2)]
    if end.contract is None:
        out.append("contract: none at the end")
    else:
        mode = ", in EPR mode" if end.epr else ""
        agreed = f"contract: {agreed_text(end.contract.asked)} (object {end.contract.asked.position}){mode}"
        out.append(paragraph(agreed, hang=2))
    if audit.offers:
        out += ["offers:", offers_table(audit.offers)]
    count = {level: sum(remark.finding.level == level for remark in audit.remarks) for level in LEVELS}
    found = [f"{number} {level}" for level, number in count.items() if number]
    out.append(f"findings: {', '.join(found)}" if found else "nothing found wrong")
    return out


def runs(lines: Sequence[Entry], marked: frozenset[int]) -> list[Run]:
    """The lines with exchanges that come over and over put together; ``marked`` numbers stay by themselves."""
    keys = [line.number if line.number in marked else (line.sender, line.type, line.text) for line in lines]
    out: list[Run] = []
    at = 0
    while at < len(lines):
        size, times = repetition(keys, at, _LONGEST_CYCLE)
        size, times = max(size, 1), max(times, 1)
        end = at + size * times
        until = lines[end - 1].time_s if times > 1 else None
        out.append(Run(tuple(lines[at : at + size]), times - 1, until))
        at = end
    return out


def who(sender: str) -> str:
    """The sender as shown.

    >>> who("port")
    'to cable'
    """
    return {PORT: "to cable", PLUG: "cable"}.get(sender, sender)
