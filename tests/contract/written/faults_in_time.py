"""Faults of answers and times: what comes late, not at all, twice, or too soon; and what ends in a reset."""

from __future__ import annotations

from collections.abc import Callable

from tests.contract.written import doings
from tests.contract.written.faults import of_kind, pause, question
from tests.contract.written.parties import MS, Session


def late(name: str, answer: str, *words: int, who: str = "source") -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        port = talk.source if who == "source" else talk.sink
        talk.say(port, name)
        talk.wire.wait(18 * MS, 26 * MS)
        talk.say(talk.other(port), answer, *words)

    return do


def late_request(talk: Session) -> None:
    pause(talk)
    talk.offer()
    talk.wire.wait(19 * MS, 26 * MS)
    talk.ask()


def late_accept(talk: Session) -> None:
    pause(talk)
    words, wanted = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.wire.wait(18 * MS, 26 * MS)
    talk.say(talk.source, "Accept")
    talk.settle(wanted)


def ready_after(least: float, most: float) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        at = 2 if talk.contract is not None and talk.contract[0] == 1 else 1
        words, wanted = talk.request(at)
        talk.say(talk.sink, "Request", *words)
        talk.answer()
        talk.say(talk.source, "Accept")
        talk.wire.wait(least, most)
        talk.say(talk.source, "PS_RDY")
        talk.contract = wanted

    return do


def no_ready(talk: Session) -> None:
    pause(talk)
    words, _ = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(460 * MS, 540 * MS)
    doings.hard_reset(talk)


def no_accept(talk: Session) -> None:
    pause(talk)
    words, wanted = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.wire.wait(40 * MS, 200 * MS)
    talk.say(talk.source, "PS_RDY")
    talk.contract = wanted


def no_answer(talk: Session) -> None:
    pause(talk)
    words, _ = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.wire.wait(27 * MS, 33 * MS)
    doings.hard_reset(talk)


def no_request(talk: Session) -> None:
    pause(talk)
    talk.offer(0.4)
    talk.wire.wait(27 * MS, 33 * MS)
    doings.hard_reset(talk)


def twice_accepted(talk: Session) -> None:
    pause(talk)
    words, wanted = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(2 * MS, 10 * MS)
    talk.say(talk.source, "Accept")
    talk.settle(wanted)


def asks_again_soon(talk: Session) -> None:
    pause(talk)
    words, _ = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.answer()
    talk.say(talk.source, "Wait")
    talk.wire.wait(5 * MS, 90 * MS)
    talk.ask(1)


def other_answer(talk: Session) -> None:
    pause(talk)
    talk.say(talk.source, "Get_Sink_Cap")
    talk.answer()
    talk.say(talk.sink, "Get_Source_Cap_Extended")
    talk.answer()
    talk.say(talk.source, "Not_Supported")


def pps_silent(talk: Session) -> None:
    talk.ask(of_kind(talk, 0))
    talk.wire.wait(10.5, 11.9)
    talk.ask(talk.contract[0] if talk.contract else None)


def pps_dead(talk: Session) -> None:
    talk.ask(of_kind(talk, 0))
    talk.wire.wait(12.0, 14.9)
    doings.hard_reset(talk)


def refused_for_ever(talk: Session) -> None:
    for _ in range(talk.chance.randint(2, 3)):
        talk.offer()
        talk.answer()
        talk.ask(2, outcome="Reject")
        talk.wire.wait(0.1, 0.5)
        talk.wire.put(talk.source, "Hard_Reset", b"")
        for port in (talk.source, talk.sink, talk.plug):
            port.ids.clear()
        talk.wire.wait(0.7, 1.9)


def reset_for_nothing(talk: Session) -> None:
    pause(talk)
    question(talk)
    talk.idle(0.3, 2.0)
    doings.hard_reset(talk)


def back_soon(talk: Session) -> None:
    pause(talk)
    talk.wire.put(talk.source, "Hard_Reset", b"")
    for port in (talk.source, talk.sink, talk.plug):
        port.ids.clear()
    talk.contract = None
    talk.wire.wait(60 * MS, 500 * MS)
    talk.begin()


def lists_soon(talk: Session) -> None:
    """Before anybody is there."""
    talk.make_list()
    for _ in range(talk.chance.randint(3, 6)):
        talk.wire.say(talk.source, None, "Source_Capabilities", tuple(talk.list), tries=3)
        talk.wire.wait(12 * MS, 60 * MS)
    talk.wire.wait(120 * MS)
    talk.begin()
