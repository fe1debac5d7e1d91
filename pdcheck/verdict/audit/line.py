"""Rules on the protocol layer of a captured conversation: CRC, MessageID, GoodCRC, retries."""

from __future__ import annotations

from pdcheck.bits.header import HEADER
from pdcheck.bits.line import BIT_RATE_MAX, BIT_RATE_MIN, ORIGIN, RESETS
from pdcheck.contract.following.follow import airtime_s
from pdcheck.contract.following.state import OTHER, PLUG, SOFT_RESETS, Due, Log, Step
from pdcheck.facts.origin import Limit, Origin
from pdcheck.facts.timing import COUNTERS, PD_COUNTERS, timer
from pdcheck.verdict.audit.rule import Tell, audit_rule, duration_text

_HEADER = Origin("PD R3.2 V1.1, Message Header", "checked")
_PROTOCOL = Origin("PD R3.2 V1.1, protocol layer", "memory")
_ID = HEADER.field("id")
_COARSEST_S = 20e-6
"""Stamps coarser than this [s] say nothing of the time to a GoodCRC."""


@audit_rule(
    ORIGIN,
    "Look at the line: noise, a long lead on CC, the probe's ground. A single one is sent again and does no harm.",
)
def crc(log: Log, step: Step, tell: Tell) -> None:
    """A message with a wrong CRC."""
    if not step.read:
        text = f"the CRC of this {step.message.type} does not fit: it is not followed"
        tell(step, step.sender or "line", text)


@audit_rule(_HEADER, "The sender's protocol layer counts wrong, or the log has lost messages.")
def message_id(log: Log, step: Step, tell: Tell) -> None:
    """A MessageID out of order."""
    if not step.read or step.retry or step.restart or step.name == "GoodCRC" or step.message.sop in RESETS:
        return
    given, wanted = _ID.take(step.message.header), _wanted_ids(log, step)
    if wanted and given not in wanted:
        earlier = step.before.ids.get((step.message.sop, step.sender))
        since = "a reset" if earlier is None or step.name in SOFT_RESETS else f"MessageID {earlier.id}"
        text = f"{step.name} has MessageID {given}, where {wanted[0]} was due after {since}"
        tell(step, step.sender, text, given, wanted[0], "1")


def _wanted_ids(log: Log, step: Step) -> list[int]:
    """The MessageIDs that may stand here, the due one first; none where nothing is known."""
    before = step.before
    if step.name in SOFT_RESETS or f"{step.message.sop} {step.sender}" in before.fresh:
        return [0]
    earlier = before.ids.get((step.message.sop, step.sender))
    if earlier is None or before.blur > earlier.number:
        return []
    wanted = [*earlier.next_ids]
    if log.shows_good_crc and not earlier.acknowledged:
        wanted.append(earlier.id)  # whether the count goes on past a message that got no GoodCRC is left open
    elif before.last is not None and before.last[0] == earlier.number and earlier.raw == step.message.raw:
        wanted.append(earlier.id)  # capabilities that nobody has answered yet
    return wanted


def _is_awaited(due: Due, step: Step) -> bool:
    """Whether the one who should send a GoodCRC is known to be there, by what came before or by its answer."""
    there = due.sender == PLUG or OTHER[due.sender] in step.before.heard
    return there or (step.message.sop == due.sop and step.sender == OTHER[due.sender])


@audit_rule(_PROTOCOL, "The receiver did not take the message: asleep, gone, or disturbed.")
def goodcrc_missing(log: Log, step: Step, tell: Tell) -> None:
    """A message without a GoodCRC that is not sent again.

    In a log that shows them, from one who is heard of otherwise.
    """
    due = step.before.due
    if not log.shows_good_crc or due is None or step.before.blur > due.number or not _is_awaited(due, step):
        return
    if step.retry or step.name == "GoodCRC" or log.steps[step.number - 1].name == "GoodCRC":
        return  # one that does not fit is told of by itself
    asked = log.steps[due.number]
    tell(asked, OTHER[due.sender], f"no GoodCRC for {asked.name}, and it was not sent again")


