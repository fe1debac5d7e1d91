"""Rules on what goes on longer in a captured conversation: PPS, EPR mode, resets, offers that change."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.bits.header import REQUESTS
from pdcheck.bits.offers import Offer
from pdcheck.bits.power import EPR_MODE_FAILURE
from pdcheck.contract.following.state import INTERRUPTING, SINK, SOURCE, Agreed, Log, Step
from pdcheck.facts.origin import COMMON_PRACTICE, Origin
from pdcheck.facts.timing import timer
from pdcheck.facts.voltage import EPR_MAX
from pdcheck.verdict.audit.rule import (
    Tell,
    at_least_s,
    at_most_s,
    audit_rule,
    duration_text,
    in_turn,
    sooner_than,
)
from pdcheck.verdict.audit.words import agreed_text, offer_text

_EPR = Origin("PD R3.2 V1.1, 6.4.10, Table 6.50", "checked")
_ASK_AGAIN_AFTER = 4
"""After this cause of a refusal alone the sink may ask for EPR mode again."""
_IN_ENTRY = ("VCONN_Swap", "Accept", "Reject", "Wait", "PS_RDY", "Not_Supported", "Soft_Reset", *INTERRUPTING)


@audit_rule(
    timer("tPPSRequest"),
    "The source takes the sink for dead after tPPSTimeout and sends a Hard Reset: VBUS drops to 0 V.",
)
async def pps_silent(log: Log, tell: Tell) -> None:
    """A PPS sink that asks again too late (tPPSRequest).

    Told once for each silence.
    """
    told: float | None = None
    async for step in in_turn(log):
        before = step.before
        # The sink's timer runs from PS_RDY, or from a request that was not granted.
        contract, since = before.contract, before.request_s
        if contract is not None and contract.time_s is not None and since is not None:
            since = max(since, contract.time_s)
        if contract is None or contract.asked.offer is None or contract.asked.offer.kind != "pps" or since == told:
            continue
        if before.blur > contract.asked.number or since is None:
            continue
        ends = step.name in (*REQUESTS, "Hard_Reset") or step.number == len(log.steps) - 1
        elapsed = at_least_s(log, since, log.steps[contract.asked.number].message, step.time_s)
        if ends and tell.late(step, SINK, "no Request for {} in a PPS contract", elapsed):
            told = since


@audit_rule(
    _EPR,
    "A step out of order ends in a Soft Reset or a Hard Reset.",
    covers=("answer-order", "answer-missing", "answer-stray", "list-misplaced"),
)
def epr_order(log: Log, step: Step, tell: Tell) -> None:
    """EPR mode entered or left with a step out of order."""
    if not step.read or step.retry or step.message.sop != "SOP":
        return
    wrong = _epr_mode_wrong(step) if step.name.startswith("EPR_Mode") else _amid_entry(step)
    if wrong:
        tell(step, step.sender, wrong)


def _epr_mode_wrong(step: Step) -> str:
    """What is wrong with an EPR_Mode message where it stands; empty where nothing is."""
    before, action = step.before, step.name.removeprefix("EPR_Mode ")
    begun = before.last is None or before.blur >= before.last[0] or not before.sure
    if action == "Enter":
        if step.sender != SINK:
            return "EPR_Mode Enter comes from the source"
        if before.epr:
            return "EPR_Mode Enter in EPR mode"
        cause = EPR_MODE_FAILURE.get(before.epr_refused or 0)
        if before.epr_refused not in (None, _ASK_AGAIN_AFTER) and cause is not None:
            return f"EPR_Mode Enter again, though it was refused for good: {cause}"
    elif action == "Exit":
        contract = before.contract
        known = contract is not None and before.blur < contract.number
        if contract is not None and known and contract.asked.offer is not None and contract.asked.offer.is_epr:
            return f"EPR_Mode Exit while the contract is {agreed_text(contract.asked)}"
        if before.sure and not before.epr and before.entry is None and not begun:
            return "EPR_Mode Exit outside EPR mode"
    elif action.startswith("Enter "):
        if step.sender != SOURCE:
            return f"EPR_Mode {action} comes from the sink"
        if begun:
            return ""
        if before.entry is None and not before.epr_list_due:
            return f"EPR_Mode {action} without EPR_Mode Enter"
        if before.entry is None:
            return ""  # entered already, out of order, as was told of there
        if action == "Enter Succeeded" and not before.entry.acknowledged:
            return "EPR_Mode Enter Succeeded without Enter Acknowledged before it"
        if action == "Enter Acknowledged" and before.entry.acknowledged:
            return "EPR_Mode Enter Acknowledged for the second time"
    return ""


def _amid_entry(step: Step) -> str:
    before = step.before
    if step.name == "EPR_KeepAlive" and before.sure and not before.epr and before.blur < (before.last or (0,))[0]:
        return "EPR_KeepAlive outside EPR mode"
    if step.name == "GoodCRC" or step.name in _IN_ENTRY or step.restart:
        return ""
    if before.spr_list_due and before.blur < (before.last or (0,))[0] and step.name != "Source_Capabilities":
        return f"{step.name} came where Source_Capabilities were due after EPR_Mode Exit"
    if before.entry is not None and before.entry.acknowledged:
        return f"{step.name} amid the entry into EPR mode"
    if before.epr_list_due and step.sender == SOURCE and step.name != "EPR_Source_Capabilities":
        return f"{step.name} came where EPR_Source_Capabilities were due after the entry into EPR mode"
    return ""


@audit_rule(timer("tEnterEPR"), "The sink gives up the entry with a Soft Reset.")
def epr_late(log: Log, step: Step, tell: Tell) -> None:
    """An entry into EPR mode that takes too long (tEnterEPR)."""
    entry = step.before.entry
    if entry is None or not step.read or step.retry or step.before.blur > entry.number:
        return
    elapsed = at_least_s(log, entry.time_s, log.steps[entry.number].message, step.time_s)
    if step.name in ("EPR_Mode Enter Succeeded", "EPR_Mode Enter Failed"):
        tell.late(step, SOURCE, f"{step.name} came {{}} or more after EPR_Mode Enter", elapsed)
    elif step.name in ("Soft_Reset", "Hard_Reset") and entry.acknowledged:
        if sooner_than(tell.limit, at_most_s(log, entry.time_s, step.time_s)):
            return  # nobody waited for it
        text = f"the entry into EPR mode was acknowledged and never came to an end; then came {step.name}"
        tell(step, SOURCE, text, elapsed, tell.limit.require_max(), "s")


@audit_rule(
    _EPR, f"{EPR_MAX.value:g} V on a cable or a sink that is not made for it: do not use this source in EPR mode."
)
def epr_unfit(log: Log, step: Step, tell: Tell) -> None:
    """EPR mode though source, request or cable is not made for it."""
    if step.name != "EPR_Mode Enter Succeeded" or step.retry or not step.read or step.before.entry is None:
        return
    before, entered = step.before, "EPR mode is entered though"
    if before.cable is not None and not before.cable.epr:
        tell(step, SOURCE, f"{entered} the cable is not EPR capable")
    elif before.cable is None and before.cable_asked:
        tell(step, SOURCE, f"{entered} the cable did not answer when it was asked for its identity")
    if before.contract is not None and not before.contract.asked.epr_capable:
        tell(step, SOURCE, f"{entered} EPR Capable was not set in the request")
    if before.offers and "epr_capable" not in before.offers[0].flags:
        tell(step, SOURCE, f"{entered} EPR Capable is not set in the source's first object")


@audit_rule(_EPR, "The contract before it stays; see the cause for what would be needed.", level="note")
def epr_refused(log: Log, step: Step, tell: Tell) -> None:
    """An entry into EPR mode that is refused."""
    if step.name == "EPR_Mode Enter Failed" and not step.retry and step.read:
        cause = EPR_MODE_FAILURE.get(step.after.epr_refused or 0, "a reserved cause")
        tell(step, SOURCE, f"EPR mode was refused: {cause}")


@audit_rule(timer("tSinkEPRKeepAlive"), "The source leaves EPR mode with a Hard Reset after tSourceEPRKeepAlive.")
def epr_silent(log: Log, step: Step, tell: Tell) -> None:
    """Silence for too long in EPR mode (tSinkEPRKeepAlive)."""
    before = step.before
    counts = step.read and (step.name == "Hard_Reset" or (step.message.sop == "SOP" and step.name != "GoodCRC"))
    if not before.epr or before.last is None or not counts or before.blur > before.last[0]:
        return
    if before.question is not None or before.accepted is not None or before.epr_list_due:
        return  # the sink waits for the source, by other timers
    elapsed = at_least_s(log, before.last[1], log.steps[before.last[0]].message, step.time_s)
    tell.late(step, SINK, "no message for {} or more in EPR mode", elapsed)


@audit_rule(COMMON_PRACTICE, "VBUS drops to 0 V: the load loses its supply. See what came before it.")
def hard_reset(log: Log, step: Step, tell: Tell) -> None:
    """A Hard Reset."""
    if step.name != "Hard_Reset":
        return
    before = step.before
    if before.last is None or log.steps[before.last[0]].name == "Hard_Reset":
        tell(step, "line", "Hard Reset, with nothing said before it", level="note")
        return
    what = log.steps[before.last[0]]
    elapsed = at_most_s(log, before.last[1], step.time_s)
    when = "" if elapsed is None else f" {duration_text(elapsed)}"
    standing = "there was no contract" if before.contract is None else f"{agreed_text(before.contract.asked)} was lost"
    tell(step, "line", f"Hard Reset{when} after {what.name} of the {what.sender}; {standing}")


@audit_rule(
    COMMON_PRACTICE,
    "One side found the other out of order; the voltage stays, they start talking again from the beginning.",
    level="note",
)
def soft_reset(log: Log, step: Step, tell: Tell) -> None:
    """A Soft Reset."""
    if step.name == "Soft_Reset" and not step.retry and step.read:
        last = step.before.last
        after = "" if last is None else f" after {log.steps[last[0]].name} of the {log.steps[last[0]].sender}"
        tell(step, step.sender, f"Soft_Reset{after}")


@audit_rule(
    Origin("PD R3.2 V1.1, 6.5.15 and message sequences", "memory"),
    "A second port in use or a battery running down: size the load for the lower offer.",
    level="note",
)
async def offer_changed(log: Log, tell: Tell) -> None:
    """A source that changes its offer."""
    left: tuple[Offer, ...] = ()
    async for step in in_turn(log):
        before, after = step.before, step.after
        if step.name == "EPR_Mode Exit" and step.sender == SOURCE and before.epr:
            left = before.offers
        new_list = step.told.offers and step.sender == SOURCE and step.read and not step.retry
        if not new_list or after.offers_at != step.number or before.contract is None or step.restart:
            continue
        old_offers, left = left or before.offers, ()
        if not old_offers or before.epr_list_due:
            continue
        if before.spr_list_due and old_offers is before.offers:
            # Out of EPR mode by the sink's own wish: what of the SPR objects is another.
            old_offers = tuple(offer for offer in old_offers if not offer.is_epr)
        changes = _changes(_moved(old_offers, after.offers), _moved(after.offers, old_offers))
        if changes:
            made = _made_of_it(log, step, before.contract)
            tell(step, SOURCE, f"the source changed its offer: {changes}; {made}")


def _moved(those: Iterable[Offer], than: Iterable[Offer]) -> list[Offer]:
    """The offers that are not among others; flags of the first object are no offer."""
    known = {offer._replace(position=0, word=0, flags=()) for offer in than if not offer.is_gap}
    return [offer for offer in those if not offer.is_gap and offer._replace(position=0, word=0, flags=()) not in known]


def _changes(gone: list[Offer], come: list[Offer]) -> str:
    parts = [f"no more {', '.join(offer_text(offer) for offer in gone)}"] if gone else []
    parts += [f"now {', '.join(offer_text(offer) for offer in come)}"] if come else []
    return ", ".join(parts)


def _made_of_it(log: Log, step: Step, contract: Agreed) -> str:
    for later in log.since(step.number + 1):
        if later.name == "Hard_Reset":
            return "then came a Hard Reset"
        if later.told.offers and later.sender == SOURCE and not later.retry:
            break
        new = later.after.contract
        if new is not None and new.number > step.number:
            same = new.asked.reading.word == contract.asked.reading.word
            kept = "the sink asked for the same again" if same else "the sink went from"
            return kept if same else f"{kept} {agreed_text(contract.asked)} to {agreed_text(new.asked)}"
    return "the sink came to no new contract in this log"
