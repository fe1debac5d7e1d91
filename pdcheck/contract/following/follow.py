"""Following: a captured conversation read message by message, and what is agreed after each; judges nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from heapq import heappop
from itertools import islice

from pdcheck.bits.cable import read_cable_words
from pdcheck.bits.crc import CRC_BYTES
from pdcheck.bits.header import HEADER, type_name
from pdcheck.bits.identity import PD_SID
from pdcheck.bits.line import BIT_RATE_MIN, PREAMBLE_BITS, RESETS, SYMBOL_BITS
from pdcheck.bits.message import Message
from pdcheck.bits.sequence import BROKEN_BLOCK, Told
from pdcheck.contract.following.after import after_message, counts_anew, fresh
from pdcheck.contract.following.attach import LOOK_AHEAD, asks_identity, asks_in_vain, begins_anew
from pdcheck.contract.following.sender import is_same_again, stated_sender, vendor_said, who_sent
from pdcheck.contract.following.state import (
    CABLE_SOFT_RESET,
    CHUNK,
    CHUNK_REQUEST,
    INTERRUPTING,
    PORT,
    SINK,
    SOFT_RESETS,
    Due,
    Sent,
    State,
    Step,
    Swap,
)

_CHUNKS = (CHUNK, CHUNK_REQUEST)
_OLDER, _THREE = HEADER.encode({"revision": 3}), HEADER.encode({"revision": 2})
_NEWER_TYPE = HEADER.encode({"type": 0x10})
_SOON = 8
_AT_ONCE = 512


class Follower:
    """A conversation followed while it is read: its steps in turn, and in ``state`` what is known at its end.

    ``lost_s`` is a heap (``heapq``) of the times of packets that could not be decoded, ``lost_after`` the indices of
    messages behind which some may be missing (-1: before the first); both may grow while messages are read. A message
    whose CRC does not fit is not followed. Keeps no message.

    >>> from pdcheck.intake.sniff import read_any
    >>> follower = Follower(read_any("6111 2c910108 5cb81f2e").told, [], ())
    >>> [(step.name, step.sender) for step in follower], follower.state.offers[0].max_mv
    ([('Source_Capabilities', 'source')], 5000)
    """

    def __init__(self, told: Iterable[Told], lost_s: list[float], lost_after: Collection[int]) -> None:
        self.state = State()
        self.shows_good_crc = False
        self._told = iter(told)
        self._lost_s, self._lost_after = lost_s, lost_after

    def __iter__(self) -> Iterator[Step]:
        around: list[Told] = []  # the message at hand, the one before it, and some that come
        index = at = 0
        while True:
            if at + LOOK_AHEAD >= len(around):
                around, at = [*around[max(at - 1, 0) :], *islice(self._told, _AT_ONCE)], min(at, 1)
            if at == len(around):
                break
            time_s, lost = around[at].message.time_s, False
            while self._lost_s and time_s is not None and self._lost_s[0] <= time_s:
                heappop(self._lost_s)
                lost = True
            if lost or index - 1 in self._lost_after:
                self.state = _blurred(self.state, index)
            step = _role_noted(_step(around, at, index, self.state))
            self.state = step.after
            self.shows_good_crc = self.shows_good_crc or step.name == "GoodCRC"
            yield step
            at, index = at + 1, index + 1
        if self._lost_s or index - 1 in self._lost_after:
            self.state = self.state._replace(blur=index)


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
    if message.sop not in RESETS and message.header & _NEWER_TYPE and message.revision in ("1.0", "2.0"):
        # Revision 2.0 has no such type: it is the revision that is wrong.
        name = type_name(message.header & ~_OLDER | _THREE)
    if name == "Soft_Reset" and message.sop != "SOP":
        return CABLE_SOFT_RESET
    if name == "EPR_Mode" and told.objects:
        return f"EPR_Mode {told.objects[0].meanings().get('action', 'reserved')}"
    if message.extended:
        inner = message.extended_fields()
        if inner["request_chunk"]:
            return CHUNK_REQUEST
        if name == "Extended_Control" and told.block is not None:
            return told.block.meanings().get("type", name)
        if inner["chunked"] and told.block is None and not told.offers and not told.objects:
            return CHUNK
    return name


def _role_noted(step: Step) -> Step:
    """The same with whether its sender's role bit is wrong kept in mind; amid a swap it tells nothing."""
    after = step.after
    if step.message.sop != "SOP" or not step.read or step.before.swap is not None or after.swap is not None:
        return step
    others = after.odd - {step.sender}
    wrong = stated_sender(step.message) != step.sender
    return step._replace(after=after._replace(odd=others | {step.sender} if wrong else others))


