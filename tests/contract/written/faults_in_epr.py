"""Faults in EPR mode: how it is entered, kept up and left, and what is said in it."""

from __future__ import annotations

from collections.abc import Callable

from tests.contract.written import doings
from tests.contract.written.faults import pause, question_of
from tests.contract.written.parties import MS, Session, fixed


def in_epr(then: Callable[[Session], None]) -> Callable[[Session], None]:
    """Something in EPR mode."""

    def do(talk: Session) -> None:
        enter(talk)
        talk.idle(50 * MS, 0.9)
        then(talk)

    return do


def enter(
    talk: Session, *, acknowledge: bool = True, takes: tuple[float, float] = (5 * MS, 0.2), listed: bool = True
) -> None:
    talk.say(talk.sink, "EPR_Mode", 1 << 24 | 140 << 16)
    talk.answer()
    if acknowledge:
        talk.say(talk.source, "EPR_Mode", 2 << 24)
        talk.wire.wait(*takes)
    talk.say(talk.source, "EPR_Mode", 3 << 24)
    talk.epr = True
    talk.wire.wait(1 * MS, 12 * MS)
    if listed:
        doings.epr_offer(talk)
        talk.negotiate()


def entry(**how: object) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        enter(talk, **how)  # type: ignore[arg-type]

    return do


def entry_without_list(talk: Session) -> None:
    pause(talk)
    enter(talk, listed=False)
    question_of(talk, talk.source)
    talk.wire.wait(50 * MS, 0.1)
    doings.epr_offer(talk)
    talk.negotiate()


def plain_list(talk: Session) -> None:
    talk.say(talk.source, "Source_Capabilities", *talk.list[:4])
    talk.wire.wait(2 * MS, 12 * MS)
    doings.hard_reset(talk)


def plain_list_taken(talk: Session) -> None:
    """The sink asks by it all the same."""
    talk.say(talk.source, "Source_Capabilities", *talk.list[:4])
    talk.epr = False
    talk.list = talk.list[:4]
    talk.answer()
    talk.ask(2)


def plain_request(talk: Session) -> None:
    talk.say(talk.sink, "Request", 2 << 28 | 1 << 22 | 300 << 10 | 300)
    talk.wire.wait(2 * MS, 12 * MS)
    doings.hard_reset(talk)


def epr_request(word_change: int = 0, *, count: int = 2, position: int = 8) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        words = (position << 28 | 1 << 22 | 300 << 10 | 300, talk.list[position - 1] ^ word_change)
        talk.say(talk.sink, "EPR_Request", *words[:count])
        talk.wire.wait(2 * MS, 12 * MS)
        doings.hard_reset(talk)

    return do


def falls_silent(talk: Session) -> None:
    talk.wire.wait(0.62, 0.74)
    talk.keep_alive()


def dies(talk: Session) -> None:
    talk.wire.wait(0.76, 0.99)
    doings.hard_reset(talk)


def back_soon(talk: Session) -> None:
    """As soon as a source may that was not in EPR mode: VBUS has further to go."""
    talk.wire.put(talk.source, "Hard_Reset", b"")
    for port in (talk.source, talk.sink, talk.plug):
        port.ids.clear()
    talk.contract, talk.epr = None, False
    talk.wire.wait(0.7, 1.0)
    talk.begin()


def keep_alive_unanswered(talk: Session) -> None:
    talk.tell(talk.sink, "Extended_Control", b"\x03\0")
    talk.wire.wait(28 * MS, 33 * MS)
    doings.hard_reset(talk)


def exit_from_high(talk: Session) -> None:
    talk.ask(8)
    talk.idle(50 * MS, 0.2)
    talk.say(talk.sink, "EPR_Mode", 5 << 24)
    talk.wire.wait(2 * MS, 12 * MS)
    doings.hard_reset(talk)


def enters_twice(talk: Session) -> None:
    talk.say(talk.sink, "EPR_Mode", 1 << 24 | 140 << 16)
    talk.wire.wait(2 * MS, 12 * MS)
    doings.hard_reset(talk)


def exit_without_list(talk: Session) -> None:
    talk.ask(4)
    talk.idle(50 * MS, 0.2)
    talk.say(talk.sink, "EPR_Mode", 5 << 24)
    talk.epr = False
    talk.wire.wait(0.1, 0.3)
    question_of(talk, talk.source)
    talk.wire.wait(20 * MS, 50 * MS)
    talk.offer()
    talk.negotiate()


def withdrawn(talk: Session) -> None:
    """28 V goes away in EPR mode: the list of it has no EPR object any more."""
    talk.ask(8)
    talk.idle(50 * MS, 0.4)
    talk.make_epr_list(withdrawn=True)
    talk.tell(talk.source, "EPR_Source_Capabilities", doings.words(talk.list))
    talk.answer()
    talk.ask(2)
    talk.wire.wait(20 * MS, 60 * MS)
    talk.say(talk.source, "EPR_Mode", 5 << 24)
    talk.epr = False
    talk.wire.wait(1 * MS, 14 * MS)
    talk.offer()
    talk.answer()
    talk.ask(2)


def late_epr_ready(talk: Session) -> None:
    words, _ = talk.request(8 if talk.contract is not None and talk.contract[0] != 8 else 2)
    talk.say(talk.sink, "EPR_Request", *words)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(0.79, 0.82)
    talk.say(talk.source, "PS_RDY")


def high_in_low(talk: Session) -> None:
    """An EPR object among the SPR objects of an EPR list."""
    kept = talk.list
    talk.list = [*kept[:4], fixed(28000, 5000), 0, 0, *kept[7:]]
    talk.tell(talk.source, "EPR_Source_Capabilities", doings.words(talk.list))
    talk.wire.wait(2 * MS, 12 * MS)
    doings.hard_reset(talk)


def from_source(word: int) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.source, "EPR_Mode", word)

    return do


def enters_unmarked(talk: Session) -> None:
    """Into EPR mode with a cable that carries 3 A."""
    pause(talk)
    enter(talk)


def enters_unasked(talk: Session) -> None:
    """EPR Capable is not in the request."""
    pause(talk)
    word = 2 << 28 | 300 << 10 | 300
    talk.say(talk.sink, "Request", word)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(50 * MS, 0.2)
    talk.say(talk.source, "PS_RDY")
    pause(talk)
    enter(talk)


def refused_then_again(talk: Session) -> None:
    pause(talk)
    for _ in range(2):
        talk.say(talk.sink, "EPR_Mode", 1 << 24 | 140 << 16)
        talk.answer()
        talk.say(talk.source, "EPR_Mode", 4 << 24 | 1 << 16)
        talk.wire.wait(0.1, 0.5)


def list_unasked(talk: Session) -> None:
    pause(talk)
    kept = list(talk.list)
    doings.epr_offer(talk)
    talk.list = kept


def ack_for_nothing(talk: Session) -> None:
    talk.tell(talk.source, "Extended_Control", b"\x04\0")
