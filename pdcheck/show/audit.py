"""What ``audit`` says, as people read it at a glance: the time line with its findings, then what stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from pdcheck.contract.following.state import PLUG, PORT
from pdcheck.intake.long_list import LongList
from pdcheck.named import NamedTuple
from pdcheck.result import shows
from pdcheck.show.columns import beside, paragraph
from pdcheck.show.decode import Readings
from pdcheck.show.offers import offers_table
from pdcheck.show.talk import repetitions
from pdcheck.verdict.audit.auditing import AuditResult
from pdcheck.verdict.audit.rule import Remark
from pdcheck.verdict.audit.words import Entry, agreed_text
from pdcheck.verdict.finding import LEVELS

_LONGEST_CYCLE = 4


class Line(NamedTuple):
    """A line of the time line, with the findings and the readings of the bus that stand below it."""

    entry: Entry | None
    remarks: tuple[Remark, ...] = ()
    bus: str = ""

    @property
    def key(self) -> tuple[str, str, str] | None:
        """What it says, but for its time; ``None`` where it is to stand by itself."""
        entry = self.entry
        if entry is None or self.remarks or self.bus:
            return None
        return entry.sender, entry.type, entry.text


class Run(NamedTuple):
    """Some lines, and how often the same came ``again``, the last of it at ``until_s`` [s]."""

    lines: tuple[Line, ...]
    again: int = 0
    until_s: float | None = None


@shows(AuditResult)
def text(audit: AuditResult) -> str:
    """What a person reads: the time line with its findings, then what stands."""
    return "\n".join(text_lines(audit))


def text_lines(audit: AuditResult) -> Iterator[str]:
    """The text piece by piece, each of some whole lines, since a long log has very many."""
    told = [remark for remark in audit.remarks if remark.number is not None]
    before = Line(None)
    lines: LongList[Line] = LongList()
    for line in _lines(audit, told):
        if line.entry is None:
            before = line
        else:
            lines.append(line)
    if before.bus:
        yield before.bus
    yield from _time_line(lines)
    yield from map(_finding_line, before.remarks)
    yield from (_finding_line(remark, stamp=True) for remark in audit.remarks if remark.number is None)
    yield ""
    yield from _summary(audit)


def _lines(audit: AuditResult, remarks: Sequence[Remark]) -> Iterator[Line]:
    """The lines of the time line with what stands below each; before them what is of none.

    A finding about a GoodCRC is shown at the message before it.
    """
    remarks_left, readings = iter(remarks), iter(audit.log.readings)
    remark, reading = next(remarks_left, None), next(readings, None)
    entries = iter(audit.timeline)
    entry: Entry | None = None
    while True:
        following = next(entries, None)
        told: list[Remark] = []
        bus = Readings()
        while remark is not None and (following is None or (remark.number or 0) < following.number):
            told.append(remark)
            remark = next(remarks_left, None)
        while reading is not None and (following is None or reading.after < following.number):
            bus.add(reading)
            reading = next(readings, None)
        yield Line(entry, tuple(told), bus.line() if bus.count else "")
        if following is None:
            return
        entry = following


def _time_line(lines: Sequence[Line]) -> Iterator[str]:
    width = max((len(_stamp(line.entry)) for line in lines), default=0)
    for run in runs(lines):
        for line in run.lines:
            entry = line.entry
            assert entry is not None
            start = f"{_stamp(entry):>{width}}  {who(entry.sender):<8}  " if width else f"{who(entry.sender):<8}  "
            yield beside(start, f"{entry.type}  {entry.text}".rstrip())
            yield from map(_finding_line, line.remarks)
            if line.bus:
                yield line.bus
        if run.again:
            until = "" if run.until_s is None else f", the last at {run.until_s:.6f} s"
            yield paragraph(f"... the same {run.again} times more{until}", indent=width + 2, hang=4)


def _stamp(entry: Entry | None) -> str:
    return "" if entry is None or entry.time_s is None else f"{entry.time_s:.6f} s"


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
        timed = any(step.told.message.time_s is not None for step in audit.log.steps)
        heard += f"; {'how exact the times are is' if timed else 'times are'} not known, so none is judged"
    out = [paragraph(heard, hang=2)]
    if end.contract is None:
        out.append("contract: none at the end")
    else:
        mode = ", in EPR mode" if end.epr else ""
        agreed = f"contract: {agreed_text(end.contract.asked)} (object {end.contract.asked.position}){mode}"
        out.append(paragraph(agreed, hang=2))
    if audit.offers:
        out += ["offers:", offers_table(audit.offers)]
    count = Counter(remark.finding.level for remark in audit.remarks)
    for more in audit.more:
        count[more.level] += more.times
        said = f"{more.rule} of the {more.subject}: {more.times} more ({more.level.upper()}) are counted alone"
        out.append(paragraph(said, hang=2))
    found = [f"{count[level]} {level}" for level in LEVELS if count[level]]
    out.append(f"findings: {', '.join(found)}" if found else "nothing found wrong")
    return out


def runs(lines: Sequence[Line]) -> Iterator[Run]:
    """The lines with exchanges that come over and over put together; those with a finding stay by themselves."""
    keys = LongList(line.key or at for at, line in enumerate(lines))
    for at, size, times in repetitions(keys, _LONGEST_CYCLE):
        last = lines[at + size * times - 1].entry if times > 1 else None
        yield Run(tuple(lines[at : at + size]), times - 1, None if last is None else last.time_s)


def who(sender: str) -> str:
    """The sender as shown.

    >>> who("port")
    'to cable'
    """
    return {PORT: "to cable", PLUG: "cable"}.get(sender, sender)
