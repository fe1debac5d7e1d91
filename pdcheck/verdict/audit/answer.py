"""Rules on order and time in a captured conversation: questions and answers, Accept to PS_RDY, asking again."""

from __future__ import annotations

from pdcheck.bits.header import CAPABILITIES, REQUESTS
from pdcheck.contract.following.after import EPR_ONLY
from pdcheck.contract.following.state import (
    ANSWERS,
    CHUNK,
    CHUNK_REQUEST,
    INTERRUPTING,
    OTHER,
    SINK,
    SOURCE,
    Accepted,
    Log,
    Open,
    State,
    Step,
)
from pdcheck.facts.capabilities import FIRST_OBJECT_VOLTAGE
from pdcheck.facts.origin import Origin, Range
from pdcheck.facts.timing import PD_TIMERS, timer
from pdcheck.facts.voltage import AVS_SMALL_STEP, PPS_SMALL_STEP
from pdcheck.parts.choices import either
from pdcheck.verdict.audit.rule import (
    Tell,
    at_least_s,
    at_most_s,
    audit_rule,
    duration_text,
    in_turn,
    later_than,
    sooner_than,
)

SEQUENCES = Origin("PD R3.2 V1.1, message sequences", "memory")
_RESPONSE = timer("tReceiverResponse")
_FIVE_MV = round(FIRST_OBJECT_VOLTAGE.value * 1000)


def spoken(step: Step) -> bool:
    """Whether a message takes a turn in the conversation of the two ports."""
    if not step.read or step.retry or step.message.sop != "SOP":
        return False
    return step.name != "GoodCRC" and step.name not in INTERRUPTING


def crosses_list(log: Log, step: Step) -> bool:
    """Whether a request was on its way when a new list came: it asks for what stands, the next one is the answer."""
    before = step.before
    if step.name not in REQUESTS or step.sender != SINK or before.question is None or before.contract is None:
        return False
    if before.question.name not in CAPABILITIES or step.message.words[:1] != (before.contract.asked.reading.word,):
        return False
    later = next((each for each in log.steps[step.number + 1 : step.number + 12] if spoken(each)), None)
    return later is not None and later.sender == SINK and later.name in REQUESTS


def _expected(log: Log, step: Step) -> Open | None:
    """The question that this message leaves without its answer, where the other side is known to have heard it."""
    question = step.before.question
    if question is None or step.answered is not None or step.before.blur > question.number:
        return None
    if step.name in EPR_ONLY and not step.before.sure:
        return None  # the log begins in EPR mode, and the list was for information
    if question.name in REQUESTS:
        # A new list and a request may cross on the line; the request then goes without its answer.
        if step.name in CAPABILITIES and step.sender == SOURCE and step.before.contract is not None:
            return None
        if crosses_list(log, log.steps[question.number]):
            return None
    # Capabilities go out unasked until somebody is there.
    return question if OTHER[question.sender] in step.before.heard else None


@audit_rule(SEQUENCES, "One side has lost the thread; such a conversation ends in a Soft Reset or a Hard Reset.")
def answer_order(log: Log, step: Step, tell: Tell) -> None:
    """Something else comes where an answer was due."""
    question = _expected(log, step)
    if question is None or not spoken(step) or step.name == "Soft_Reset" or step.restart:
        return
    if step.sender != question.sender:
        text = f"{step.name} came where {either(question.answers)} was due in answer to {question.name}"
        tell(step, step.sender, text)
    elif not _waited(log, question, step, _RESPONSE.require_max()):
        tell(step, step.sender, f"sends {step.name} without waiting for the answer to {question.name}")


def _waited(log: Log, since: Open | Accepted, step: Step, least_s: float) -> bool:
    """Whether one side gave the other its time; taken so where the times are not known."""
    elapsed = at_most_s(log, since.time_s, step.time_s)
    return elapsed is None or elapsed >= least_s


@audit_rule(
    timer("tSenderResponse"),
    "The other side did not follow, or does not know this message; Not_Supported would be an answer too.",
)
def answer_missing(log: Log, step: Step, tell: Tell) -> None:
    """A question without an answer."""
    question = _expected(log, step)
    if question is None or step.restart or step.retry or not _waited(log, question, step, _RESPONSE.require_max()):
        return
    if step.name not in ("Hard_Reset", "Soft_Reset") and (not spoken(step) or step.sender != question.sender):
        return
    between = log.steps[question.number + 1 : step.number]
    if any(_is_garbled(each, OTHER[question.sender]) for each in between):
        return
    if step.name == question.name == "Source_Capabilities" and sooner_than(
        timer("tTypeCSendSourceCap"), at_most_s(log, question.time_s, step.time_s)
    ):
        return  # the source does not wait: a fault of its own
    elapsed = at_least_s(log, question.time_s, question.message, step.time_s)
    after = "" if elapsed is None else f" within {duration_text(elapsed)}"
    text = f"no {either(question.answers)} in answer to {question.name}{after}; then came {step.name}"
    tell(log.steps[question.number], OTHER[question.sender], text, elapsed, tell.limit.require_max(), "s")


