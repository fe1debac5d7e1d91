"""Faults of the larger course: messages in chunks, the cable, swaps, EPR mode."""

from __future__ import annotations

from collections.abc import Callable

from tests.contract.written import doings
from tests.contract.written.faults import pause, question_of
from tests.contract.written.parties import MS, Session, fixed

LONG = bytes(range(60))

# ---- chunks


def chunked(plan: str, *, late_s: tuple[float, float] | None = None, size: int = 60) -> Callable[[Session], None]:
    """A message of three chunks by a plan: ``0`` to ``9`` a chunk, ``a`` to ``j`` a request for chunk 0 to 9.

    ``!`` waits for ``late_s`` before the next, ``*`` gives the next chunk another Data Size.
    """

    def do(talk: Session) -> None:
        pause(talk)
        wire = talk.wire
        who, other = talk.source, talk.sink
        wire.tell(other, who, "Security_Request", bytes(8))
        talk.answer()
        other_size, first = 0, True
        for sign in plan:
            if sign == "!":
                assert late_s is not None
                wire.wait(*late_s)
                first = True
                continue
            if sign == "*":
                other_size = 4
                continue
            if not first:
                wire.wait(0.3 * MS, 12 * MS)
            first = False
            if sign.isdigit():
                at = int(sign)
                wire.chunk(who, other, "Security_Response", LONG[at * 26 : at * 26 + 26], size + other_size, at)
            else:
                wire.chunk(other, who, "Security_Response", b"", 0, ord(sign) - ord("a"), asks=True)
        talk.idle(0.3, 0.6)
        question_of(talk, talk.sink)

    return do


def without_leave(talk: Session) -> None:
    pause(talk)
    talk.say(talk.sink, "Get_Status")
    talk.answer()
    talk.wire.unchunked(talk.source, talk.sink, "Status", bytes((40, 2, 0, 4, 2, 0, 0)))


# ---- the cable, before the ports talk


def cable_says(after: tuple[float, float], *words: int, kind: int = 1, command: int = 1) -> Callable[[Session], None]:
    """Discover Identity, and an answer after some time."""

    def do(talk: Session) -> None:
        ask_cable(talk)
        talk.wire.wait(*after)
        answer_cable(talk, *words, kind=kind, command=command)
        talk.wire.wait(20 * MS, 60 * MS)
        talk.begin()

    return do


def ask_cable(talk: Session) -> None:
    talk.wire.say(talk.vconn, talk.plug, "Vendor_Defined", (talk.vdm(talk.vconn, 1, version=1),), "SOP'")


def answer_cable(talk: Session, *words: int, kind: int = 1, command: int = 1) -> None:
    header = talk.vdm(talk.plug, command, kind, version=1)
    talk.wire.say(talk.plug, talk.vconn, "Vendor_Defined", (header, *words), "SOP'")


PASSIVE = (3 << 27 | 3 << 21 | 0x1234, 0, 0x00010002, 1 << 28 | 2 << 18 | 2 << 13 | 1 << 5)


def busy_cable(wait: tuple[float, float], times: int = 1) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        for _ in range(times):
            ask_cable(talk)
            talk.answer()
            answer_cable(talk, kind=3)
            talk.wire.wait(*wait)
        ask_cable(talk)
        talk.answer()
        answer_cable(talk, *PASSIVE)
        talk.wire.wait(20 * MS, 60 * MS)
        talk.begin()

    return do


def mute_cable(talk: Session) -> None:
    """It hears the question and says nothing."""
    ask_cable(talk)
    talk.wire.wait(40 * MS, 150 * MS)
    talk.begin()


def hasty(times: int, wait: tuple[float, float]) -> Callable[[Session], None]:
    """Asked again and again where nobody answers."""

    def do(talk: Session) -> None:
        for _ in range(times):
            talk.wire.say(talk.vconn, None, "Vendor_Defined", (talk.vdm(talk.vconn, 1, version=1),), "SOP'", tries=3)
            talk.wire.wait(*wait)
        talk.begin()

    return do


