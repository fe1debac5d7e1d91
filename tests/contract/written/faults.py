"""Faults, one in each conversation: what is done wrong, on the line, in headers, words and answers."""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import NamedTuple

from tests.contract.written.line import Port, Row
from tests.contract.written.parties import MS, Session

ROLE, DATA, PLUG = 1 << 8, 1 << 5, 1 << 8
LOW = ("plain", "pps", "avs", "dual")


class Fault(NamedTuple):
    """A fault: its name, what the text has to say (a pattern), how it is done, among whom it can be."""

    name: str
    says: str
    do: Callable[[Session], None]
    kinds: tuple[str, ...] = LOW
    cables: tuple[str, ...] = ("3A", "none", "unmarked")
    sink: str = "3.x"
    attached: bool = True
    note: bool = False
    ends: bool = False  # nothing may follow


def flip(row: Row, bits: int) -> None:
    """Bits of the header the other way."""
    word = int.from_bytes(row.raw[:2], "little")
    row.header(word & bits, ~word & bits)


def number(row: Row, value: int) -> None:
    """Another MessageID."""
    row.header(7 << 9, value % 8 << 9)


def last(talk: Session) -> Row:
    return next(row for row in reversed(talk.wire.rows) if not row.good_crc)


def acknowledgement(talk: Session) -> Row:
    return next(row for row in reversed(talk.wire.rows) if row.good_crc)


def pause(talk: Session) -> None:
    talk.idle(50 * MS, 400 * MS)


def question(talk: Session) -> tuple[Row, Port]:
    """Some question with its answer; the row of the question."""
    who = talk.either()
    row = talk.say(who, "Get_Revision")
    talk.answer()
    talk.say(talk.other(who), talk.chance.choice(("Not_Supported", "Not_Supported")))
    return row, who


# ---- the line


def bad_crc(talk: Session) -> None:
    pause(talk)
    who = talk.either()
    row = talk.wire.say(who, None, "Get_Revision")
    row.crc_off = 1 << talk.chance.randrange(32)
    who.ids["SOP"] = (who.ids["SOP"] - 1) % 8
    talk.wire.wait(1.0 * MS, 1.1 * MS)
    question_of(talk, who)


def question_of(talk: Session, who: Port) -> Row:
    row = talk.say(who, "Get_Revision")
    talk.answer()
    talk.say(talk.other(who), "Not_Supported")
    return row


def counts_on(talk: Session) -> None:
    pause(talk)
    who = talk.either()
    who.ids["SOP"] = (who.ids["SOP"] + talk.chance.randint(1, 6)) % 8
    question_of(talk, who)


def no_acknowledgement(talk: Session) -> None:
    pause(talk)
    who = talk.either()
    talk.wire.say(who, None, "Get_Revision")
    talk.answer()
    talk.say(talk.other(who), "Not_Supported")


def wrong_acknowledgement(talk: Session) -> None:
    pause(talk)
    who = talk.either()
    talk.say(who, "Get_Revision")
    row = acknowledgement(talk)
    number(row, (row.raw[1] >> 1 & 7) + talk.chance.randint(1, 7))
    talk.answer()
    talk.say(talk.other(who), "Not_Supported")


def acknowledged_late(talk: Session) -> None:
    pause(talk)
    who = talk.either()
    talk.wire.say(who, None, "Get_Revision")
    talk.wire.wait(0.5 * MS, 0.8 * MS)
    talk.wire.acknowledge(talk.other(who), "SOP", (who.ids["SOP"] - 1) % 8)
    talk.answer()
    talk.say(talk.other(who), "Not_Supported")


def tries(talk: Session) -> None:
    pause(talk)
    who = talk.either()
    talk.say(who, "Get_Revision", tries=talk.chance.randint(5, 6))
    talk.answer()
    talk.say(talk.other(who), "Not_Supported")


def tried_at(least: float, most: float) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        who = talk.either()
        talk.wire.say(who, None, "Get_Revision")
        talk.wire.wait(least, most)
        who.ids["SOP"] = (who.ids["SOP"] - 1) % 8
        question_of(talk, who)

    return do


# ---- the header


def role_of(which: str) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        start = len(talk.wire.rows)
        talk.offer()
        talk.answer()
        talk.ask(1)
        rows = [row for row in talk.wire.rows[start:] if row.good_crc == (which == "GoodCRC")]
        at = {"list": 0, "request": 1, "accept": 2, "ready": 3, "GoodCRC": talk.chance.randrange(4)}[which]
        flip(rows[at], ROLE)

    return do


def role_of_question(talk: Session) -> None:
    pause(talk)
    row, _ = question(talk)
    flip(row, ROLE)


def role_of_answer(talk: Session) -> None:
    pause(talk)
    question(talk)
    flip(last(talk), ROLE)