@audit_rule(SEQUENCES, "Nothing was asked, or the log has lost the question.")
async def answer_stray(log: Log, tell: Tell) -> None:
    """An answer to no question."""
    begun: State | None = None
    async for step in in_turn(log):
        before = step.before
        if step.name == CHUNK and not step.retry and not step.message.extended_fields()["chunk_number"]:
            begun = before
        if begun is not None and step.message.extended_fields().get("chunk_number"):
            before = begun  # what was known when its first chunk came
        if step.retry or not step.read or step.message.sop != "SOP" or step.restart:
            continue
        if step.answered is not None or before.question is not None or before.last is None:
            continue
        if before.blur > before.last[0] or before.block is not None:
            continue
        if _is_garbled(log.steps[before.last[0]], OTHER[step.sender]):
            continue
        if step.name in ("Accept", "Reject", "Wait"):
            stray = before.accepted is None or before.accepted.by != "GotoMin"
        else:
            stray = step.name in _ANSWERS_ALONE or (step.name == "Not_Supported" and _answers_none(log, step))
        if stray:
            tell(step, step.sender, f"{step.name} came where nothing was asked")


def _is_garbled(step: Step, sender: str) -> bool:
    """Whether a message of ``sender`` is not what it should be, as is told of there: question or answer it may be."""
    if step.sender != sender or step.message.sop != "SOP" or step.name == "GoodCRC":
        return False
    return step.name in (CHUNK, CHUNK_REQUEST) or bool(step.told.problems)


_ANSWERS_ALONE = {answer for answers in ANSWERS.values() for answer in answers} - {
    "Accept", "Reject", "Wait", *REQUESTS, *CAPABILITIES,
    "EPR_Mode Enter Acknowledged", "EPR_Mode Enter Failed", "Source_Info",
}  # fmt: skip
_ENDS = ("Accept", "Reject", "Wait", "PS_RDY", "Not_Supported")


def _answers_none(log: Log, step: Step) -> bool:
    """Whether Not_Supported cannot be about the message before it."""
    last = step.before.last
    if last is None:
        return False
    said = log.steps[last[0]]
    return said.sender == step.sender or said.name in _ENDS


@audit_rule(_RESPONSE, "The asking side stops waiting after tSenderResponse and resets.")
def answer_late(log: Log, step: Step, tell: Tell) -> None:
    """An answer that comes too late (tReceiverResponse)."""
    question = step.answered
    if question is None or int(step.message.extended_fields().get("chunk_number", 0)):
        return
    elapsed = at_least_s(log, question.time_s, question.message, step.time_s)
    tell.late(step, step.sender, f"{step.name} came {{}} or more after {question.name}", elapsed)


def _same_object(state: State) -> bool:
    """Whether contract and request are of one adjustable object, within which the supply moves at once."""
    if state.contract is None or state.asked is None or state.asked.offer is None:
        return False
    old = state.contract.asked.offer
    return old is not None and old.is_adjustable and old.word == state.asked.offer.word


def _ready_limit(state: State) -> tuple[Range, bool]:
    """The time from Accept to PS_RDY, and whether it is that of a step within one object."""
    if _same_object(state):
        assert state.asked is not None and state.contract is not None and state.asked.offer is not None
        step_mv = abs((state.asked.voltage_mv or 0) - (state.contract.voltage_mv or 0))
        kind, small = ("Pps", PPS_SMALL_STEP) if state.asked.offer.kind == "pps" else ("Avs", AVS_SMALL_STEP)
        size = "Small" if step_mv <= round(small.value * 1000) else "Large"
        return timer(f"t{kind}SrcTrans{size}"), True
    # A log that begins amid a contract may have begun in EPR mode, or with a contract within the same object.
    asked = state.asked
    limit = timer("tSrcTransReq", epr=state.epr or not state.sure if asked is None else asked.epr)
    adjustable = asked is not None and (asked.offer is None or asked.offer.kind.endswith("avs"))
    if state.contract is None and adjustable:
        limit = max(limit, timer("tAvsSrcTransLarge"), key=Range.require_max)
    return limit, False


