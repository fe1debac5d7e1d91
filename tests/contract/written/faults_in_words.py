"""Faults in what is said beside lists and requests: blocks of data, identities, messages from the wrong side."""

from __future__ import annotations

from collections.abc import Callable

from tests.contract.written.faults import asked, last, of_kind, pause, question_of
from tests.contract.written.faults_in_course import PASSIVE, answer_cable, ask_cable
from tests.contract.written.parties import MS, Session, fixed


def sink_says(*objects: int) -> Callable[[Session], None]:
    """The sink's own list."""

    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.source, "Get_Sink_Cap")
        talk.answer()
        talk.say(talk.sink, "Sink_Capabilities", *objects)

    return do


def block(asks: str, name: str, data: bytes) -> Callable[[Session], None]:
    """A question of the sink and a block of data in answer."""

    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.sink, asks)
        talk.answer()
        talk.tell(talk.source, name, data)

    return do


def word(asks: str, name: str, answer: int) -> Callable[[Session], None]:
    """A question of the sink and a word in answer."""

    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.sink, asks)
        talk.answer()
        talk.say(talk.source, name, answer)

    return do


def endless_text(talk: Session) -> None:
    pause(talk)
    talk.tell(talk.sink, "Get_Manufacturer_Info", b"\0\0")
    talk.answer()
    talk.tell(talk.source, "Manufacturer_Info", b"\x34\x12\x01\x00Maker")


def too_long(talk: Session) -> None:
    pause(talk)
    talk.say(talk.sink, "Get_Status")
    talk.answer()
    talk.wire.chunk(talk.source, talk.sink, "Status", bytes(7), 400, 0)


def vendor_bit(talk: Session) -> None:
    pause(talk)
    talk.say(talk.source, "Vendor_Defined", talk.vdm(talk.source, 1) | 1 << 5)
    talk.answer()
    talk.say(talk.sink, "Vendor_Defined", talk.vdm(talk.sink, 1, 2))


def ready_again(talk: Session) -> None:
    pause(talk)
    talk.ask(1)
    talk.wire.wait(5 * MS, 50 * MS)
    talk.say(talk.source, "PS_RDY")


def does_not_wait(talk: Session) -> None:
    pause(talk)
    words, _ = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(20 * MS, 60 * MS)
    talk.ask(2)


def asks_amid(talk: Session) -> None:
    pause(talk)
    words, wanted = talk.request(1)
    talk.say(talk.sink, "Request", *words)
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(20 * MS, 60 * MS)
    talk.say(talk.source, "Get_Sink_Cap")
    talk.answer()
    talk.say(talk.sink, "Sink_Capabilities", fixed(5000, 900))
    talk.wire.wait(50 * MS, 100 * MS)
    talk.say(talk.source, "PS_RDY")
    talk.contract = wanted


def small_step_late(talk: Session) -> None:
    at = of_kind(talk, 0)
    talk.ask(at, 9000)
    talk.idle(0.1, 0.3)
    words, talk.contract = talk.request(at, 9100)
    talk.say(talk.sink, "Request", *words)
    talk.was_request = talk.wire.now
    talk.answer()
    talk.say(talk.source, "Accept")
    talk.wire.wait(60 * MS, 120 * MS)
    talk.say(talk.source, "PS_RDY")


def soft_reset_answered_on(talk: Session) -> None:
    pause(talk)
    for port in (talk.source, talk.sink):
        port.ids["SOP"] = 0
    talk.say(talk.sink, "Soft_Reset")
    talk.answer()
    talk.source.ids["SOP"] = 3
    talk.say(talk.source, "Accept")
    talk.wire.wait(2 * MS, 20 * MS)
    talk.offer()
    talk.negotiate()


def stray_acknowledgement(talk: Session) -> None:
    pause(talk)
    talk.wire.acknowledge(talk.sink, "SOP", talk.chance.randrange(8))


def reserved_revision(talk: Session) -> None:
    pause(talk)
    question_of(talk, talk.sink)
    last(talk).header(0xC0, 0xC0)


def plug_above(talk: Session) -> None:
    talk.wire.plug_revision = "2.0"
    ask_cable(talk)
    talk.answer()
    talk.wire.plug_revision = "3.x"
    answer_cable(talk, *PASSIVE)
    talk.wire.wait(20 * MS, 50 * MS)
    talk.begin()


def strong_list(talk: Session) -> None:
    pause(talk)
    talk.list = [fixed(5000, 3000), fixed(20000, 5000)]
    talk.say(talk.source, "Source_Capabilities", *talk.list)
    talk.answer()
    talk.ask(1)


def by_the_old_list(talk: Session) -> None:
    pause(talk)
    count = len(talk.list)
    talk.list = talk.list[:2]
    talk.say(talk.source, "Source_Capabilities", *talk.list)
    talk.answer()
    talk.say(talk.sink, "Request", asked(count, 1000, 1000))
    talk.answer()
    talk.say(talk.source, "Reject")


def swaps_though_refused(talk: Session) -> None:
    pause(talk)
    talk.say(talk.sink, "DR_Swap")
    talk.answer()
    talk.say(talk.source, "Reject")
    talk.source.dfp, talk.sink.dfp = False, True
    talk.idle(50 * MS, 0.2)
    talk.ask()


def list_late(talk: Session) -> None:
    pause(talk)
    talk.say(talk.sink, "Get_Source_Cap")
    talk.wire.wait(19 * MS, 25 * MS)
    talk.offer()
    talk.negotiate()


def list_never(talk: Session) -> None:
    pause(talk)
    talk.say(talk.sink, "Get_Source_Cap")
    talk.wire.wait(40 * MS, 80 * MS)
    question_of(talk, talk.sink)
