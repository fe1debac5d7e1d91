"""What is agreed after a message between the two ports."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.bits.header import HEADER, REQUESTS
from pdcheck.bits.message import Message
from pdcheck.bits.objects import read_request
from pdcheck.bits.offers import Offer
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.state import (
    ANSWERS,
    CHUNK,
    INTERRUPTING,
    PLUG,
    PORT,
    POWER_SWAPS,
    SINK,
    SOURCE,
    SWAPS,
    Accepted,
    Agreed,
    Asked,
    Due,
    Entry,
    Open,
    Sent,
    State,
    Swap,
)

EPR_ONLY = ("EPR_Request", "EPR_KeepAlive", "EPR_KeepAlive_Ack")
"""Messages that show that EPR mode is on."""
_SWAP_GOES_ON = ("PS_RDY", "Data_Reset_Complete", *INTERRUPTING)


def fresh(*sops: str) -> frozenset[str]:
    """Every sender on some ordered sets, whose MessageIDs are to start at 0."""
    return frozenset(f"{sop} {who}" for sop in sops for who in (SOURCE, SINK, PLUG, PORT))


def counts_anew(state: State, sop: str, sender: str) -> State:
    """The state after a Soft_Reset of ``sender``: the other side's MessageIDs start at 0 too."""
    ids = {key: sent for key, sent in state.ids.items() if key[0] != sop or key[1] == sender}
    return state._replace(ids=ids, fresh=state.fresh | (fresh(sop) - {f"{sop} {sender}"}))


def after_message(state: State, told: Told, name: str, sender: str, index: int, answered: Open | None) -> State:
    """The state after a message on SOP."""
    message, time_s = told.message, told.message.time_s
    if state.swap is not None and name not in _SWAP_GOES_ON:
        state = state._replace(swap=None)
    if state.accepted is not None and name not in ("PS_RDY", "Reject", "Not_Supported", *INTERRUPTING):
        # The request is kept: PS_RDY may still come, and then the contract stands.
        state = state._replace(accepted=None)
    if name in EPR_ONLY and not state.sure:
        state = state if state.epr else state._replace(epr=True, offers=(), offers_at=None)
        state = state._replace(sure=True)
    if name == "Source_Capabilities" and sender == SOURCE:
        return _after_list(state, told, index, answered)
    if name == "EPR_Source_Capabilities" and sender == SOURCE:
        return _after_epr_list(state, told, index, answered)
    if name in REQUESTS and sender == SINK and message.words:
        mode = name == "EPR_Request" if state.doubt or not state.sure else state.epr
        asked = read_asked(told, state.offers, index)
        state = state._replace(asked=asked, accepted=None, request_s=time_s, waited_s=None, unsure=False)
        state = state._replace(epr=mode, sure=True, doubt=False, epr_list_due=False, spr_list_due=False)
    elif name == "Accept":
        return _after_accept(state, answered, message, index)
    elif name in ("Reject", "Wait", "Not_Supported"):
        if answered is not None and answered.name in REQUESTS:
            state = state._replace(asked=None, waited_s=time_s if name == "Wait" else None)
        elif state.accepted is not None and state.accepted.by == "GotoMin":
            state = state._replace(accepted=None)
        return state
    elif name == "GotoMin" and sender == SOURCE:
        before = None if state.contract is None else state.contract.asked
        return state._replace(accepted=Accepted(index, time_s, message, "GotoMin"), asked=before)
    elif name == "PS_RDY":
        return _after_ready(state, sender, index, message)
    elif name == "Data_Reset_Complete":
        return state._replace(swap=None)
    elif name == "Soft_Reset":
        state = counts_anew(state, message.sop, sender)
        state = state._replace(asked=None, accepted=None, entry=None, waited_s=None)
    elif name.startswith("EPR_Mode"):
        state = _after_epr_mode(state, told, name, index)
    elif name == CHUNK and not message.extended_fields()["chunk_number"]:
        state = state._replace(block=index)
    if name in ANSWERS and (name != "Source_Capabilities" or sender == SOURCE):
        state = state._replace(question=Open(index, time_s, sender, name, message))
    return state


def _after_list(state: State, told: Told, index: int, answered: Open | None) -> State:
    asked = answered is not None and answered.name == "Get_Source_Cap"
    if state.epr and state.sure:
        # Asked for, it is for information and the mode stands; else it has no place here.
        return state if asked else state._replace(doubt=True)
    message = told.message
    state = state._replace(offers=told.offers, offers_at=index, epr=False, entry=None, accepted=None, waited_s=None)
    question = Open(index, message.time_s, SOURCE, "Source_Capabilities", message)
    # A log that begins with a list in the middle of a count may begin with one that was asked for in EPR mode.
    begins = HEADER.field("id").take(message.header) and ("SOP", SINK) not in state.ids
    return state._replace(question=question, sure=state.sure or not (asked or begins), spr_list_due=False)


