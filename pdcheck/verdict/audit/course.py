"""Rules on the larger course of a captured conversation: attach, swaps, resets, lists out of place, refusals."""

from __future__ import annotations

from pdcheck.bits.problems import BEYOND
from pdcheck.contract.following.state import POWER_SWAPS, SINK, SOURCE, Log, Step, Swap
from pdcheck.facts.origin import Origin, Range
from pdcheck.facts.timing import timer
from pdcheck.verdict.audit.answer import SEQUENCES, spoken
from pdcheck.verdict.audit.rule import Tell, at_least_s, at_most_s, audit_rule, in_turn, later_than
from pdcheck.verdict.audit.words import agreed_text


def _plain(step: Step) -> bool:
    """Whether a message counts as said between the two: read, no GoodCRC, no repetition."""
    return step.read and not step.retry and step.name != "GoodCRC"


@audit_rule(
    timer("tTypeCSendSourceCap"),
    "The source does not give the sink the time to wake up and answer.",
    covers=("answer-order", "message-id"),
)
async def lists_soon(log: Log, tell: Tell) -> None:
    """Capabilities sent again too soon (tTypeCSendSourceCap).

    Told once for a row of them.
    """
    last: Step | None = None
    told = False
    async for step in in_turn(log):
        if not step.read or step.name == "GoodCRC" or step.message.sop != "SOP":
            continue
        if step.name != "Source_Capabilities" or step.sender != SOURCE or step.restart:
            last, told = None, False
        if step.name == "Source_Capabilities" and step.sender == SOURCE:
            same = last is not None and last.message.words == step.message.words
            elapsed = at_most_s(log, last.time_s, step.time_s) if last is not None and same else None
            # After a contract a list that has changed again may follow at once.
            if not step.retry and not told and step.before.contract is None:
                text = "sends Source_Capabilities again {} or less after those before"
                told = tell.early(step, SOURCE, text, elapsed)
            last = step


@audit_rule(
    timer("tSrcRecover").origin, "VBUS has not been off long enough: the sink may not have started anew.", covers=("*",)
)
async def recover_short(log: Log, tell: Tell) -> None:
    """A source that is back too soon after a Hard Reset (tSrcRecover).

    To the first word of the source or to the cable; it is longer out of EPR mode.
    """
    reset: Step | None = None
    async for step in in_turn(log):
        if step.name == "Hard_Reset":
            reset = step if step.before.heard else None  # nobody was there whom it could have reset
        elif reset is not None and _plain(step) and step.sender != SINK and step.message.sop in ("SOP", "SOP'"):
            limit = timer("tSrcRecover", epr=reset.before.epr and reset.before.sure)
            if step.before.blur <= reset.number and not step.restart:
                text, elapsed = "came {} or less after the Hard Reset", at_most_s(log, reset.time_s, step.time_s)
                tell.early(step, step.sender, f"{step.name} {text}", elapsed, limit)
            reset = None


def _ready_limit(step: Step, swap: Swap) -> tuple[Range, float | None]:
    """The limit for this PS_RDY of a swap, and the time since when [s]."""
    if swap.name in POWER_SWAPS:
        first = swap.ready is None
        name = "tPSSourceOff" if first else "tPSSourceOn"
        return timer(name, epr=step.before.epr), swap.time_s if first else swap.ready_s
    return timer("tVCONNSourceOn"), swap.time_s


@audit_rule(
    timer("tPSSourceOff").origin,
    "The other side gives up the swap with Error Recovery, or a Hard Reset for VCONN_Swap.",
)
def swap_late(log: Log, step: Step, tell: Tell) -> None:
    """PS_RDY that comes too late in a swap (tPSSourceOff, tPSSourceOn, tVCONNSourceOn)."""
    swap = step.before.swap
    if step.name != "PS_RDY" or swap is None or not _plain(step) or step.before.blur > swap.number:
        return
    if swap.name == "Data_Reset":
        return
    limit, since_s = _ready_limit(step, swap)
    elapsed = at_least_s(log, since_s, swap.message, step.time_s)
    after = "the PS_RDY before it" if swap.ready is not None else f"the Accept of {swap.name}"
    text = f"PS_RDY came {{}} or more after {after} ({limit.name})"
    soft = swap.name == "VCONN_Swap" and not later_than(timer("tVCONNSourceOn older"), elapsed)
    tell.late(step, step.sender, text, elapsed, limit, level="warn" if soft else None)


