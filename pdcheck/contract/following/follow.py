"""Following: a captured conversation read message by message, and what is agreed after each; judges nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from pdcheck.bits.cable import read_cable_words
from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.header import HEADER
from pdcheck.bits.line import BIT_RATE_MIN, PREAMBLE_BITS, SYMBOL_BITS
from pdcheck.bits.message import RESETS, Message
from pdcheck.bits.objects import read_request
from pdcheck.bits.offers import Offer
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.state import (
    ANSWERS,
    INTERRUPTING,
    PLUG,
    PORT,
    SINK,
    SOURCE,
    SWAPS,
    Accepted,
    Agreed,
    Asked,
    Due,
    Entry,
    Log,
    Open,
    Sent,
    State,
    Step,
)
from pdcheck.facts.timing import timer

_RETRY_WITHIN_S = 0.010
"""The same bytes within this time [s] are one message sent again (tReceive, tRetry and two frames are below 5 ms)."""


def follow(
    told: Sequence[Told],
    resolution_s: float | None = None,
    lost_s: Iterable[float] = (),
    lost_after: Collection[int] = (),
) -> Log:
    """Follow a conversation.

    ``resolution_s`` is the step of its time stamps [s], ``None`` where times are not to be trusted; ``lost_s`` are the
    times of packets that could not be decoded, ``lost_after`` the indices of messages behind which some may be missing
    (-1: before the first). A message whose CRC does not fit is not followed.

    >>> from pdcheck.intake.sniff import read_any
    >>> log = follow(read_any("6111 2c910108 5cb81f2e").told)
    >>> [(step.name, step.sender) for step in log.steps], log.end.offers[0].max_mv
    ([('Source_Capabilities', 'source')], 5000)
    """
    steps: list[Step] = []
    state = State()
    lost, missing = sorted(lost_s), frozenset(lost_after)
    for index, one in enumerate(told):
        time_s = one.message.time_s
        while lost and time_s is not None and lost[0] <= time_s:
            lost.pop(0)
            state = state._replace(blur=index)
        if index - 1 in missing:
            state = state._replace(blur=index)
        step = _step(index, one, state)
        state = step.after
        steps.append(step)
    if lost or len(steps) - 1 in missing:
        state = state._replace(blur=len(steps))
    return Log(tuple(steps), state, any(step.name == "GoodCRC" for step in steps), resolution_s)


def airtime_s(message: Message) -> float:
    """The longest that a message may take on the line [s]: at the least bit rate allowed.

    >>> from pdcheck.bits.message import reset_message
    >>> round(airtime_s(reset_message("Hard_Reset")) * 1e6)
    311
    """
    bits = PREAMBLE_BITS + 4 * SYMBOL_BITS
    if message.sop not in RESETS:
        bits += (len(message.raw) + CRC_BYTES) * 2 * SYMBOL_BITS + SYMBOL_BITS
    return bits / BIT_RATE_MIN.value


def step_name(told: Told) -> str:
    """The name of a message, more closely than its type where a word in it decides what it is."""
    message = told.message
    name = message.type
    if name == "EPR_Mode" and told.objects:
        return f"EPR_Mode {told.objects[0].meanings().get('action', 'reserved')}"
    if message.extended:
        inner = message.extended_fields()
        if inner["request_chunk"]:
            return "chunk request"
        if name == "Extended_Control" and told.block is not None:
            return told.block.meanings().get("type", name)
        if inner["chunked"] and told.block is None and not told.offers and not told.objects:
            return "chunk"
    return name


def _sender(message: Message) -> str:
    if message.sop in RESETS:
        return ""
    first = HEADER.field("power_role").take(message.header)
    if message.sop != "SOP":
        return PLUG if first else PORT
    return SOURCE if first else SINK


def _step(index: int, told: Told, before: State) -> Step:
    message, name, sender = told.message, step_name(told), _sender(told.message)
    time_s = message.time_s
    if message.crc_ok is False:
        return Step(index, told, name, sender, before, before._replace(blur=index))
    if message.sop in RESETS:
        return Step(index, told, name, sender, before, _after_reset(before, message, index))
    if name == "GoodCRC":
        return Step(index, told, name, sender, before, _after_good_crc(before, message, sender))
    restart = _plugged_in_again(before, message, name, sender)
    if restart:
        before = State(blur=before.blur, epr_list=before.epr_list)
    key = (message.sop, sender)
    identity = HEADER.field("id").take(message.header)
    earlier = before.ids.get(key)
    due = Due(index, time_s, message.sop, identity, sender)
    state = before._replace(due=due, heard=before.heard | {sender})
    if message.sop == "SOP":
        state = state._replace(last=(index, time_s))
    if earlier is not None and _is_retry(earlier, identity, message):
        again = earlier._replace(time_s=time_s, tries=earlier.tries + 1, acknowledged=False)
        question = state.question
        if question is not None and question.number == earlier.number:
            question = question._replace(time_s=time_s)
        accepted = state.accepted
        if accepted is not None and accepted.number == earlier.number:
            accepted = accepted._replace(time_s=time_s)
        last = (earlier.number, time_s) if message.sop == "SOP" else state.last
        state = state._replace(ids={**state.ids, key: again}, question=question, accepted=accepted, last=last)
        return Step(index, told, name, sender, before, state, retry=True)
    ids = {**state.ids, key: Sent(index, time_s, identity, message.raw)}
    state = state._replace(ids=ids, fresh=state.fresh - {f"{message.sop} {sender}"})
    if message.sop != "SOP":
        return Step(index, told, name, sender, before, _after_plug(state, told), restart=restart)
    answered = _answers(state.question, name, sender)
    if name not in INTERRUPTING:
        # An answer ends the waiting, and so does whatever else comes: of the question nothing more is to be expected.
        state = state._replace(question=None)
    state = _after_message(state, told, name, sender, index, answered)
    return Step(index, told, name, sender, before, state, answered=answered, restart=restart)


def _answers(question: Open | None, name: str, sender: str) -> Open | None:
    if question is None or sender == question.sender:
        return None
    return question if name in question.answers or name == "Not_Supported" else None


def _is_retry(earlier: Sent, identity: int, message: Message) -> bool:
    if earlier.id != identity or earlier.raw != message.raw:
        return False
    if earlier.time_s is None or message.time_s is None:
        return True
    return abs(message.time_s - earlier.time_s) <= _RETRY_WITHIN_S


def _plugged_in_again(state: State, message: Message, name: str, sender: str) -> bool:
    """Whether capabilities with MessageID 0 after a long silence begin a conversation of their own."""
    if name != "Source_Capabilities" or sender != SOURCE or HEADER.field("id").take(message.header):
        return False
    earlier = state.ids.get(("SOP", SOURCE))
    if earlier is None or earlier.id == 7 or (earlier.id == 0 and not earlier.acknowledged):
        return False
    if state.last is None or state.last[1] is None or message.time_s is None:
        return False
    return message.time_s - state.last[1] > timer("tSrcRecover").require_min()


def _after_reset(state: State, message: Message, index: int) -> State:
    if message.sop == "Cable_Reset":
        ids = {key: sent for key, sent in state.ids.items() if key[0] == "SOP"}
        return state._replace(ids=ids, fresh=state.fresh | _fresh("SOP'", "SOP''"))
    return State(
        fresh=_fresh("SOP", "SOP'", "SOP''"),
        epr_list=state.epr_list,
        cable=state.cable,
        cable_asked=state.cable_asked,
        last=(index, message.time_s),
        blur=state.blur,
    )


def _fresh(*sops: str) -> frozenset[str]:
    return frozenset(f"{sop} {who}" for sop in sops for who in (SOURCE, SINK, PLUG, PORT))


def _after_good_crc(state: State, message: Message, sender: str) -> State:
    due = state.due
    if sender == SINK and message.sop == "SOP":
        state = state._replace(heard=state.heard | {SINK})
    if due is None or due.sop != message.sop or due.id != HEADER.field("id").take(message.header):
        return state
    key = (due.sop, due.sender)
    sent = state.ids.get(key)
    ids = state.ids if sent is None else {**state.ids, key: sent._replace(acknowledged=True)}
    return state._replace(due=None, ids=ids)


def _after_plug(state: State, told: Told) -> State:
    """What a message on SOP' or SOP'' tells of the cable."""
    message = told.message
    if message.type != "Vendor_Defined" or not told.objects or told.objects[0].kind != "vdm-header":
        return state
    meanings = told.objects[0].meanings()
    if meanings.get("command") != "Discover Identity":
        return state
    if meanings.get("command_type") == "request":
        return state._replace(cable_asked=True)
    if meanings.get("command_type") == "BUSY":
        return state
    return state._replace(cable=read_cable_words(message.words), cable_asked=True)