def _after_epr_list(state: State, told: Told, index: int, answered: Open | None) -> State:
    asked = answered is not None and answered.name == "EPR_Get_Source_Cap"
    state = state._replace(epr_list=told.offers)
    if not state.sure and not asked:
        state = state._replace(epr=True, sure=True)
    if not state.epr:
        return state  # for information only
    state = state._replace(offers=told.offers, offers_at=index, accepted=None, waited_s=None, epr_list_due=False)
    if not any(offer.is_epr for offer in told.offers):
        return state  # sends the sink out of EPR mode, whether it asks for something first or not
    question = Open(index, told.message.time_s, SOURCE, "EPR_Source_Capabilities", told.message)
    return state._replace(question=question)


def _after_accept(state: State, answered: Open | None, message: Message, index: int) -> State:
    if answered is None:
        return state._replace(unsure=True)
    if answered.name in REQUESTS:
        return state._replace(accepted=Accepted(index, message.time_s, message, "Accept"))
    if answered.name in SWAPS:
        state = state._replace(swap=Swap(answered.name, index, message.time_s, message))
        if answered.name in POWER_SWAPS:
            state = state._replace(contract=None, offers=(), asked=None)
    return state


def _after_ready(state: State, sender: str, index: int, message: Message) -> State:
    swap = state.swap
    if swap is not None and swap.name in POWER_SWAPS:
        if swap.ready is None:
            return state._replace(swap=swap._replace(ready=index, ready_s=message.time_s))
        # Both start anew in their new roles, on SOP with MessageID 0.
        identity = HEADER.field("id").take(message.header)
        return State(
            fresh=fresh("SOP"),
            cable=state.cable,
            cable_asked=state.cable_asked,
            ids={("SOP", SOURCE): Sent(index, message.time_s, identity, message.raw)},  # it may be sent again
            due=Due(index, message.time_s, "SOP", identity, SOURCE),
            last=(index, message.time_s),
            blur=state.blur,
            sure=True,
        )
    if swap is not None and swap.name == "VCONN_Swap":
        # Another port speaks to the cable from now on, and counts on its own.
        ids = {key: sent for key, sent in state.ids.items() if key[0] == "SOP" or key[1] == PLUG}
        return state._replace(swap=None, ids=ids, fresh=state.fresh - {f"{sop} {PORT}" for sop in ("SOP'", "SOP''")})
    if swap is not None:
        return state
    if sender == SOURCE and state.asked is not None:
        # Also where Accept was left out: the source has moved, whatever it said before.
        agreed = Agreed(state.asked, index, message.time_s)
        return state._replace(contract=agreed, asked=None, accepted=None, unsure=False)
    if state.contract is None and state.accepted is None and state.question is None:
        # A log that begins amid a swap of roles, maybe: then both count from 0 from here on.
        state = state._replace(ids={key: sent._replace(due=7) for key, sent in state.ids.items()})
    return state._replace(accepted=None, unsure=False)


def _after_epr_mode(state: State, told: Told, name: str, index: int) -> State:
    if name == "EPR_Mode Enter":
        return state._replace(entry=Entry(index, told.message.time_s, False), sure=True)
    if name == "EPR_Mode Enter Acknowledged" and state.entry is not None:
        return state._replace(entry=state.entry._replace(acknowledged=True))
    if name == "EPR_Mode Enter Succeeded":
        return state._replace(
            epr=True, entry=None, epr_list_due=True, offers=state.epr_list or state.offers, sure=True, doubt=False
        )
    if name == "EPR_Mode Enter Failed":
        return state._replace(entry=None, epr_refused=int(told.objects[0].fields["data"]), sure=True)
    if name == "EPR_Mode Exit":
        due = state.epr or not state.sure
        return state._replace(epr=False, entry=None, epr_list_due=False, sure=True, doubt=False, spr_list_due=due)
    return state


def read_asked(told: Told, offers: Sequence[Offer], index: int) -> Asked:
    """A request read by the offers that stand, whatever list the words were first read by."""
    message = told.message
    epr = message.type == "EPR_Request"
    reading = read_request(message.words[0], offers, revision=message.revision, epr_message=epr)
    fields = reading.fields
    position = int(fields["position"])
    offer = next((one for one in offers if one.position == position and not one.is_gap), None)
    voltage = fields.get("output_voltage_mv")
    if voltage is None and offer is not None:
        voltage = offer.max_mv
    current, power = fields.get("operating_current_ma"), fields.get("operating_power_mw")
    mismatch, capable = bool(fields.get("capability_mismatch")), bool(fields.get("epr_capable"))
    return Asked(index, message.time_s, position, reading, offer, epr, voltage, current, power, mismatch, capable)
