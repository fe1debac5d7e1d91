"""Whether a message begins a conversation of its own: the plug was pulled and put in again."""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.bits.header import HEADER
from pdcheck.bits.identity import PD_SID
from pdcheck.bits.line import RESETS
from pdcheck.bits.message import Message
from pdcheck.bits.sequence import Told
from pdcheck.contract.following.sender import ONLY_FROM, stated_sender, vendor_said
from pdcheck.contract.following.state import PLUG, SINK, SOURCE, State
from pdcheck.facts.timing import timer

LOOK_AHEAD = 40
"""So many messages are looked at for what a message is taken for."""
_ID = HEADER.field("id")
_REVISION = HEADER.field("revision")
_DATA_ROLE = HEADER.field("data_role")
_SHORTEST_S = timer("tCCDebounce").require_min()
_GIVEN_UP_S = timer("tTypeCSinkWaitCap").require_min()


def begins_anew(told: Sequence[Told], index: int, name: str, sender: str, state: State) -> bool:
    """Whether message ``index`` is the first after a new attach.

    That is Discover Identity to the cable, or capabilities, with MessageID 0, where what comes from there on does not
    go on from before: MessageIDs that start at 0, a revision or a data role that only a new attach brings.
    """
    one = told[index]
    message = one.message
    if _ID.take(message.header) or not index or not (asks_identity(one) or (name, sender) == _FIRST_LIST):
        return False
    earlier = state.ids.get((message.sop, sender))
    unheard = (SINK if message.sop == "SOP" else PLUG) not in state.heard
    silence = _silence_s(told, index, state)
    repeats = unheard and earlier is not None and not earlier.acknowledged and earlier.raw == message.raw
    if repeats and (silence is None or silence < _GIVEN_UP_S):
        return False  # sent again until somebody hears it
    first = _first_of_each(told, index)
    listed = first.get(("SOP", SOURCE))
    if message.sop != "SOP" and listed is not None and listed.type != _FIRST_LIST[0]:
        return False
    signs = _signs(first, state)
    if signs is None:
        return False
    if silence is None:
        return bool(signs)
    if _must_have_ended(state, silence):
        return True
    shows = any(sent.acknowledged for sent in state.ids.values())
    unheard = (shows and state.due is not None) or not _is_heard(told, index, shows)
    return (bool(signs) or unheard) and silence >= _SHORTEST_S


def asks_in_vain(told: Sequence[Told], index: int, state: State) -> bool:
    """Whether a Hard Reset is the first word of a sink that was plugged in where nobody speaks: another follows it.

    It waits for capabilities, resets, and waits again. Where somebody may have reset for what came before, it is no
    new attach.
    """
    if state.last is None or state.swap is not None or index + 1 >= len(told):
        return False
    if told[index + 1].message.sop != "Hard_Reset" or told[index].message.sop != "Hard_Reset":
        return False
    silence = _silence_s(told, index, state._replace(last=None))
    if silence is None:
        return state.accepted is None and (state.question is None or SINK not in state.heard)
    may_reset = state.epr or state.accepted is not None
    may_reset |= _is_pps(state) and silence >= timer("tPPSTimeout").require_min()
    return _must_have_ended(state, silence) if may_reset else silence >= _GIVEN_UP_S


def _is_pps(state: State) -> bool:
    contract = state.contract
    return contract is not None and contract.asked.offer is not None and contract.asked.offer.kind == "pps"


def _is_heard(told: Sequence[Told], index: int, shows: bool) -> bool:
    """Whether anybody takes a message: a GoodCRC follows it or one of its tries, where the log ``shows`` any."""
    raw, name = told[index].message.raw, told[index].message.type
    later = (one.message for one in told[index : index + LOOK_AHEAD])
    after = next((message.type for message in later if message.raw != raw), "GoodCRC")
    return after == "GoodCRC" or (not shows and after != name)


_FIRST_LIST = ("Source_Capabilities", SOURCE)


def asks_identity(one: Told) -> bool:
    """Whether a message asks the near plug of the cable for its identity."""
    return one.message.sop == "SOP'" and vendor_said(one) == ("Discover Identity", PD_SID, "request")


def _first_of_each(told: Sequence[Told], index: int) -> dict[tuple[str, str], Message]:
    """The first message of each sender on each ordered set from ``index`` on, as far as one looks ahead."""
    first: dict[tuple[str, str], Message] = {}
    listed = told[index].message.sop == "SOP"
    for one in told[index : index + LOOK_AHEAD]:
        if one.message.sop in RESETS:
            break
        if listed and one.message.sop != "SOP":
            continue  # the cable is asked before a list, so this is of later
        if one.message.type != "GoodCRC" and one.message.crc_ok is not False:
            first.setdefault((one.message.sop, _sender(one.message)), one.message)
    return first


def _sender(message: Message) -> str:
    """Who sends a message by what it is, and where that does not tell by its role bit."""
    if message.sop == "SOP" and message.type == _FIRST_LIST[0]:
        return SOURCE
    return ONLY_FROM.get(message.type) or stated_sender(message)


def _signs(first: dict[tuple[str, str], Message], state: State) -> set[tuple[str, str]] | None:
    """Who does not go on from before; ``None`` where a sink or a cable does, so that this is no new attach."""
    signs: set[tuple[str, str]] = set()
    for key, message in first.items():
        if " ".join(key) in state.fresh:
            continue
        given = _ID.take(message.header)
        earlier = state.ids.get(key)
        if given:
            if key[0] != "SOP''" and (earlier is None or given in earlier.next_ids):
                return None
        elif earlier is not None and 0 not in earlier.next_ids:
            signs.add(key)
        if state.epr and not given and message.type == "Request":
            signs.add(key)  # EPR mode is over
        if key[0] == "SOP" and earlier is not None and _is_another(message, earlier.raw, key[1]):
            signs.add(key)
    return signs


def _is_another(message: Message, before: bytes, side: str) -> bool:
    """Whether a side speaks another revision than before, or the source is DFP again: neither comes amid an attach."""
    then = int.from_bytes(before[:2], "little")
    if _REVISION.take(message.header) != _REVISION.take(then):
        return True
    return side == SOURCE and _DATA_ROLE.take(message.header) > _DATA_ROLE.take(then)


def _silence_s(told: Sequence[Told], index: int, state: State) -> float | None:
    """The time since the message before [s], endless where the clock begins anew; ``None`` where it is not known.

    Before capabilities it is the ports' silence that counts: the cable is asked in it.
    """
    before, now = told[index - 1].message.time_s, told[index].message.time_s
    if told[index].message.sop == "SOP" and state.last is not None:
        before = state.last[1]
    if before is None or now is None:
        return None
    return now - before if now >= before else float("inf")


def _must_have_ended(state: State, silence: float) -> bool:
    """Whether a side would have reset long ago: what stands does not bear such a silence."""
    if state.epr and silence > timer("tSourceEPRKeepAlive").require_max():
        return True
    if state.accepted is not None and silence > timer("tPSTransition", epr=state.epr).require_max():
        return True
    if state.asked is not None and state.accepted is None and silence > _GIVEN_UP_S:
        return True
    return _is_pps(state) and silence > timer("tPPSTimeout").require_max()