@audit_rule(_HEADER, "The receiver acknowledges what was not sent, so the sender repeats or gives up.")
def goodcrc_wrong(log: Log, step: Step, tell: Tell) -> None:
    """A GoodCRC that belongs to no message."""
    if step.name != "GoodCRC" or not step.read or not step.number or step.before.blur >= step.number - 1:
        return
    due, given = step.before.due, _ID.take(step.message.header)
    if due is None or due.sop != step.message.sop:
        tell(step, step.sender, f"a GoodCRC on {step.message.sop} where no message waits for one")
    elif due.id != given:
        asked = log.steps[due.number]
        text = f"the GoodCRC for {asked.name} has MessageID {given} in place of {due.id}"
        tell(step, step.sender, text, given, due.id, "1")


@audit_rule(timer("tTransmit"), "Later than tReceive and the sender repeats the message.", level="warn")
def goodcrc_late(log: Log, step: Step, tell: Tell) -> None:
    """A GoodCRC that comes too late (tTransmit)."""
    due = step.before.due
    if step.name != "GoodCRC" or due is None or step.after.due is not None or step.before.blur > due.number:
        return
    if due.time_s is None or step.time_s is None or log.resolution_s is None or log.resolution_s > _COARSEST_S:
        return
    elapsed = round(step.time_s - due.time_s - airtime_s(log.steps[due.number].message) - log.resolution_s, 7)
    tell.late(step, step.sender, "the GoodCRC began {} or more after the message", elapsed)


@audit_rule(_PROTOCOL, "A few are no harm; many mean a disturbed line or a slow receiver.", level="note")
def retry(log: Log, step: Step, tell: Tell) -> None:
    """A message that had to be sent again."""
    if step.retry and _tries(step) == 2 and OTHER[step.sender] in step.before.heard:
        tell(step, step.sender, f"{step.name} was sent again with the same MessageID")


@audit_rule(PD_COUNTERS, "After the last try the sender is to go to a Soft Reset or a Hard Reset.")
def retries(log: Log, step: Step, tell: Tell) -> None:
    """A message that is sent again too often (nRetryCount)."""
    # Without times it is not known which are tries and which are sent anew.
    if not step.retry or (step.time_s is None and _is_called_out(step)):
        return
    limit, again = _retry_limit(step), _tries(step) - 1
    if again == round(limit.value) + 1:
        text = f"{step.name} was sent again {again} times and more, where {limit.value:g} are allowed"
        tell(step, step.sender, text, again, limit.value, "1", origin=limit.origin)


@audit_rule(timer("tRetry").origin, "The receiver may take it for a new message, or may still be sending its GoodCRC.")
def retry_late(log: Log, step: Step, tell: Tell) -> None:
    """A message that is sent again too late or too soon (tReceive, tRetry)."""
    if not step.retry or _tries(step) != 2 or log.resolution_s is None or step.message.sop == "SOP''":
        return
    earlier = step.before.ids[step.message.sop, step.sender]
    if earlier.time_s is None or step.time_s is None or step.before.blur > earlier.number:
        return
    if log.steps[step.number - 1].number != earlier.number:
        return  # something came in between that the sender may have waited for
    least, most = timer("tReceive").require_min(), timer("tReceive").require_max() + timer("tRetry").require_max()
    passed = step.time_s - earlier.time_s
    if passed < airtime_s(step.message) * (BIT_RATE_MIN.value / BIT_RATE_MAX.value) / 2:
        return  # no time for it: the clock was set anew
    late = passed - airtime_s(step.message) - log.resolution_s
    soon = passed - airtime_s(step.message) * (BIT_RATE_MIN.value / BIT_RATE_MAX.value) + log.resolution_s
    if late > most:
        text = f"{step.name} was sent again {duration_text(late)} or more after the first try"
        tell(step, step.sender, text, round(late, 7), round(most, 7), "s")
    elif soon < least:
        text = f"{step.name} was sent again {duration_text(soon)} or less after the first try"
        tell(step, step.sender, text, round(soon, 7), least, "s")


def _is_called_out(step: Step) -> bool:
    """Whether this is sent until somebody is there to hear it: capabilities to a sink, a question to a cable."""
    asks = step.name in ("Source_Capabilities", "Vendor_Defined") and step.sender != PLUG
    return asks and OTHER[step.sender] not in step.before.heard


def _tries(step: Step) -> int:
    return step.after.ids[(step.message.sop, step.sender)].tries


def _retry_limit(step: Step) -> Limit:
    if step.sender == PLUG:
        return COUNTERS["nRetryCount cable plug"]
    return COUNTERS["nRetryCount R2.0" if step.message.revision in ("1.0", "2.0") else "nRetryCount"]