def _step(told: Sequence[Told], at: int, index: int, before: State) -> Step:
    one = told[at]
    message, name = one.message, step_name(one)
    sender = who_sent(told, at, name, before)
    time_s = message.time_s
    if message.crc_ok is False:
        return Step(index, one, name, sender, before, _blurred(before, index))
    if message.sop in RESETS:
        restart = asks_in_vain(told, at, before)
        if restart:
            before = State(blur=before.blur, sure=True)
        return Step(index, one, name, sender, before, _after_reset(before, message, index), restart=restart)
    if name == "GoodCRC":
        return Step(index, one, name, sender, before, _after_good_crc(before, message, sender))
    restart = begins_anew(told, at, name, sender, before)
    if restart:
        # Before its first list the cable may have been asked already.
        counts = fresh("SOP") if message.sop == "SOP" else fresh("SOP", "SOP'", "SOP''")
        before = State(blur=before.blur, fresh=counts, sure=True)
    elif _breaks_block(before, one, name):
        # A message in chunks never became whole: what it said is not known.
        before = _blurred(before, index)._replace(block=None)
    elif message.extended and name not in _CHUNKS:
        before = before._replace(block=None)
    if name == "PS_RDY" and _ends_unseen_swap(told, at, before):
        before = before._replace(swap=Swap("PR_Swap", index, None, message))
        sender = who_sent(told, at, name, before)
    if asks_identity(one) and not HEADER.field("id").take(message.header):
        # It begins to count: plugged in again, or another port supplies the cable from now on.
        before = _cable_anew(before, message)
    key = (message.sop, sender)
    identity = HEADER.field("id").take(message.header)
    earlier = before.ids.get(key)
    due = Due(index, time_s, message.sop, identity, sender)
    state = before._replace(due=due, heard=before.heard | {sender})
    if message.sop == "SOP":
        state = state._replace(last=(index, time_s))
    if earlier is not None and earlier.raw == message.raw and is_same_again(earlier.time_s, time_s):
        again = earlier._replace(time_s=time_s, tries=earlier.tries + 1, acknowledged=False)
        question = state.question
        if question is not None and question.number == earlier.number:
            question = question._replace(time_s=time_s)
        accepted = state.accepted
        if accepted is not None and accepted.number == earlier.number:
            accepted = accepted._replace(time_s=time_s)
        last = (earlier.number, time_s) if message.sop == "SOP" else state.last
        state = state._replace(ids={**state.ids, key: again}, question=question, accepted=accepted, last=last)
        return Step(index, one, name, sender, before, state, retry=True)
    due_id = _due_id(before, f"{message.sop} {sender}", earlier, identity)
    if name in SOFT_RESETS:
        due_id = None if identity == 0 else 0
    ids = {**state.ids, key: Sent(index, time_s, identity, message.raw, due=due_id)}
    state = state._replace(ids=ids, fresh=state.fresh - {f"{message.sop} {sender}"})
    if due_id is not None and name not in SOFT_RESETS and (earlier is None or identity != earlier.id):
        state = _blurred(state, index)  # something is missing from the log
    elif name.startswith(("reserved", "EPR_Mode reserved")):
        state = _blurred(state, index + 1)  # what it said was not understood
    if message.sop != "SOP":
        return Step(index, one, name, sender, before, _after_plug(state, one, identity), restart=restart)
    answered = state.question
    if answered is None or sender == answered.sender or name not in (*answered.answers, "Not_Supported"):
        answered = None
    if name not in INTERRUPTING:
        # An answer ends the waiting, and so does whatever else comes: of the question nothing more is to be expected.
        state = state._replace(question=None)
    state = after_message(state, one, name, sender, index, answered)
    return Step(index, one, name, sender, before, state, answered=answered, restart=restart)


