"""Audit: a captured conversation followed and judged by every rule, with what stands at its end."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappush
from typing import Annotated, ClassVar

from pdcheck.bits.line import ORIGIN as ON_LINE
from pdcheck.bits.offers import Offer
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.follow import Follower
from pdcheck.contract.following.state import SOURCE, Agreed, Log, Step
from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.intake.long_list import LongList
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.stream import FIRST_TORN, TORN, BusReading, Gap, Heard, Stream
from pdcheck.marks import UNTOLD, Named, passed, told
from pdcheck.parts.limits import Level
from pdcheck.result import Result
from pdcheck.verdict.audit import answer, bus, chunk, course, header, line, modes, request, said, vendor
from pdcheck.verdict.audit.once import Findings, More
from pdcheck.verdict.audit.rule import AuditRule, Remark, found_in
from pdcheck.verdict.audit.words import LINE, Entry, agreed_text, gist
from pdcheck.verdict.finding import GRAVE, Finding

AUDIT_RULES: tuple[AuditRule, ...] = tuple(
    each
    for file in (line, header, said, request, answer, chunk, vendor, modes, course, bus)
    for each in vars(file).values()
    if isinstance(each, AuditRule)
)
"""Every rule on a captured conversation."""

UNDECODED = "undecoded"


@dataclass(frozen=True, repr=False)
class AuditResult(Result):
    """A judged conversation."""

    SCHEMA: ClassVar[str] = "audit/2"
    TITLE: ClassVar[str] = "A captured conversation followed"
    ROWS: ClassVar[tuple[str, ...]] = ("timeline",)

    log: Annotated[Log, UNTOLD]
    remarks: Annotated[tuple[Remark, ...], Named("findings")]
    more: Annotated[tuple[More, ...], Named("findings_more")] = ()
    lines: Annotated[Sequence[Entry], UNTOLD] = ()
    listed: Annotated[tuple[Offer, ...], UNTOLD] = ()

    @told
    def message_count(self) -> int:
        """How many there are."""
        return len(self.log.steps)

    good_crc_shown = passed[bool]("log.shows_good_crc", "Whether the capture holds GoodCRCs.")
    time_step_s = passed[float | None]("log.resolution_s", "The step of its times, where it has any.")
    epr = passed[bool]("log.end.epr", "Whether EPR mode is on at the end.")
    contract = passed[Agreed | None]("log.end.contract", "What stands at the end.")
    timeline = passed[Sequence[Entry]]("lines", "Every message but GoodCRC, in a few words.")

    @told
    def offers(self) -> tuple[Offer, ...]:
        """The last offers that the source made, with EPR objects where it showed any."""
        return tuple(offer for offer in self.listed if not offer.is_gap)

    @property
    def works(self) -> bool:
        """Whether nothing was found that is more than a warning."""
        return not any(remark.finding.level in GRAVE for remark in self.remarks)

    def answer(self) -> str:
        """How many messages, what stands, how much was found."""
        stands = "no contract" if self.contract is None else agreed_text(self.contract.asked)
        counted = f"{self.message_count} message{'s' * (self.message_count != 1)}"
        return f"{counted}, {stands}, {len(self.remarks) + sum(each.times for each in self.more)} findings"


def audit_stream(stream: Stream, cable_ma: int | None = None) -> AuditResult:
    """Follow and judge what an input says, however long: what is not needed at the moment is on the disk.

    ``cable_ma`` states the current of the cable [mA] where the log does not show its identity. Raises ``InputError``
    where the stream does.

    >>> from pdcheck.intake.sniff import open_input
    >>> with open_input("6111 2c910108 5cb81f2e") as stream:
    ...     audit_stream(stream)
    <AuditResult: 1 message, no contract, 0 findings>
    """
    heard = Heard()
    lost: list[BadPacket] = []
    lost_s: list[float] = []
    lost_after: set[int] = set()
    gaps = 0
    readings: LongList[BusReading] = LongList()

    def told() -> Iterator[Told]:
        nonlocal gaps
        for time, item in stream:
            read = heard.hear(time, item)
            if len(heard.gaps) > gaps:
                gaps += 1
                lost_after.add(heard.gaps[-1].after)
            if isinstance(read, Told):
                yield read
            elif isinstance(read, BusReading):
                readings.append(read)
            elif isinstance(read, BadPacket):
                lost.append(read)
                heappush(lost_s, read.time_s)

    follower = Follower(told(), lost_s, lost_after)
    steps: LongList[Step] = LongList()
    lines: LongList[Entry] = LongList()
    resets, restarts, listed = array("q"), array("q"), Listed()
    for step in follower:
        steps.append(step)
        listed.hear(step)
        if step.name != "GoodCRC":
            lines.append(Entry(step.number, step.time_s, step.sender or LINE, step.name, gist(step)))
        if step.name == "Hard_Reset":
            resets.append(step.number)
        if step.restart:
            restarts.append(step.number)
    said = heard.said(stream, lost)
    log = Log(steps, follower.state, follower.shows_good_crc, said.resolution_s, cable_ma, readings)
    findings = Findings(log, AUDIT_RULES, resets, restarts)
    for found in found_in(log, AUDIT_RULES):
        findings.add(found)
    remarks, more = findings.told_once([*map(_packet_told, said.lost), *_gaps_told(log, said.gaps)])
    places = _places(log, sorted({each.time_s or 0.0 for each in remarks if each.number is None}))
    remarks.sort(key=lambda each: (places[each.time_s or 0.0], 1) if each.number is None else (each.number, 0))
    return AuditResult(log, tuple(remarks), more, lines, listed.offers)


def _packet_told(packet: BadPacket) -> Remark:
    level: Level = "note" if packet.cut else "fail"
    what = "the capture begins or ends inside a packet" if packet.cut else "a packet could not be decoded"
    text, advice = f"{what}: {packet.reason}", "Look at the line and the probe."
    return Remark(Finding(UNDECODED, level, "line", None, None, "", ON_LINE, text, advice), None, packet.time_s)


def _places(log: Log, times: Sequence[float]) -> dict[float, int]:
    """Behind which message the lost packets of some rising times stand: the last before which no later time stands."""
    places: dict[float, int] = {}
    if not times:
        return places
    before, latest, at = -1, float("-inf"), 0
    for step in log.steps:
        if step.time_s is not None:
            latest = max(latest, step.time_s)
            while at < len(times) and times[at] < latest:
                places[times[at]] = before
                at += 1
            before = step.number
    return places | dict.fromkeys(times[at:], before)


def _gaps_told(log: Log, gaps: Sequence[Gap]) -> Iterator[Remark]:
    """The first lines of a log that could not be read, and how many there are; a note where it begins or ends so."""
    advice = "What is missing there is not judged. Record again where it matters."
    ends = {at for at in (-1, len(log.steps) - 1) if sum(gap.after == at for gap in gaps) == 1}
    inside = [gap for gap in gaps if gap.after not in ends]
    for gap in (*inside[: FIRST_TORN + 1], *(gap for gap in gaps if gap.after in ends)):
        number = gap.after if gap.after >= 0 else None
        time_s = None if number is None else log.steps[number].time_s
        level: Level = "fail"
        text = f"{gap.where} of the log cannot be read: {gap.reason}"
        if gap.after in ends:
            level = "note"
            text = f"the log {'begins' if gap.after < 0 else 'ends'} inside a packet ({gap.where}): {gap.reason}"
        elif len(inside) > FIRST_TORN and gap is inside[FIRST_TORN]:
            text = f"{len(inside)} lines of the log in all cannot be read"
        yield Remark(Finding(TORN, level, "log", None, None, "", COMMON_PRACTICE, text, advice), number, time_s)


class Listed:
    """The last list of the source: the one with EPR objects where its SPR objects are still those last sent."""

    def __init__(self) -> None:
        self._spr: tuple[Offer, ...] = ()
        self._epr: tuple[Offer, ...] = ()

    def hear(self, step: Step) -> None:
        """The next step of the conversation."""
        if step.sender != SOURCE or not step.read or not step.told.offers:
            return
        if step.name == "EPR_Source_Capabilities":
            self._epr = step.told.offers
            self._spr = self._spr or tuple(offer for offer in self._epr if not offer.is_epr)
            return
        self._spr = step.told.offers
        # Flags of the first object may differ between the two messages; what is on offer may not.
        plain = [_choice(one) for one in self._epr if not one.is_epr and not one.is_gap]
        if [_choice(offer) for offer in self._spr] != plain:
            self._epr = ()

    @property
    def offers(self) -> tuple[Offer, ...]:
        """The list, as far as was heard."""
        return self._epr if any(offer.is_epr for offer in self._epr) else self._spr or self._epr


def _choice(offer: Offer) -> tuple[object, ...]:
    return offer._replace(word=0, flags=())


def captured_over(judged: AuditResult) -> str | None:
    """Over which cable the offers were seen, as a kit has it; ``None`` where the log does not tell.

    A source shows more than 3 A with a 5 A cable only, and EPR offers with an EPR cable only.
    """
    cable = judged.log.end.cable
    most = max((offer.current_ma_at(offer.max_mv) for offer in judged.offers if not offer.is_epr), default=0)
    if cable is not None and cable.epr:
        return "EPR"
    plain = round(UNMARKED_CURRENT.value * 1000)
    if most > plain or (cable is not None and cable.current_ma > plain):
        return "5A"
    return "3A" if cable is not None or judged.log.end.cable_asked else None