def plug_bit(answer: bool) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        rows = [row for row in talk.wire.rows if row.sop == "SOP'" and not row.good_crc]
        flip(rows[-1] if answer else rows[-2], PLUG)

    return do


def both_dfp(talk: Session) -> None:
    start = next(at for at, row in enumerate(talk.wire.rows) if row.sop == "SOP" and len(row.raw) == 6)
    flip(talk.wire.rows[start], DATA)


def role_flips(talk: Session) -> None:
    pause(talk)
    talk.ask()
    flip(last(talk), DATA)


def swap_undone(talk: Session) -> None:
    """Accepted, and then the one who asked goes on as before."""
    pause(talk)
    who = talk.either()
    talk.say(who, "DR_Swap")
    talk.answer()
    talk.say(talk.other(who), "Accept")
    other = talk.other(who)
    other.dfp = not other.dfp
    talk.idle(0.1, 0.3)
    question_of(talk, other)


def stays_modern(talk: Session) -> None:
    talk.wire.agreed = talk.source.revision
    start = len(talk.wire.rows)
    pause(talk)
    talk.ask()
    for row in talk.wire.rows[start:]:
        if not row.good_crc and not row.raw[1] & 1:
            row.header(0xC0, 1 << 6)
    talk.wire.agreed = "2.0"


def changes_revision(who: str) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        talk.wire.agreed = "2.0"
        port = talk.source if who == "source" else talk.sink
        talk.say(port, "Get_Sink_Cap" if who == "source" else "Get_Source_Cap_Extended")
        talk.wire.agreed = "3.x"
        talk.answer()
        talk.say(talk.other(port), "Not_Supported")

    return do


def answers_higher(talk: Session) -> None:
    """A sink that answers a list of Revision 2.0 in Revision 3.x."""
    talk.wire.agreed = "2.0"
    talk.offer()
    talk.answer()
    start = len(talk.wire.rows)
    talk.ask(1)
    for row in talk.wire.rows[start:]:
        if not row.good_crc and not row.raw[1] & 1:
            row.header(0xC0, 2 << 6)


# ---- words


def listing(*objects: int, first: int | None = None, odd: bool = True) -> Callable[[Session], None]:
    """A list with something odd behind 5 V; the sink takes 5 V."""

    def do(talk: Session) -> None:
        pause(talk)
        talk.make_list()
        talk.list = [talk.list[0] if first is None else first, *objects]
        talk.say(talk.source, "Source_Capabilities", *talk.list)
        talk.answer()
        talk.ask(1)

    return do


def mode_word(word: int, *, answer: int | None = None) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.sink, "EPR_Mode", word)
        if answer is not None:
            talk.answer()
            talk.say(talk.source, "EPR_Mode", answer)

    return do


def reserved_type(
    code: int, count: int = 0, *, extended: bool = False, answered: bool = False
) -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        who = talk.either()

        def raw(identity: int) -> bytes:
            word = talk.wire.header(who, code, 1 if extended else count, identity, "SOP", extended=extended)
            body = struct.pack("<HH", 0x8002, 0) if extended else bytes(4 * count)
            return struct.pack("<H", word) + body

        talk.wire.send(who, talk.other(who), raw)
        if answered:
            talk.answer()
            talk.say(talk.other(who), "Not_Supported")
        talk.idle(0.5, 1.0)

    return do


def sends(who: str, name: str, *words: int, answer: str = "") -> Callable[[Session], None]:
    """A message that has no place, and what is said to it."""

    def do(talk: Session) -> None:
        pause(talk)
        port = talk.source if who == "source" else talk.sink
        talk.say(port, name, *words)
        if answer:
            talk.answer()
            talk.say(talk.other(port), answer)

    return do


def tells(who: str, name: str, data: bytes, answer: str = "") -> Callable[[Session], None]:
    def do(talk: Session) -> None:
        pause(talk)
        port = talk.source if who == "source" else talk.sink
        talk.tell(port, name, data)
        if answer:
            talk.answer()
            talk.say(talk.other(port), answer)

    return do


# ---- requests


def requests(
    make: Callable[[Session], tuple[int, ...]], *, name: str = "Request", outcome: str = "Reject"
) -> Callable[[Session], None]:
    """A request with something wrong; the source takes it or not."""

    def do(talk: Session) -> None:
        pause(talk)
        talk.say(talk.sink, name, *make(talk))
        talk.was_request = talk.wire.now
        talk.answer()
        talk.say(talk.source, outcome)
        if outcome == "Accept":
            talk.wire.wait(30 * MS, 300 * MS)
            talk.say(talk.source, "PS_RDY")

    return do


def asked(at: int, first: int, second: int, bits: int = 0) -> int:
    return at << 28 | bits | first // 10 << 10 | second // 10


def of_kind(talk: Session, what: int) -> int:
    """The position of the first augmented object of a kind."""
    return next(at for at, word in enumerate(talk.list, 1) if word >> 28 == 0xC | what)
