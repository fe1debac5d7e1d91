"""Offers, requests and messages in a few words, for the texts of an audit and its time line."""

from __future__ import annotations

from typing import Annotated

from pdcheck.bits.header import REQUESTS
from pdcheck.bits.offers import Offer
from pdcheck.contract.following.state import PLUG, Asked, Step
from pdcheck.facts.capabilities import UNREGULATED
from pdcheck.marks import Named
from pdcheck.named import NamedTuple

LINE = "line"
"""The sender of what nobody sent: a reset of the line."""


class Entry(NamedTuple):
    """One line: the message's number, its time [s], who said it, its name, what it says."""

    number: Annotated[int, Named("index")]
    time_s: float | None
    sender: str
    type: str
    text: str


def gist(step: Step) -> str:
    """What a message says, in a few words; empty where its name says it all."""
    told, after = step.told, step.after
    if not step.read:
        return "CRC wrong, not followed"
    again = "sent again" if step.retry else ""
    if told.offers:
        listed = ", ".join(offer_text(offer) for offer in told.offers if not offer.is_gap)
        return " ".join(part for part in ("plugged in again?" if step.restart else again, listed) if part)
    if again:
        return again
    if step.name in REQUESTS and after.asked is not None and after.asked.number == step.number:
        asked = after.asked
        mismatch = ", more was wanted" if asked.mismatch else ""
        return f"object {asked.position}: {agreed_text(asked)}{mismatch}"
    if step.name == "PS_RDY" and after.contract is not None and after.contract.number == step.number:
        return f"contract: {agreed_text(after.contract.asked)}"
    if step.name == "Vendor_Defined" and told.objects:
        return _vendor(step)
    if step.name == "EPR_Mode Enter" and told.objects:
        return f"for {told.objects[0].fields['data']} W"
    return ""


def _vendor(step: Step) -> str:
    meanings = step.told.objects[0].meanings()
    if "command" not in meanings:
        return "unstructured"
    said = f"{meanings['command']}, {meanings.get('command_type', '')}"
    cable = step.after.cable
    if step.sender == PLUG and cable is not None and cable is not step.before.cable and cable.emarker:
        return f"{said}: {cable.construction}, {cable.current_ma / 1000:g} A, {cable.voltage_mv / 1000:g} V"
    return said


def offer_text(offer: Offer) -> str:
    """An offer in a few words.

    >>> offer_text(Offer.from_word(0x0002D12C, 2))
    '9 V 3 A'
    """
    span = f"{offer.max_mv / 1000:g} V"
    if offer.min_mv != offer.max_mv:
        span = f"{offer.kind} {offer.min_mv / 1000:g}..{span}"
    if offer.current_ma is not None:
        return f"{span} {offer.current_ma / 1000:g} A"
    if offer.power_mw is not None:
        return f"{span} {offer.power_mw / 1000:g} W"
    if offer.pdp_w is not None:
        return f"{span} {offer.pdp_w} W"
    if offer.current_15v_ma is not None:
        return f"{span} {offer.current_15v_ma / 1000:g} A"
    return span


def agreed_text(asked: Asked) -> str:
    """What a request asks for, in a few words."""
    if asked.offer is None:
        return f"object {asked.position}"
    kind = "" if asked.offer.kind == "fixed" else f"{asked.offer.kind} "
    span = f"{(asked.voltage_mv or 0) / 1000:g} V"
    if asked.offer.kind in UNREGULATED:
        span = f"{asked.offer.min_mv / 1000:g}..{span}"
    if asked.current_ma is not None:
        return f"{kind}{span} {asked.current_ma / 1000:g} A"
    return f"{kind}{span} {(asked.power_mw or 0) / 1000:g} W"