def _ends_unseen_swap(told: Sequence[Told], index: int, state: State) -> bool:
    """Whether a log begins amid a swap of the power role: one PS_RDY comes after the other."""
    if state.swap is not None or state.contract is not None or state.asked is not None or state.request_s is not None:
        return False
    raw = told[index].message.raw
    ports = (one.message for one in told[index + 1 : index + _SOON] if one.message.sop == "SOP")
    later = next((one for one in ports if one.type != "GoodCRC" and one.raw != raw), None)
    return later is not None and later.type == "PS_RDY"


def _cable_anew(state: State, message: Message) -> State:
    earlier = state.ids.get((message.sop, PORT))
    if earlier is None or earlier.raw == message.raw:
        return state
    ids = {key: sent for key, sent in state.ids.items() if key[0] != message.sop}
    return state._replace(ids=ids, fresh=state.fresh | fresh(message.sop))


def _blurred(state: State, index: int) -> State:
    """The state after something that could not be read: mode, entry and an answer of the cable may have been in it."""
    asked = state.cable_asked and state.cable is not None
    return state._replace(blur=index, sure=False, entry=None, cable_asked=asked)


def _due_id(state: State, key: str, earlier: Sent | None, identity: int) -> int | None:
    """The MessageID that was due, where it is not the one that came."""
    if key in state.fresh:
        return None if identity == 0 else 0
    if earlier is None or identity in earlier.next_ids:
        return None
    return earlier.next_ids[0]


def _breaks_block(state: State, one: Told, name: str) -> bool:
    if one.message.sop != "SOP":
        return False
    if any(problem.code in BROKEN_BLOCK for problem in one.problems):
        return True
    return state.block is not None and not one.message.extended and name not in INTERRUPTING


def _after_reset(state: State, message: Message, index: int) -> State:
    if message.sop == "Cable_Reset":
        ids = {key: sent for key, sent in state.ids.items() if key[0] == "SOP"}
        return state._replace(ids=ids, fresh=state.fresh | fresh("SOP'", "SOP''"))
    return State(
        fresh=fresh("SOP", "SOP'", "SOP''"),
        epr_list=state.epr_list,
        cable=state.cable,
        cable_asked=state.cable_asked,
        last=(index, message.time_s),
        blur=state.blur,
        sure=True,
    )


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


def _after_plug(state: State, told: Told, identity: int) -> State:
    """What a message on SOP' or SOP'' tells of the cable."""
    message = told.message
    if message.type == "Soft_Reset":
        return counts_anew(state, message.sop, PORT)
    said = vendor_said(told)
    if said is None:
        return state
    if (said.command, said.svid) != ("Discover Identity", PD_SID):
        # An answer of another kind to the question who it is leaves that open.
        known = state.cable is not None or said.kind != "ACK"
        return state if known else state._replace(cable_asked=False)
    if said.kind == "request":
        # At the start of a count it may be another cable than before.
        return state._replace(cable_asked=True, cable=state.cable if identity else None)
    if said.kind == "BUSY":
        return state
    cable = read_cable_words(message.words)
    if said.kind == "ACK" and not cable.emarker:
        return state._replace(cable=None, cable_asked=False)  # it answers, and what it says cannot be read
    return state._replace(cable=cable, cable_asked=True)
