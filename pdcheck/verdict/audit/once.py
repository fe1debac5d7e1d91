"""One fault, one finding: what a gap in the log explains, what another fault brings with it, what is told already."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence
from itertools import accumulate

from pdcheck.contract.following.state import PLUG, Log
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Level
from pdcheck.verdict.audit import answer, course, header, line, modes, request, vendor
from pdcheck.verdict.audit.rule import STRETCH, AuditRule, Remark
from pdcheck.verdict.finding import GRAVE, LEVELS, Finding


class More(NamedTuple):
    """Findings that are counted alone, where there are very many: of which rule, how bad, about whom, how many."""

    rule: str
    level: Level
    subject: str
    times: int


class Findings:
    """What the ``rules`` find in a conversation, gathered while it is judged; of very many of a kind the first.

    ``resets`` and ``restarts`` are the numbers of its Hard Resets and of its first messages after a new attach.
    """

    def __init__(self, log: Log, rules: Sequence[AuditRule], resets: Sequence[int], restarts: Sequence[int]) -> None:
        self._log, self._rules, self._resets, self._restarts = log, rules, resets, restarts
        self._order = {rule.id: at for at, rule in enumerate(rules)}
        self._found: list[Remark] = []
        self._room = _MOST_HELD
        self._more: Counter[tuple[str, Level, str]] = Counter()

    def add(self, found: Sequence[Remark]) -> None:
        """Some more."""
        self._found += found
        if len(self._found) > self._room:
            newest = max((each.number or 0 for each in self._found), default=0)
            self._thin(newest - _MAY_FOLLOW)
            self._room = max(_MOST_HELD, 2 * len(self._found))

    def told_once(self, beside: Sequence[Remark]) -> tuple[list[Remark], tuple[More, ...]]:
        """All of them with those ``beside``: what is found again and again told once, resets explained by a fault."""
        remarks = [*self._without_consequences(), *beside]
        if self._more:
            self._found = remarks
            self._thin(None)
            remarks = self._found
        remarks = _resets_explained(self._log, self._resets, remarks)
        remarks = _refused_once(_habits(self._restarts, remarks, self._more))
        return remarks, tuple(More(*kind, times) for kind, times in sorted(self._more.items()))

    def _without_consequences(self) -> list[Remark]:
        """Without what follows from another fault or from what the log has lost."""
        # What one rule found stands together, whenever that was.
        found = sorted(self._found, key=lambda each: self._order[each.finding.rule])
        return _uncovered(_cable_told(_without_gaps(self._log, found)), self._rules)

    def _thin(self, until: int | None) -> None:
        """Count what goes beyond the first of its kind, up to a message: on later ones more may be found yet."""
        remarks = self._found if until is None else self._without_consequences()
        remarks = _resets_explained(self._log, self._resets, remarks)
        seen: Counter[tuple[str, Level, str]] = Counter()
        self._found = []
        for remark in sorted(remarks, key=lambda each: each.number or 0):
            kind = (remark.finding.rule, remark.finding.level, remark.finding.subject)
            if until is not None and (remark.number or 0) > until:
                self._found.append(remark)
                continue
            seen[kind] += 1
            if seen[kind] <= _MOST_OF_A_KIND:
                self._found.append(remark)
            else:
                self._more[kind] += 1


_MOST_HELD = 20_000
"""So many findings are told one by one, of whatever kinds."""
_MOST_OF_A_KIND = 200
"""Where there are more, so many of each kind are."""
_MAY_FOLLOW = 2 * STRETCH


_OF_GAPS = ("answer-", "ready-", "vdm-", "epr-order", "list-misplaced", "chunk", "swap-missing", "offer-cable")


def _without_gaps(log: Log, remarks: list[Remark]) -> list[Remark]:
    """Without what a gap in a sender's MessageIDs explains: messages that the log has lost, between two that it has."""
    gaps: list[tuple[int, int]] = []
    for remark in remarks:
        if remark.finding.rule == line.message_id.id and remark.number is not None:
            step = log.steps[remark.number]
            earlier = step.before.ids.get((step.message.sop, step.sender))
            if earlier is not None:
                gaps.append((earlier.number, step.number))
    gaps.sort()
    begins = [first for first, _ in gaps]
    ends = list(accumulate((last for _, last in gaps), max))  # how far those that begin so far reach

    def is_in_gap(number: int) -> bool:
        at = bisect_right(begins, number)
        return at > 0 and number <= ends[at - 1]

    return [
        remark
        for remark in remarks
        if remark.number is None or not remark.finding.rule.startswith(_OF_GAPS) or not is_in_gap(remark.number)
    ]


def _cable_told(remarks: list[Remark]) -> list[Remark]:
    """A cable that does not answer, or that is not made for EPR mode, told once, not again with each request."""
    silent = any(each.finding[:3] == _SILENT_CABLE for each in remarks)
    unfit = min((each.number or 0 for each in remarks if each.finding.rule == modes.epr_unfit.id), default=None)

    def told_already(each: Remark) -> bool:
        finding = each.finding
        if finding.rule == request.request_cable.id and unfit is not None and (each.number or 0) > unfit:
            return True
        return silent and finding.rule in _OF_CABLE and "did not answer" in finding.text

    return [each for each in remarks if not told_already(each)]


_OF_CABLE = (request.request_cable.id, request.offer_cable.id, modes.epr_unfit.id)
_SILENT_CABLE = (vendor.vdm_missing.id, vendor.vdm_missing.level, PLUG)