def _after_message(state: State, told: Told, name: str, sender: str, index: int, answered: Open | None) -> State:
    """The state after a message on SOP."""
    message, time_s = told.message, told.message.time_s
    if state.swap is not None and name != "PS_RDY" and name not in INTERRUPTING:
        state = state._replace(swap=None)
    if state.accepted is not None and name not in ("PS_RDY", "Reject", "Not_Supported", *INTERRUPTING):
        # The request is kept: PS_RDY may still come, and then the contract stands.
        state = state._replace(accepted=None)
    if name == "Source_Capabilities" and sender == SOURCE:
        state = state._replace(offers=told.offers, offers_at=index, epr=False, entry=None, accepted=None, waited_s=None)
    elif name == "EPR_Source_Capabilities" and sender == SOURCE:
        state = state._replace(epr_list=told.offers)
        if not state.epr:
            return state  # for information only
        state = state._replace(offers=told.offers, offers_at=index, accepted=None, waited_s=None, epr_list_due=False)
    elif name in ("Request", "EPR_Request") and sender == SINK and message.words:
        asked = read_asked(told, state.offers, index)
        state = state._replace(asked=asked, accepted=None, request_s=time_s, waited_s=None, unsure=False)
    elif name == "Accept":
        return _after_accept(state, answered, message, index)
    elif name in ("Reject", "Wait", "Not_Supported"):
        if answered is not None and answered.name in ("Request", "EPR_Request"):
            state = state._replace(asked=None, waited_s=time_s if name == "Wait" else None)
        elif state.accepted is not None and state.accepted.by == "GotoMin":
            state = state._replace(accepted=None)
        return state
    elif name == "GotoMin" and sender == SOURCE:
        contract = state.contract
        asked_before = None if contract is None else contract.asked
        return state._replace(accepted=Accepted(index, time_s, message, "GotoMin"), asked=asked_before)
    elif name == "PS_RDY":
        return _after_ready(state, sender, index, time_s)
    elif name == "Soft_Reset":
        ids = {key: sent for key, sent in state.ids.items() if key[0] != message.sop or key[1] == sender}
        fresh = state.fresh | (_fresh(message.sop) - {f"{message.sop} {sender}"})
        state = state._replace(ids=ids, fresh=fresh, asked=None, accepted=None, entry=None, waited_s=None)
    elif name.startswith("EPR_Mode"):
        state = _after_epr_mode(state, told, name, index)
    if name in ANSWERS and not _only_told(state, name, sender, told):
        state = state._replace(question=Open(index, time_s, sender, name, message))
    return state


