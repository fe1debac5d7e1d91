"""Rules on structured vendor messages in a captured conversation: their answers, BUSY, how often a cable is asked."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator

from pdcheck.bits.line import RESETS
from pdcheck.contract.following.sender import Said, vendor_said
from pdcheck.contract.following.state import OTHER, PLUG, PORT, Log, Step
from pdcheck.facts.cable import UNMARKED_CURRENT
from pdcheck.facts.timing import COUNTERS, timer
from pdcheck.named import NamedTuple
from pdcheck.verdict.audit.rule import Tell, at_least_s, at_most_s, audit_rule, in_turn, sooner_than

_DISCOVER = "Discover Identity"
_ASKED = {"Discover Identity", "Discover SVIDs", "Discover Modes", "Enter Mode", "Exit Mode"}
"""Commands that every receiver has to answer; those of an SVID may be otherwise."""
_MODES = {"Enter Mode": "tVDMEnterMode", "Exit Mode": "tVDMExitMode"}


class Asking(NamedTuple):
    """A request with the step that asked last, and whether what ends it is its answer."""

    step: Step
    said: Said
    answered: bool


async def askings(log: Log) -> AsyncIterator[tuple[Step, list[Asking]]]:
    """Each step with the requests that it ends: one that it answers, or those that it came in place of an answer to."""
    pending: dict[str, tuple[Step, Said]] = {}  # by the ordered set that they came on
    async for step in in_turn(log):
        yield step, list(_ended(log, pending, step))


def _ended(log: Log, pending: dict[str, tuple[Step, Said]], step: Step) -> Iterator[Asking]:
    sop = step.message.sop
    if step.restart or step.name in RESETS:
        pending.clear()
    if step.name == "GoodCRC" or not step.read or step.name in RESETS:
        return
    said = vendor_said(step.told)
    asked = pending.get(sop)
    if step.retry and asked is not None and asked[0].message.raw == step.message.raw:
        pending[sop] = (step, asked[1])
        return
    if asked is not None:
        answers = step.name == "Not_Supported" if said is None else said.kind != "request"
        answers = answers and step.sender != asked[0].sender
        if answers or step.name != "Vendor_Defined_Extended":
            yield Asking(*pending.pop(sop), answers)
    # The two ports begin to talk: of a cable that was asked before them nothing more is to be expected.
    plug = pending.get("SOP'")
    if sop == "SOP" and plug is not None and not step.retry:
        elapsed = at_most_s(log, plug[0].time_s, step.time_s)
        if elapsed is None or elapsed > timer("tVDMSenderResponse").require_min():
            yield Asking(*pending.pop("SOP'"), False)
    if said is not None and said.kind == "request" and said.command in _ASKED:
        pending[sop] = (step, said)


@audit_rule(
    timer("tVDMReceiverResponse"),
    "The asker stops waiting after tVDMSenderResponse: a cable then counts as unmarked, and the charger offers "
    f"{UNMARKED_CURRENT.value:g} A.",
)
async def vdm_late(log: Log, tell: Tell) -> None:
    """A vendor message answered too late (tVDMReceiverResponse)."""
    async for answer, ended in askings(log):
        for asking in ended:
            if asking.answered and asking.step.before.blur <= asking.step.number:
                limit = timer(_MODES.get(asking.said.command, "tVDMReceiverResponse"))
                elapsed = at_least_s(log, asking.step.time_s, asking.step.message, answer.time_s)
                text = f"the answer to {asking.said.command} came {{}} or more after it ({limit.name})"
                tell.late(answer, answer.sender, text, elapsed, limit)


@audit_rule(
    timer("tVDMSenderResponse"),
    "A cable that does not give its identity counts as unmarked: the charger offers "
    f"{UNMARKED_CURRENT.value:g} A at most.",
)
async def vdm_missing(log: Log, tell: Tell) -> None:
    """A vendor message without an answer.

    A request that was heard, of a cable or of a port that speaks Revision 3.x.
    """
    async for until, ended in askings(log):
        for step, said, answered in ended:
            sent = until.before.ids.get((step.message.sop, step.sender))
            if answered or sent is None or not sent.acknowledged or until.before.blur > step.number:
                continue
            if step.message.sop == "SOP" and (until.sender != step.sender or step.message.revision != "3.x"):
                continue
            if not sooner_than(tell.limit, at_most_s(log, step.time_s, until.time_s)):
                tell(step, OTHER[step.sender], f"no answer to {said.command}; then came {until.name}")


@audit_rule(timer("tVDMReceiverResponse"), "The asker drops it; the log may have lost the request.", covers=("word",))
async def vdm_stray(log: Log, tell: Tell) -> None:
    """An answer to no vendor message, or to another."""
    heard: set[str] = set()
    odd: dict[str, Step] = {}  # what was said before on an ordered set and was no question that has to be answered
    async for step, ended in askings(log):
        said = vendor_said(step.told)
        if said is None or step.retry or not step.read:
            continue
        sop = step.message.sop
        before, odd[sop] = odd.get(sop), step
        if said.kind == "request":
            heard.add(sop)
            if said.command in _ASKED:
                del odd[sop]
            continue
        asking = next((each for each in ended if each.answered), None)
        if asking is not None and (asking.said.command, asking.said.svid) != (said.command, said.svid):
            text = f"answers {asking.said.command} of SVID 0x{asking.said.svid:04X} with {said.command}"
            tell(step, step.sender, f"{text} of SVID 0x{said.svid:04X}")
            continue
        answers = before is not None and before.sender != step.sender  # though what was no right question
        if asking is None and not answers and sop in heard and said.command in _ASKED and step.before.blur < 0:
            tell(step, step.sender, f"{said.kind} of {said.command}, which was not asked")


@audit_rule(timer("tVDMBusy"), "Give the other the time that it needs.")
async def vdm_busy(log: Log, tell: Tell) -> None:
    """Asked again too soon after BUSY (tVDMBusy)."""
    most = COUNTERS["nBusyCount"]
    busy: dict[str, Step] = {}
    count: dict[str, int] = {}
    async for step in in_turn(log):
        said = vendor_said(step.told)
        if step.restart or step.name == "Hard_Reset":
            busy, count = {}, {}
        if said is None or step.retry or not step.read:
            continue
        sop = step.message.sop
        if said.kind == "BUSY":
            busy[sop], count[sop] = step, count.get(sop, 0) + 1
        elif said.kind == "request" and sop in busy:
            since = busy.pop(sop)
            elapsed = at_most_s(log, since.time_s, step.time_s)
            soon = tell.early(step, step.sender, f"{said.command} was asked again {{}} or less after BUSY", elapsed)
            if not soon and count[sop] == round(most.value) + 1:
                text = f"{said.command} is asked again after {count[sop]} times BUSY"
                tell(step, step.sender, text, count[sop], most.value, "1", origin=most.origin)
        elif said.kind in ("ACK", "NAK"):
            busy.pop(sop, None)
            count[sop] = 0


@audit_rule(timer("tDiscoverIdentity"), "A slow marker may take this for noise; the cable then counts as unmarked.")
async def identity_asked(log: Log, tell: Tell) -> None:
    """A cable that is asked for its identity too soon again, or too often (tDiscoverIdentity)."""
    most = COUNTERS["nDiscoverIdentityCount"]
    last: Step | None = None
    count = 0
    async for step in in_turn(log):
        if step.restart or step.name == "Hard_Reset":
            last, count = None, 0
        said = vendor_said(step.told)
        if said is None or not step.read or step.message.sop != "SOP'" or said.command != _DISCOVER:
            continue
        if step.sender == PLUG:
            last, count = None, 0
        elif step.sender == PORT and said.kind == "request":
            if step.retry:
                last = step
                continue
            count += 1
            elapsed = None if last is None else at_most_s(log, last.time_s, step.time_s)
            text = f"{_DISCOVER} was sent again {{}} or less after one without an answer"
            if not tell.early(step, PORT, text, elapsed) and count == round(most.value) + 1:
                text = f"{_DISCOVER} is sent {count} times without an answer"
                tell(step, PORT, text, count, most.value, "1", origin=most.origin)
            last = step