def too_strong(talk: Session) -> None:
    """5 A offered over a cable that says 3 A, and taken or not."""
    ask_cable(talk)
    talk.answer()
    answer_cable(talk, *PASSIVE)
    talk.wire.wait(20 * MS, 60 * MS)
    talk.say(talk.source, "Source_Capabilities", fixed(5000, 3000), fixed(20000, 5000))
    talk.answer()
    if talk.chance.random() < 0.5:
        talk.list = [fixed(5000, 3000), fixed(20000, 5000)]
        talk.ask(1)
        return
    talk.say(talk.sink, "Request", 2 << 28 | 500 << 10 | 500)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(50 * MS, 300 * MS)
    talk.say(talk.source, "PS_RDY")


def sop_late(talk: Session) -> None:
    """A port that answers Discover Identity late."""
    pause(talk)
    dfp = talk.source if talk.source.dfp else talk.sink
    talk.say(dfp, "Vendor_Defined", talk.vdm(dfp, 1))
    talk.wire.wait(18 * MS, 23 * MS)
    talk.say(talk.other(dfp), "Vendor_Defined", talk.vdm(talk.other(dfp), 1, 2))


def other_command(talk: Session) -> None:
    pause(talk)
    talk.say(talk.source, "Vendor_Defined", talk.vdm(talk.source, 1))
    talk.answer()
    talk.say(talk.sink, "Vendor_Defined", talk.vdm(talk.sink, 2, 2))


def unasked_answer(talk: Session) -> None:
    pause(talk)
    talk.say(talk.source, "Vendor_Defined", talk.vdm(talk.source, 1))
    talk.answer()
    talk.say(talk.sink, "Vendor_Defined", talk.vdm(talk.sink, 1, 2))
    talk.wire.wait(20 * MS, 50 * MS)
    talk.say(talk.sink, "Vendor_Defined", talk.vdm(talk.sink, 2, 2))


# ---- swaps


def power_swap(
    name: str = "PR_Swap",
    *,
    off: tuple[float, float] = (30 * MS, 0.5),
    on: tuple[float, float] = (20 * MS, 0.3),
    start: tuple[float, float] = (25 * MS, 0.1),
    half: bool = False,
) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        old, new = talk.source, talk.sink
        talk.say(new, name)
        talk.answer()
        talk.say(old, "Accept")
        talk.wire.wait(*off)
        old.source = False
        talk.wire.say(old, new, "PS_RDY")
        talk.wire.wait(*on)
        if half:
            old.source = True
            doings.hard_reset(talk)
            return
        new.source = True
        talk.wire.say(new, old, "PS_RDY")
        talk.source, talk.sink = new, old
        for port in (old, new):
            port.ids.pop("SOP", None)
        talk.contract = None
        talk.wire.wait(*start)
        talk.begin(anew=False)

    return do


def vconn_swap(wait: tuple[float, float] | None) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.sink, "VCONN_Swap")
        talk.answer()
        talk.say(talk.source, "Accept")
        if wait is None:
            talk.wire.wait(0.2, 0.4)
            question_of(talk, talk.source)
            return
        talk.wire.wait(*wait)
        talk.say(talk.sink, "PS_RDY")

    return do


def data_reset_unfinished(talk: Session) -> None:
    pause(talk)
    talk.say(talk.source, "Data_Reset")
    talk.answer()
    talk.say(talk.sink, "Accept")
    talk.wire.wait(0.4, 0.6)
    doings.hard_reset(talk)


def soft_reset_counts(talk: Session) -> None:
    """A Soft_Reset whose MessageID goes on in place of starting anew."""
    pause(talk)
    who = talk.either()
    if not who.ids["SOP"]:
        question_of(talk, who)
        talk.wire.wait(20 * MS, 60 * MS)
    talk.say(who, "Soft_Reset")
    talk.other(who).ids["SOP"] = 0
    who.ids["SOP"] = 1
    talk.answer()
    talk.say(talk.other(who), "Accept")
    talk.wire.wait(1 * MS, 50 * MS)
    talk.offer()
    talk.negotiate()


def soft_reset_unanswered(talk: Session) -> None:
    pause(talk)
    for port in (talk.source, talk.sink):
        port.ids["SOP"] = 0
    talk.say(talk.either(), "Soft_Reset")
    talk.wire.wait(28 * MS, 33 * MS)
    doings.hard_reset(talk)