def _uncovered(remarks: list[Remark], rules: Sequence[AuditRule]) -> list[Remark]:
    """Without what another fault at the same message brings with it."""
    covers = {rule.id: rule.covers for rule in rules}
    at: dict[int | None, list[Finding]] = {}
    for remark in remarks:
        if remark.finding.level != "note":
            at.setdefault(remark.number, []).append(remark.finding)

    order = [rule.id for rule in rules]

    def takes(one: Finding, other: Finding) -> bool:
        """Whether what breaks the rule of ``one`` brings ``other`` with it."""
        named = other.rule in covers[one.rule] or "*" in covers[one.rule]
        return named and LEVELS.index(one.level) <= LEVELS.index(other.level)

    def is_covered(remark: Remark) -> bool:
        mine = remark.finding
        others = [each for each in at.get(remark.number, ()) if each.rule != mine.rule and takes(each, mine)]
        # Of two that bring each other the first of the rules is told.
        return any(not takes(mine, each) or order.index(each.rule) < order.index(mine.rule) for each in others)

    return [remark for remark in remarks if not is_covered(remark)]


def _resets_explained(log: Log, resets: Sequence[int], remarks: list[Remark]) -> list[Remark]:
    """A Hard Reset after a fault is what the standard asks for, and no fault of its own."""
    faults = [each for each in remarks if each.finding.level in GRAVE and each.finding.rule != "hard-reset"]
    causes = {each.number: each.finding.rule for each in reversed(faults) if each.number is not None}
    numbers = sorted(causes)
    out: list[Remark] = []
    for remark in remarks:
        finding, number = remark.finding, remark.number
        if finding.rule == "hard-reset" and finding.level == "fail" and number is not None:
            reset = bisect_left(resets, number)
            since = resets[reset - 1] if reset else -1
            at = bisect_right(numbers, since)
            cause = causes[numbers[at]] if at < len(numbers) and numbers[at] <= number else ""
            # A source that is back too soon is the fault; the reset is what it did not keep to.
            if cause or causes.get(_next(log, number)) == course.recover_short.id:
                text = f"{finding.text}; follows from {cause}" if cause else finding.text
                finding = finding._replace(level="note", text=text)
        out.append(remark._replace(finding=finding))
    return out


def _next(log: Log, number: int) -> int:
    """The message with which a source is back after a reset; the reset's own number where none is."""
    later = log.since(number + 1)
    return next((step.number for step in later if step.name != "GoodCRC" and step.read), number)


def _habits(starts: Sequence[int], remarks: list[Remark], more: Counter[tuple[str, Level, str]]) -> list[Remark]:
    """What one side does wrong again and again in one attach told at the first time, with how often it came.

    What goes beyond a cable, and a wrong role, is one fault however often it shows. ``more`` are those that were
    counted alone: where there was one attach they are among those that are told of here.
    """
    alike: dict[tuple[object, ...], list[int]] = {}
    for at, remark in enumerate(remarks):
        finding = remark.finding
        if finding.rule in _ALWAYS or (finding.rule in _OFTEN and remark.number is not None):
            attach = bisect_right(starts, remark.number or 0)
            # More than the cable carries is one fault, whether it is offered, taken or both.
            what = (_CABLE, "") if finding.rule in _OF_CABLE else (finding.rule, finding.subject)
            alike.setdefault((*what, finding.level, attach), []).append(at)
    dropped: set[int] = set()
    for (rule, *_), places in alike.items():
        if rule not in (_CABLE, header.role.id) and len(places) < _HABIT:
            continue
        first, *others = sorted(places, key=lambda at: remarks[at].number or 0)
        dropped.update(others)
        if others and rule != _CABLE:
            finding = remarks[first].finding
            times = len(others) + (0 if starts else more.pop((finding.rule, finding.level, finding.subject), 0))
            text = f"{finding.text}; and so {times} time{'s' * (times > 1)} more"
            remarks[first] = remarks[first]._replace(finding=finding._replace(text=text))
    if any(rule == _CABLE for rule, *_ in alike):
        for kind in [kind for kind in more if kind[0] in _OF_CABLE]:
            del more[kind]
    return [remark for at, remark in enumerate(remarks) if at not in dropped]


_CABLE = "cable"
_ALWAYS = (request.request_cable.id, request.offer_cable.id, header.role.id)
_OFTEN = (
    line.message_id.id, line.goodcrc_missing.id, line.goodcrc_wrong.id, line.goodcrc_late.id, line.retry_late.id,
    answer.answer_late.id, answer.ready_late.id, answer.ready_early.id, vendor.vdm_late.id, modes.pps_silent.id,
    modes.epr_silent.id, request.request_current.id, request.request_maximum.id, request.request_range.id,
    request.request_step.id,
)  # fmt: skip
_HABIT = 3
"""So often the same from the same side is a habit, and told once."""


def _refused_once(remarks: list[Remark]) -> list[Remark]:
    """A request that is refused again and again told once, with how often it was."""
    places = [at for at, each in enumerate(remarks) if each.finding.rule == course.request_refused.id]
    if len(places) < 2:
        return remarks
    first, finding = places[0], remarks[places[0]].finding
    text = f"{finding.text} ({len(places)} times in this log)"
    remarks[first] = remarks[first]._replace(finding=finding._replace(text=text))
    again = set(places[1:])
    return [remark for at, remark in enumerate(remarks) if at not in again]
