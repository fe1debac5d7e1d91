"""Change: what happens in a rig when its source offers less, or the plug is pulled and put back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, ClassVar, Literal

from pdcheck.contract.available import Available
from pdcheck.contract.lowering import contracts_down, left_of, lowered, up_to_voltage
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.errors import InputError
from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.marks import AMONG, UNTOLD, told
from pdcheck.named import NamedTuple
from pdcheck.parts.behaviour import Lowered
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import NoRequest
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import format_quantity, parse_quantity, quoted, under
from pdcheck.result import Result
from pdcheck.verdict.case import Case, kept_v, needed_v
from pdcheck.verdict.change.bus_path import BusPath, hard_reset, new_capabilities, unplugged
from pdcheck.verdict.change.effects import accessory_findings, hold_up_s, inrush_findings
from pdcheck.verdict.cut_off import dip_at, falls_below, never_starts
from pdcheck.verdict.finding import GRAVE, Finding, Verdict, by_gravity
from pdcheck.verdict.judge import Judgement, judge_case

Fate = Literal["goes on", "may stop", "stops", "restarts", "may not restart", "starts", "stays off"]
LASTING: tuple[Fate, ...] = ("may stop", "stops", "may not restart")
"""Fates of a branch that ran before and does not surely run afterwards."""

BRANCH_RULES = (
    "converter-input-low",
    "converter-start",
    "led-headroom",
    "led-dark",
    "load-voltage-low",
    "load-weak",
    "start-blocked",
    "input-swings",
)
"""Rules whose failure means that one branch does not run; the other grave ones are about the bus as a whole."""

START_RULES = ("converter-start", "start-latch", "start-overload", "start-blocked", "live-ring")
"""Rules that are about starting: they say nothing of what runs already."""


class BranchFate(NamedTuple):
    """What becomes of one branch: did it run, what happens, does it already start on the 5 V in between, and why.

    ``hold_up_s`` is how long the stated capacitance carries all loads once VBUS goes away, until this branch stops [s];
    ``None`` where VBUS does not go away, or no capacitance is stated.
    """

    branch: str
    ran: bool
    fate: Fate
    starts_on_5v: bool
    reason: str
    hold_up_s: float | None


class PathChange(NamedTuple):
    """One way for the change to happen: what the bus does, what becomes of each branch, what is found on the way."""

    path: Annotated[BusPath, AMONG]
    fates: tuple[BranchFate, ...]
    findings: tuple[Finding, ...]

    @told
    def works(self) -> bool:
        """Whether every branch that ran runs again, and nothing grave is found on the way."""
        return not any(fate.fate in LASTING for fate in self.fates) and not any(
            finding.level in GRAVE for finding in self.findings
        )


class Change(NamedTuple):
    """From one contract to another: ``to`` says what happens, ``after`` judges the rig on what it ends up with."""

    to: str
    before: Annotated[Judgement, UNTOLD]
    after: Annotated[Judgement, UNTOLD]
    paths: tuple[PathChange, ...]

    @told
    def works(self) -> bool:
        """Whether the rig works afterwards and goes on on every path."""
        return self.after.works and all(path.works for path in self.paths)

    @told
    def contract(self) -> Contract:
        """What stands afterwards."""
        return self.after.contract

    @told
    def verdict(self) -> Verdict:
        """The verdict on that."""
        return self.after.verdict

    @told
    def findings(self) -> tuple[Finding, ...]:
        """What is found on that."""
        return self.after.findings


@dataclass(frozen=True, repr=False)
class Changed(Result):
    """A rig on a source and cable, and every change asked for; ``asked`` is the one that was named, if any was."""

    SCHEMA: ClassVar[str] = "change/2"
    TITLE: ClassVar[str] = "What happens when a charger offers less"
    ROWS: ClassVar[tuple[str, ...]] = ("changes", "paths", "fates")

    rig: str
    source: str
    cable: str
    contract: Contract
    verdict: Verdict
    works: bool
    changes: tuple[Change, ...]
    asked: Annotated[str | None, UNTOLD] = None

    def answer(self) -> str:
        """What it survives, and what not."""
        return "; ".join(f"{each.to}: {'works' if each.works else 'does not work'}" for each in self.changes)


class GoingOn(Case):
    """A case with its branches already running: a converter needs its least input, not its start-up voltage."""

    @cached_property
    def off(self) -> frozenset[str]:
        """Branches that stop on this contract even at its best."""
        return frozenset(each.name for each in self.branches() if under(self.source_v.max, kept_v(each)))


def changed(rig: Rig, source: Source, cable: Cable, to: str | None = None) -> Changed:
    """What happens when the source goes to ``to``, or to everything that it may go to.

    Args:
        rig: with its trigger as set.
        source: with its list as it is now.
        cable: between them.
        to: ``9V`` (nothing above it is offered any more), ``offer 2`` (that one and what is below), ``30W`` (the same
            voltages at less current), ``unplug``; ``None`` for what the source says of itself, each lower contract, and
            the plug pulled.

    Raises:
        InputError: ``to`` is none of these, or no such offer.

    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A", "voltage": "7V-12V"}}])
    >>> [change] = changed(rig, Source(id="s", offers="5V 3A, 9V 3A"), Cable(id="c", kind="C-C"), "5V").changes
    >>> [(each.path.way, each.fates[0].fate) for each in change.paths]
    [('capabilities', 'stops'), ('hard-reset', 'stops')]
    """
    before = Case(rig, source, cable)
    targets = list(_stated(before)) if to is None else [_asked(before, to)]
    judged = judge_case(before)
    found = tuple(_change(judged, text, contract) for text, contract in targets)
    works = all(each.works for each in found)
    return Changed(rig.title, source.id, cable.id, judged.contract, judged.verdict, works, found, to)


def moved(before: Judgement, to: str, left: Available) -> Change:
    """What happens when ``left`` is all that the source offers from now on; ``to`` says what that is.

    >>> from pdcheck.contract.available import available
    >>> from pdcheck.verdict.judge import judge
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A", "voltage": "7V-12V"}}])
    >>> before = judge(rig, Source("5V 3A, 9V 3A"), Cable())
    >>> moved(before, "5 V", available(Source("5V 3A"), Cable())).works
    False
    """
    return _change(before, to, _settled(before.case, left))


def _settled(case: Case, seen: Available) -> Contract:
    return settle_on(case.rig.trigger.request, case.rig.trigger.fallback, seen)


UNPLUG = "unplug"


def _asked(before: Case, to: str) -> tuple[str, Contract]:
    text, seen = to.strip(), before.seen
    if text.lower() == UNPLUG:
        return UNPLUG, before.contract
    offer = re.fullmatch(r"(?i)offer\s*([0-9]{1,2})", text)
    if offer is not None:
        found = next((each for each in seen.offers if each.position == int(offer[1])), None)
        if found is None:
            known = ", ".join(str(each.position) for each in seen.offers) or "none, since no PD reaches the trigger"
            raise InputError(f"{before.source.id} has no offer {offer[1]}", argument="to", expected=f"one of {known}")
        return f"nothing above {found.max_mv / 1000:g} V", _settled(before, up_to_voltage(seen, found.max_mv / 1000))
    try:
        if text[-1:] in ("W", "w"):
            power = parse_quantity(text, "W")
            left = seen._replace(offers=left_of(seen.offers, power))
            return f"no more than {format_quantity(power, 'W')}", _settled(before, left)
        volts = parse_quantity(text, "V")
    except InputError:
        expected = "9V, offer 2, 30W or unplug"
        raise InputError(f"{quoted(to)} is no change", argument="to", expected=expected) from None
    return f"nothing above {format_quantity(volts, 'V')}", _settled(before, up_to_voltage(seen, volts))


def _stated(before: Case) -> Iterator[tuple[str, Contract]]:
    """What the source says of itself, then each lower contract, then the plug pulled."""
    behaviour = before.source.behaviour
    if before.seen.pd:
        if behaviour.second_port is not None:
            left = lowered(before.seen, behaviour.second_port)
            yield f"second port in use, {behaviour.second_port}", _settled(before, left)
        for beside, printed in _beside(before.source):
            yield f"{beside} in use as well, {printed}", _settled(before, lowered(before.seen, printed))
        for step in behaviour.steps_down:
            left = lowered(before.seen, step.to)
            yield f"after {format_quantity(step.at_s, 's')}, {step.to}", _settled(before, left)
        for contract in list(contracts_down(before.rig.trigger, before.seen))[1:-1]:
            volts = "nothing it can use" if contract.outcome == "off" else f"{contract.voltage_v:g} V"
            yield f"down to {volts}", contract
    yield UNPLUG, before.contract


def _beside(source: Source) -> Iterator[tuple[str, Lowered]]:
    """What is printed of the port that it is judged on with others in use."""
    port = source.port_name
    for each in () if source.ports is None else source.ports.together:
        if port in each.ports and each.given:
            given = each.given[each.ports.index(port)]
            others = "+".join(name for name in each.ports if name != port)
            yield others, Lowered(offers=given.offers) if given.offers else Lowered(power_w=given.power_w)


def _change(before: Judgement, to: str, contract: Contract) -> Change:
    old = before.case
    after = Case(old.rig, old.source, old.cable, contract)
    five = Case(old.rig, old.source, old.cable, settle_on(NoRequest(), old.rig.trigger.fallback, old.seen))
    ends = (old.contract, old.source_v, contract, after.source_v)
    if to == UNPLUG:
        paths = [unplugged(contract, after.source_v)]
    elif old.contract.offer is None:
        paths = []
    elif contract.offer is None:
        paths = [hard_reset(*ends)]
    else:
        paths = [new_capabilities(*ends), hard_reset(*ends)]
    return Change(to, before, judge_case(after), tuple(_path_change(path, before, after, five) for path in paths))


def _path_change(path: BusPath, before: Judgement, after: Case, five: Case) -> PathChange:
    old = before.case
    follower = after if path.interrupted else GoingOn(after.rig, after.source, after.cable, after.contract)
    judged = judge_case(follower)
    # Whether a branch may start beside the others is asked of each of them, see ``_again``.
    left_out = ("start-blocked",) if path.interrupted else START_RULES
    judged = replace(judged, findings=tuple(each for each in judged.findings if each.rule not in left_out))
    bus = next((each for each in judged.findings if each.level in GRAVE and each.rule not in BRANCH_RULES), None)
    fates = tuple(_fate(branch, path, before, judged, bus, five) for branch in old.rig.branches)
    findings = [*inrush_findings(path, after), *accessory_findings(path, old, after)]
    if path.interrupted:
        findings += _five_volts_overload(five, after)
    return PathChange(path, fates, tuple(by_gravity(findings)))


def _fate(
    branch: Branch, path: BusPath, before: Judgement, after: Judgement, bus: Finding | None, five: Case
) -> BranchFate:
    name = branch.name
    ran = before.case.contract.outcome != "off" and name not in before.case.off and _failing(before, name) is None
    failing = _failing(after, name)
    off = after.case.contract.outcome == "off" or name in after.case.off
    early = path.interrupted and not under(five.before_v.min, needed_v(branch))
    why = after.case.contract.reason if off else ""
    held = hold_up_s(before.case, branch) if path.interrupted and ran else None
    if failing is None and (bus is None or bus.rule in START_RULES) and not off:
        stopped = (
            _again(branch, after.case) if path.interrupted or not ran else _through(branch, path, before, after.case)
        )
        if stopped is not None:
            never = stopped.fate == "stops" and not ran
            return BranchFate(name, ran, "stays off" if never else stopped.fate, early, stopped.reason, held)
    if failing is not None:
        why = failing.text
    elif bus is not None and not off:
        why = f"{bus.subject}: {bus.text}"
    fate: Fate
    if off or (failing is not None and _surely(after.case, branch, failing)):
        fate = "stops" if ran else "stays off"
    elif failing is not None or bus is not None:
        fate = "may not restart" if path.interrupted else "may stop"
    elif not ran:
        fate = "starts"
    else:
        fate = "restarts" if path.interrupted else "goes on"
    return BranchFate(name, ran, fate, early, why, held)


class _Stopped(NamedTuple):
    fate: Fate
    reason: str


def _again(branch: Branch, after: Case) -> _Stopped | None:
    """What keeps a converter from starting on the new contract, or from staying on; None where nothing does."""
    never = never_starts(after, branch)
    if never is not None:
        return _Stopped("stops" if never[0] else "may not restart", never[1])
    falls = falls_below(after, branch)
    return None if falls is None else _Stopped("may not restart", f"starts again and again: {falls[1]}")


def _through(branch: Branch, path: BusPath, before: Judgement, after: Case) -> _Stopped | None:
    """What stops a running converter on a way on which VBUS stays: its cut-off, for good or in the dip on the way."""
    falls = falls_below(after, branch)
    if falls is not None:
        return _Stopped("stops" if falls[0] else "may stop", falls[1])
    lower = after if after.source_v.min <= before.case.source_v.min else before.case
    lasts_s = timer("tSrcTransient").require_max()
    dip = dip_at(lower, branch, path.lowest_v)
    if dip is None or not dip.cuts_off(lasts_s):
        return None
    again, why = _again(branch, after), dip.words(lasts_s)
    if again is None:
        return _Stopped("restarts", f"{why}; then it starts again")
    return _Stopped("may stop", f"{why}; then it {again.reason}")


def _failing(judged: Judgement, branch: str) -> Finding | None:
    return next((each for each in judged.findings if each.subject == branch and each.rule in BRANCH_RULES), None)


def _surely(case: Case, branch: Branch, failing: Finding) -> bool:
    """Whether a branch gets too little even at the best corner."""
    limits = case.limits_by_rule.get(failing.rule, ())
    limit = next((each for each in limits if each.branch == branch.name and each.limit == failing.limit), None)
    if limit is None or limit.limit is None:
        return False
    # The best that it gets is what a limit of the other sense would look at.
    best = case.reached(limit._replace(sense="at_most", state="loaded"))
    return best is not None and under(best, limit.limit)


def _five_volts_overload(five: Case, after: Case) -> Iterator[Finding]:
    """Branches that start on the 5 V before a contract together want more than is sure there."""
    if after.contract.kind == "type-c" or after.contract.outcome == "off":
        return
    for found in judge_case(five).findings:
        if found.rule in ("source-current", "bus-collapse"):
            text = f"on the {SAFE_5V.typ:g} V in between: {found.text}"
            advice = "Keep the loads off until the contract is made: what starts there may hold the bus down."
            yield found._replace(level="warn", text=text, advice=advice)
