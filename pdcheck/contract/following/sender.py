"""Who sent a message: by its type, by what it answers, by who acknowledges it, by its MessageID, and by its header."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.bits.header import HEADER
from pdcheck.bits.identity import COMMAND
from pdcheck.bits.line import RESETS
from pdcheck.bits.message import Message
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.state import ANSWERS, OTHER, PLUG, PORT, POWER_SWAPS, SINK, SOURCE, State
from pdcheck.named import NamedTuple

_ID = HEADER.field("id")
_DATA_ROLE = HEADER.field("data_role")

ONLY_FROM = dict.fromkeys(("Request", "EPR_Request", "EPR_KeepAlive", "EPR_Mode Enter", "Get_PPS_Status"), SINK)
ONLY_FROM |= dict.fromkeys(("GotoMin", "Ping", "EPR_KeepAlive_Ack", "PPS_Status"), SOURCE)
ONLY_FROM |= {f"EPR_Mode Enter {outcome}": SOURCE for outcome in ("Acknowledged", "Succeeded", "Failed")}
"""Messages that one side alone may send (PD R3.2 V1.1, applicability of messages [memory])."""
_LISTS = {"Source_Capabilities": "Get_Source_Cap", "EPR_Source_Capabilities": "EPR_Get_Source_Cap"}
_FROM_PLUG = {"request": PORT, "ACK": PLUG, "NAK": PLUG, "BUSY": PLUG}

# How much each sign is worth: what a message says must outweigh one wrong bit, two wrong bits must outweigh that.
_BY_TYPE = 2.0
_BY_ACKNOWLEDGE = 1.5
_BY_HEADER = 1.25
_BY_ID = 1.0
_BY_REPLY = 1.0
_BY_DATA_ROLE = 1.0
_BY_BOTH = 1.0
"""Beside the two before: MessageID and data role that agree outweigh role bits, which may be wrong on both sides. Not
at MessageID 0: with it a port begins anew."""

_RETRY_WITHIN_S = 0.010
"""The same bytes within this time [s] are one message sent again (tReceive, tRetry and two frames are below 5 ms)."""


class Said(NamedTuple):
    """A structured vendor message: its command, its SVID, whether request, ACK, NAK or BUSY."""

    command: str
    svid: int
    kind: str


def vendor_said(told: Told) -> Said | None:
    """What a structured vendor message says; ``None`` for other messages."""
    if told.message.type != "Vendor_Defined" or not told.objects or told.objects[0].kind != "vdm-header":
        return None
    fields, meanings = told.objects[0].fields, told.objects[0].meanings()
    command = COMMAND.get(fields["command"], f"command {fields['command']}")
    return Said(command, fields["svid"], meanings.get("command_type", ""))


def stated_sender(message: Message) -> str:
    """Who a message says that sent it: its role bit, on SOP' and SOP'' its plug bit; nobody for a reset.

    >>> from pdcheck.bits.message import read_message
    >>> stated_sender(read_message(bytes.fromhex("a111 2c910108".replace(" ", ""))))
    'source'
    """
    if message.sop in RESETS:
        return ""
    first = HEADER.field("power_role").take(message.header)
    if message.sop != "SOP":
        return PLUG if first else PORT
    return SOURCE if first else SINK


def only_sender(told: Told, name: str, state: State) -> str | None:
    """The side that alone can have sent such a message here; ``None`` where either may."""
    message = told.message
    if message.sop != "SOP":
        return _from_plug(told, name)
    swap = state.swap
    if name == "PS_RDY" and swap is not None:
        return None if swap.name not in POWER_SWAPS else SOURCE if swap.ready is None else SINK
    question = state.question
    if name in _LISTS:
        asked = question is not None and question.name == _LISTS[name]
        return OTHER[question.sender] if asked and question is not None else SOURCE
    if name in ONLY_FROM:
        return ONLY_FROM[name]
    if name == "PS_RDY":
        return SOURCE if state.accepted is not None or state.asked is not None else None
    if question is not None and name in question.answers:
        return OTHER[question.sender]
    return None


def is_same_again(earlier_s: float | None, time_s: float | None) -> bool:
    """Whether the same bytes are near enough in time to be one message sent again; taken so where times are missing."""
    return earlier_s is None or time_s is None or abs(time_s - earlier_s) <= _RETRY_WITHIN_S


def _from_plug(told: Told, name: str) -> str | None:
    said = vendor_said(told)
    if said is not None:
        return _FROM_PLUG.get(said.kind)
    return {"Accept": PLUG, "Soft_Reset": PORT, "Enter_USB": PORT}.get(name)


def who_sent(told: Sequence[Told], index: int, name: str, state: State) -> str:
    """Who sent message ``index``, with what is known before it in ``state``."""
    one = told[index]
    message = one.message
    stated = stated_sender(message)
    if message.sop in RESETS or not message.raw:
        return stated
    if name == "GoodCRC":
        due = state.due
        return stated if due is None or due.sop != message.sop else OTHER[due.sender]
    for side in (stated, OTHER[stated]):
        sent = state.ids.get((message.sop, side))
        if sent is not None and sent.raw == message.raw and is_same_again(sent.time_s, message.time_s):
            return side
    only = only_sender(one, name, state)
    acknowledged = _acknowledged(told, index)
    if name == "PS_RDY" and state.swap is not None and only is not None:
        return only  # amid a swap of the power role the bit says one thing or the other
    likely = _id_fits(message, stated, state) is not False and len(state.odd) < 2
    if only in (None, stated) and acknowledged in (None, stated) and likely:
        return stated
    other = OTHER[stated]
    by_role = [(stated, _BY_HEADER), (acknowledged, _BY_ACKNOWLEDGE), (_replied(told, index, name), _BY_REPLY)]
    if len(state.odd) == 2:
        # Both ports have said the other role of late, and so their bits say it here.
        by_role = [(None if side is None else OTHER[side], weight) for side, weight in by_role]
    known = _by_data_role(message, state)
    votes = {stated: 0.0, other: 0.0}
    for voted, weight in (*by_role, (only, _BY_TYPE), (known, _BY_DATA_ROLE)):
        if voted is not None:
            votes[voted] += weight
    fits = {side: _id_fits(message, side, state) for side in votes}
    for side, fit in fits.items():
        votes[side] += 0 if fit is None else _BY_ID if fit else -_BY_ID
    if known == other and fits[other] and fits[stated] is False and _ID.take(message.header):
        votes[other] += _BY_BOTH
    return stated if votes[stated] >= votes[other] else other


def _acknowledged(told: Sequence[Told], index: int) -> str | None:
    """The sender by the GoodCRC that comes next."""
    message = told[index].message
    if index + 1 >= len(told):
        return None
    following = told[index + 1].message
    if following.sop != message.sop or following.type != "GoodCRC" or following.crc_ok is False:
        return None
    if _ID.take(following.header) != _ID.take(message.header):
        return None
    return OTHER[stated_sender(following)]


def _replied(told: Sequence[Told], index: int, name: str) -> str | None:
    """The sender by who answers."""
    answers = (*ANSWERS.get(name, ()), "Not_Supported")
    for later in told[index + 1 : index + 4]:
        if later.message.sop == told[index].message.sop and later.message.type != "GoodCRC":
            return OTHER[stated_sender(later.message)] if later.message.type in answers else None
    return None


def _by_data_role(message: Message, state: State) -> str | None:
    """The side that had the data role of this message when it last spoke, where the other had another."""
    if message.sop != "SOP":
        return None
    said = {
        side: _DATA_ROLE.take(int.from_bytes(state.ids["SOP", side].raw[:2], "little"))
        for side in (SOURCE, SINK)
        if ("SOP", side) in state.ids
    }
    fits = [side for side, role in said.items() if role == _DATA_ROLE.take(message.header)]
    return fits[0] if len(said) == 2 and len(fits) == 1 else None


def _id_fits(message: Message, side: str, state: State) -> bool | None:
    """Whether the MessageID is the one that is due from a side; ``None`` where that is not known."""
    given = _ID.take(message.header)
    if f"{message.sop} {side}" in state.fresh:
        return given == 0
    earlier = state.ids.get((message.sop, side))
    if earlier is None:
        return None
    return given in earlier.next_ids or (given == earlier.id and message.raw == earlier.raw)
