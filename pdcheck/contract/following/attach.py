"""Whether a message begins a conversation of its own: the plug was pulled and put in again."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from pdcheck.bits.header import HEADER
from pdcheck.bits.identity import PD_SID
from pdcheck.bits.message import RESETS, Message
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.sender import stated_sender
from pdcheck.contract.following.state import PLUG, SINK, SOURCE, State
from pdcheck.facts.timing import timer

_ID = HEADER.field("id")
_LOOK_AHEAD = 40
_SHORTEST_S = timer("tCCDebounce").require_min()
_REPEATED_S = timer("tTypeCSendSourceCap").require_max()
_SURE_S = timer("tSrcRecover").require_min()


def begins_anew(told: Sequence[Told], index: int, name: str, sender: str, state: State) -> bool:
    """Whether message ``index`` is the first after a new attach.

    That is Discover Identity to the cable, or capabilities, with MessageID 0 after a silence, where the numbers do not
    go on from those before: its own, or those that the others begin with after it.
    """
    one = told[index]
    message = one.message
    if _ID.take(message.header) or not index or not (asks_identity(one) or (name, sender) == _FIRST_LIST):
        return False
    earlier = state.ids.get((message.sop, sender))
    unheard = not {SINK, PLUG} & state.heard
    if unheard and earlier is not None and not earlier.acknowledged and earlier.raw == message.raw:
        return False  # sent again until somebody hears it
    first = _first_of_each(told, index)
    listed = first.get(("SOP", SOURCE))
    if message.sop != "SOP" and listed is not None and listed.type != _FIRST_LIST[0]:
        return False
    against = _against(first, state)
    if against is None:
        return False
    silence = _silence_s(told, index)
    if silence is None:
        return len(against) >= 2
    if _must_have_ended(state, silence):
        return True
    if silence > _SURE_S:
        return bool(against)
    if silence > _REPEATED_S and ("SOP", SINK) in first and ("SOP", SINK) not in state.ids:
        return bool(against)  # nobody was there before, and now somebody begins to count
    return silence >= _SHORTEST_S and len(against) >= 2


_FIRST_LIST = ("Source_Capabilities", SOURCE)


def asks_identity(one: Told) -> bool:
    """Whether a message asks the near plug of the cable for its identity."""
    if one.message.sop != "SOP'" or one.message.type != "Vendor_Defined" or not one.objects:
        return False
    said = one.objects[0].meanings()
    identity = one.objects[0].fields.get("svid") == PD_SID and said.get("command") == "Discover Identity"
    return identity and said.get("command_type") == "request"


def _first_of_each(told: Sequence[Told], index: int) -> dict[tuple[str, str], Message]:
    """The first message of each sender on each ordered set from ``index`` on, as far as one looks ahead."""
    first: dict[tuple[str, str], Message] = {}
    listed = told[index].message.sop == "SOP"
    for one in islice(told, index, index + _LOOK_AHEAD):
        if one.message.sop in RESETS:
            break
        if listed and one.message.sop != "SOP":
            continue  # the cable is asked before a list, so this is of later
        if one.message.type != "GoodCRC" and one.message.crc_ok is not False:
            first.setdefault((one.message.sop, stated_sender(one.message)), one.message)
    return first


def _against(first: dict[tuple[str, str], Message], state: State) -> list[tuple[str, str]] | None:
    """Whose MessageID does not go on; ``None`` where one goes on from before and so is against a new attach."""
    against: list[tuple[str, str]] = []
    for key, message in first.items():
        given = _ID.take(message.header)
        earlier = state.ids.get(key)
        if given:
            if key[0] == "SOP" and (earlier is None or given == (earlier.id + 1) % 8):
                return None
        elif earlier is not None and earlier.id != 7:
            against.append(key)
    return against


def _silence_s(told: Sequence[Told], index: int) -> float | None:
    """The time since the message before [s], endless where the clock begins anew; ``None`` where it is not known."""
    before, now = told[index - 1].message.time_s, told[index].message.time_s
    if before is None or now is None:
        return None
    return now - before if now >= before else float("inf")


def _must_have_ended(state: State, silence: float) -> bool:
    """Whether a source would have reset long ago: the mode does not bear such a silence."""
    contract = state.contract
    if state.epr and silence > timer("tSourceEPRKeepAlive").require_max():
        return True
    adjustable = contract is not None and contract.asked.offer is not None and contract.asked.offer.kind == "pps"
    return adjustable and silence > timer("tPPSTimeout").require_max()