@audit_rule(SEQUENCES, "A swap was accepted and one side did not do its part.", covers=("answer-order",))
def swap_missing(log: Log, step: Step, tell: Tell) -> None:
    """A swap that does not come to its end."""
    swap = step.before.swap
    if swap is None or not step.read or step.retry or step.before.blur > swap.number or step.restart:
        return
    reset = step.name in ("Hard_Reset", "Soft_Reset")
    if not reset and (not spoken(step) or step.name in ("PS_RDY", "Data_Reset_Complete")):
        return
    due = "Data_Reset_Complete" if swap.name == "Data_Reset" else "PS_RDY"
    if swap.ready is not None:
        due = "the second PS_RDY"
    limit, since_s = _ready_limit(step, swap)
    elapsed = at_least_s(log, since_s, swap.message, step.time_s)
    text = f"{due} of {swap.name} did not come; then came {step.name}"
    if swap.name == "Data_Reset":
        tell(log.steps[swap.number], "line", text)
    else:
        tell(log.steps[swap.number], "line", text, elapsed, limit.require_max(), "s", origin=limit.origin)


@audit_rule(timer("tSwapSourceStart"), "The new sink may not listen yet.")
async def swap_start(log: Log, tell: Tell) -> None:
    """A new source that speaks too soon after a swap (tSwapSourceStart)."""
    ended: Step | None = None
    async for step in in_turn(log):
        swap = step.before.swap
        if ended is not None and _plain(step) and step.message.sop == "SOP":
            if step.name == "Source_Capabilities":
                elapsed = at_most_s(log, ended.time_s, step.time_s)
                tell.early(step, SOURCE, "Source_Capabilities came {} or less after the swap", elapsed)
            ended = None
        if step.name == "PS_RDY" and step.read and swap is not None and swap.name in POWER_SWAPS:
            ended = step if swap.ready is not None else None


@audit_rule(
    Origin("PD R3.2 V1.1, 6.5.15 and EPR mode", "memory"),
    "In EPR mode the sink answers Source_Capabilities that it did not ask for with a Hard Reset.",
    covers=("answer-order", "answer-missing", "answer-stray", "offer-changed"),
)
def list_misplaced(log: Log, step: Step, tell: Tell) -> None:
    """Capabilities that have no place in this mode."""
    before = step.before
    if not _plain(step) or step.sender != SOURCE or not before.sure or before.last is None:
        return
    if before.blur >= before.last[0] or step.restart or step.answered is not None:
        return
    if step.name == "Source_Capabilities" and before.epr and not before.doubt:
        tell(step, SOURCE, "sends Source_Capabilities in EPR mode, where the sink did not ask for them")
    if step.name == "EPR_Source_Capabilities" and not before.epr and before.question is None:
        tell(step, SOURCE, "sends EPR_Source_Capabilities in SPR mode, where the sink did not ask for them")


@audit_rule(
    Origin("PD R3.2 V1.1, GotoMin and GiveBack", "memory"),
    "The sink has no lesser current: it answers Not_Supported or Reject.",
)
def goto_min(log: Log, step: Step, tell: Tell) -> None:
    """GotoMin to a sink that did not offer it."""
    contract = step.before.contract
    if step.name != "GotoMin" or not _plain(step) or contract is None or step.before.blur > contract.number:
        return
    if not contract.asked.reading.fields.get("give_back"):
        tell(step, SOURCE, "sends GotoMin, though the sink's request did not set GiveBack")


@audit_rule(
    SEQUENCES,
    "The source does not give what it offers: the sink has nothing to ask for and resets. Use another object.",
)
def request_refused(log: Log, step: Step, tell: Tell) -> None:
    """A request within the offer that is rejected, with no contract to fall back to."""
    asked = step.before.asked
    if step.name != "Reject" or step.answered is None or asked is None or step.before.contract is not None:
        return
    if asked.offer is None or asked.epr != step.before.epr:
        return
    if any(problem.code in BEYOND for problem in asked.reading.problems):
        return
    if next((each.name for each in log.since(step.number + 1) if _plain(each)), "") != "Hard_Reset":
        return
    text = f"rejects the request for {agreed_text(asked)} (object {asked.position}), which it offers"
    tell(step, SOURCE, f"{text}; there is no contract, and the sink finds nothing else to ask for")
