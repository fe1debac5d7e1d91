"""Audit: a captured conversation followed and judged by every rule, with what stands at its end."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Annotated, ClassVar

from pdcheck.bits.offers import Offer
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.follow import follow
from pdcheck.contract.following.state import SOURCE, Agreed, Log
from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.intake.packet import BadPacket
from pdcheck.intake.stream import FIRST_TORN, TORN, BusReading, Gap
from pdcheck.parts.limits import Level
from pdcheck.result import UNTOLD, Named, Result, told
from pdcheck.verdict.audit import answer, bus, chunk, course, header, line, modes, request, said, vendor
from pdcheck.verdict.audit.once import told_once, without_consequences
from pdcheck.verdict.audit.rule import AuditRule, Remark
from pdcheck.verdict.audit.timeline import Entry, entries
from pdcheck.verdict.audit.words import agreed_text
from pdcheck.verdict.finding import Finding

AUDIT_RULES: tuple[AuditRule, ...] = tuple(
    each
    for file in (line, header, said, request, answer, chunk, vendor, modes, course, bus)
    for each in vars(file).values()
    if isinstance(each, AuditRule)
)
"""Every rule on a captured conversation."""

_LINE = Origin("PD R3.2 V1.1, Tables 5.1 to 5.17", "checked")
UNDECODED = "undecoded"


@dataclass(frozen=True, repr=False)
class AuditResult(Result):
    """A judged conversation."""

    SCHEMA: ClassVar[str] = "audit/2"
    TITLE: ClassVar[str] = "A captured conversation followed"
    ROWS: ClassVar[tuple[str, ...]] = ("timeline",)

    log: Annotated[Log, UNTOLD]
    remarks: Annotated[tuple[Remark, ...], Named("findings")]

    @told
    def message_count(self) -> int:
        """How many there are."""
        return len(self.log.steps)

    @told
    def good_crc_shown(self) -> bool:
        """Whether the capture holds GoodCRCs."""
        return self.log.shows_good_crc

    @told
    def time_step_s(self) -> float | None:
        """The step of its times, where it has any."""
        return self.log.resolution_s

    @told
    def epr(self) -> bool:
        """Whether EPR mode is on at the end."""
        return self.log.end.epr

    @told
    def contract(self) -> Agreed | None:
        """What stands at the end."""
        return self.log.end.contract

    @told
    def timeline(self) -> tuple[Entry, ...]:
        """Every message but GoodCRC, in a few words."""
        return tuple(entries(self.log.steps))

    @told
    def offers(self) -> tuple[Offer, ...]:
        """The last offers that the source made, with EPR objects where it showed any."""
        return tuple(offer for offer in last_offers(self.log) if not offer.is_gap)

    @property
    def works(self) -> bool:
        """Whether nothing was found that is more than a warning."""
        return not any(remark.finding.level in ("stop", "fail") for remark in self.remarks)

    def answer(self) -> str:
        """How many messages, what stands, how much was found."""
        stands = "no contract" if self.contract is None else agreed_text(self.contract.asked)
        counted = f"{self.message_count} message{'s' * (self.message_count != 1)}"
        return f"{counted}, {stands}, {len(self.remarks)} findings"


def audit(
    told: Sequence[Told],
    resolution_s: float | None = None,
    lost: Sequence[BadPacket] = (),
    *,
    cable_ma: int | None = None,
    gaps: Sequence[Gap] = (),
    readings: tuple[BusReading, ...] = (),
) -> AuditResult:
    """Follow and judge a conversation; parameters as ``follow`` has them, ``lost`` the packets that were not decoded,
    ``gaps`` the lines of a log that could not be read, ``readings`` what it says of the bus.

    ``cable_ma`` states the current of the cable [mA] where the log does not show its identity.

    >>> from pdcheck.intake.sniff import read_any
    >>> audit(read_any("6111 2c910108 5cb81f2e").told).remarks
    ()
    """
    log = follow(told, resolution_s, [packet.time_s for packet in lost], [gap.after for gap in gaps])
    log = log._replace(stated_ma=cable_ma, readings=readings)
    found = [remark for rule in AUDIT_RULES for remark in rule.remarks(log)]
    remarks = without_consequences(log, found, AUDIT_RULES)
    for packet in lost:
        text = f"a packet could not be decoded: {packet.reason}"
        level: Level = "fail"
        if packet.cut:
            text, level = f"the capture begins or ends inside a packet: {packet.reason}", "note"
        finding = Finding(UNDECODED, level, "line", None, None, "", _LINE, text, "Look at the line and the probe.")
        remarks.append(Remark(finding, None, packet.time_s))
    remarks += _gaps_told(log, gaps)
    remarks = told_once(log, remarks)
    timed = [step for step in log.steps if step.time_s is not None]
    times = list(accumulate((step.time_s or 0.0 for step in timed), max))

    def place(remark: Remark) -> tuple[int, int]:
        """Where a remark belongs; one about a lost packet stands behind the message before it."""
        if remark.number is not None:
            return remark.number, 0
        at = bisect_right(times, remark.time_s or 0.0)
        return (timed[at - 1].number if at else -1), 1

    remarks.sort(key=place)
    return AuditResult(log, tuple(remarks))


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


def last_offers(log: Log) -> tuple[Offer, ...]:
    """The last list of the source: the one with EPR objects where its SPR objects are still those last sent."""
    spr: tuple[Offer, ...] = ()
    epr: tuple[Offer, ...] = ()
    for step in log.steps:
        if step.sender == SOURCE and step.read and step.told.offers:
            if step.name == "EPR_Source_Capabilities":
                epr = step.told.offers
                spr = spr or tuple(offer for offer in epr if not offer.is_epr)
            else:
                spr = step.told.offers
                # Flags of the first object may differ between the two messages; what is on offer may not.
                if [_choice(offer) for offer in spr] != [
                    _choice(one) for one in epr if not one.is_epr and not one.is_gap
                ]:
                    epr = ()
    return epr if any(offer.is_epr for offer in epr) else spr or epr


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