@audit_rule(PD_TIMERS, "The sink gives up after tPSTransition and sends a Hard Reset.")
def ready_late(log: Log, step: Step, tell: Tell) -> None:
    """PS_RDY that comes too late after Accept (tSrcTransReq)."""
    accepted = step.before.accepted
    if not _is_ready(step) or accepted is None:
        return
    limit, within = _ready_limit(step.before)
    elapsed = at_least_s(log, accepted.time_s, accepted.message, step.time_s)
    text = f"PS_RDY came {{}} or more after {accepted.by} ({limit.name})"
    # That PS_RDY follows the supply at once is not in so many words in the limit of the supply.
    soft = within and not later_than(timer("tSrcTransReq", epr=step.before.epr), elapsed)
    tell.late(step, SOURCE, text, elapsed, limit, level="warn" if soft else None)


@audit_rule(timer("tSrcTransition"), "VBUS moves while the sink may still draw its old current.", level="warn")
def ready_early(log: Log, step: Step, tell: Tell) -> None:
    """A source that moves the voltage too soon (tSrcTransition)."""
    before = step.before
    accepted, asked = before.accepted, before.asked
    if not _is_ready(step) or accepted is None or accepted.by != "Accept" or asked is None or _same_object(before):
        return
    old = _FIVE_MV if before.contract is None else before.contract.voltage_mv
    elapsed = at_most_s(log, accepted.time_s, step.time_s)
    if old is not None and asked.voltage_mv not in (None, old):
        text = "PS_RDY came {} or less after Accept, with the voltage to be moved in between"
        tell.early(step, SOURCE, text, elapsed)


def _is_ready(step: Step) -> bool:
    return step.name == "PS_RDY" and step.sender == SOURCE and step.read and not step.retry and step.before.swap is None


@audit_rule(SEQUENCES, "The source did not reach the new voltage, or one side did not wait for it.")
def ready_missing(log: Log, step: Step, tell: Tell) -> None:
    """Something else comes between Accept and PS_RDY."""
    accepted = step.before.accepted
    if accepted is None or not step.read or step.retry or step.before.blur > accepted.number:
        return
    reset = step.name in ("Hard_Reset", "Soft_Reset")
    if (not reset and not spoken(step)) or step.name == "PS_RDY" or step.message.sop not in ("SOP", "Hard_Reset"):
        return
    if accepted.by == "GotoMin" and step.name in ("Reject", "Not_Supported"):
        return
    if step.name in ("Accept", "Reject", "Wait") and step.answered is None:
        return  # an answer to nothing, told of by itself
    gave_time = _waited(log, accepted, step, timer("tPSTransition", epr=step.before.epr).require_min())
    if reset and not gave_time:
        return  # the reset is the fault then
    if step.sender == SINK and not reset and not gave_time:
        tell(step, SINK, f"sends {step.name} without waiting for PS_RDY")
        return
    elapsed = at_least_s(log, accepted.time_s, accepted.message, step.time_s)
    limit = timer("tSrcTransReq", epr=step.before.epr).require_max()
    text = f"no PS_RDY after {accepted.by}; then came {step.name}"
    tell(log.steps[accepted.number], SOURCE, text, elapsed, limit, "s")


@audit_rule(SEQUENCES, "The source says ready without having accepted a request, or the log has lost the Accept.")
def ready_stray(log: Log, step: Step, tell: Tell) -> None:
    """PS_RDY without a transition."""
    before = step.before
    if step.name != "PS_RDY" or not step.read or step.retry or before.swap is not None:
        return
    if before.accepted is not None or before.asked is not None or before.last is None:
        return
    if before.blur <= before.last[0] and before.question is None and not before.unsure:
        what = "no request was accepted" if step.sender == SOURCE else "nothing was accepted"
        tell(step, step.sender, f"PS_RDY came where {what}")


@audit_rule(timer("tSinkRequest"), "Give the source the time that it asked for.")
def wait_short(log: Log, step: Step, tell: Tell) -> None:
    """A sink that asks again too soon after Wait (tSinkRequest)."""
    if step.name not in REQUESTS or step.retry or not step.read or step.sender != SINK:
        return
    elapsed = at_most_s(log, step.before.waited_s, step.time_s)
    tell.early(step, SINK, f"{step.name} came {{}} or less after Wait", elapsed)