def _only_told(state: State, name: str, sender: str, told: Told) -> bool:
    """Capabilities that ask for no request: a sink's own, and a list that sends the sink out of EPR mode."""
    if name == "Source_Capabilities":
        return sender != SOURCE
    return name == "EPR_Source_Capabilities" and (not state.epr or not any(offer.is_epr for offer in told.offers))


def _after_accept(state: State, answered: Open | None, message: Message, index: int) -> State:
    if answered is None:
        return state._replace(unsure=True)
    if answered.name in ("Request", "EPR_Request"):
        return state._replace(accepted=Accepted(index, message.time_s, message, "Accept"))
    if answered.name in SWAPS:
        state = state._replace(swap=answered.name)
        if answered.name in ("PR_Swap", "FR_Swap"):
            # The roles, and with them who counts which MessageID, change hands.
            ids = {key: sent for key, sent in state.ids.items() if key[0] != "SOP"}
            state = state._replace(ids=ids, contract=None, offers=(), asked=None)
    return state


def _after_ready(state: State, sender: str, index: int, time_s: float | None) -> State:
    if state.swap is not None:
        return state
    if sender == SOURCE and state.asked is not None:
        # Also where Accept was left out: the source has moved, whatever it said before.
        agreed = Agreed(state.asked, index, time_s)
        return state._replace(contract=agreed, asked=None, accepted=None, unsure=False)
    return state._replace(accepted=None, unsure=False)


def _after_epr_mode(state: State, told: Told, name: str, index: int) -> State:
    if name == "EPR_Mode Enter":
        return state._replace(entry=Entry(index, told.message.time_s, False))
    if name == "EPR_Mode Enter Acknowledged" and state.entry is not None:
        return state._replace(entry=state.entry._replace(acknowledged=True))
    if name == "EPR_Mode Enter Succeeded":
        return state._replace(epr=True, entry=None, epr_list_due=True, offers=state.epr_list or state.offers)
    if name == "EPR_Mode Enter Failed":
        return state._replace(entry=None, epr_refused=int(told.objects[0].fields["data"]))
    if name == "EPR_Mode Exit":
        return state._replace(epr=False, entry=None, epr_list_due=False)
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
    return Asked(
        index,
        message.time_s,
        position,
        reading,
        offer,
        epr,
        voltage,
        fields.get("operating_current_ma"),
        fields.get("operating_power_mw"),
        bool(fields.get("capability_mismatch")),
        bool(fields.get("epr_capable")),
    )
