"""The e-marker's answer, word by word, and what a plug leaves alone; what a table with a slip says of it."""

from __future__ import annotations

import pytest

from pdcheck.bits.message import Message, build_message, make_header, read_message
from pdcheck.contract.talk.cable_plug import Plug, code_of, discover_identity, marker_words
from pdcheck.contract.talk.cc_line import Line
from pdcheck.contract.talk.clock import Clock, Pace
from pdcheck.contract.talk.policy import ANY, Arrow, Policy, State, TimerUse, conditions
from pdcheck.parts.cable import Cable

HEAD_3, HEAD_2 = 0xFF00A041, 0xFF008041
LATENCY, A_5, A_3, V_50, EPR = 1 << 13, 2 << 5, 1 << 5, 3 << 9, 1 << 17
TYPE_C, BOTH_ENDS, THROUGH = 2 << 18, 3 << 11, 1 << 4


@pytest.mark.parametrize(
    ("text", "identity", "newer", "older"),
    [
        ("C-C 3A marked", 3 << 27, [A_3], A_3 | THROUGH),
        ("C-C 5A", 3 << 27, [A_5], A_5 | THROUGH),
        ("EPR", 3 << 27, [A_5 | V_50 | EPR], A_5 | THROUGH),
        ("active 5A", 4 << 27, [A_5 | BOTH_ENDS | THROUGH, 0], A_5 | BOTH_ENDS | THROUGH),
        ("active 240W", 4 << 27, [A_5 | V_50 | EPR | BOTH_ENDS | THROUGH, 0], A_5 | BOTH_ENDS | THROUGH),
    ],
)
def test_the_words_of_a_marker(text: str, identity: int, newer: list[int], older: int) -> None:
    cable = Cable(text)
    newer[0] |= TYPE_C | LATENCY
    # Bits 22..21 of the ID header say that it is a plug: there since Revision 3.0 only.
    assert marker_words(cable) == (HEAD_3, identity | 3 << 21, 0, 0, *newer)
    assert marker_words(cable, "2.0") == (HEAD_2, identity, 0, 0, older | TYPE_C | LATENCY)


def test_a_cables_own_words_are_sent_as_they_are() -> None:
    words = (0x18001234, 0x5678, 0x9ABC, 0x000A2640)
    bare = Cable(id="c", words=" ".join(f"{word:08x}" for word in words))
    assert marker_words(bare) == (HEAD_3, *words)
    whole = Cable(id="c", words=" ".join(f"{word:08x}" for word in (0xFF008041, *words)))
    assert marker_words(whole) == (0xFF008041, *words)


def test_headers_of_discover_identity() -> None:
    assert (discover_identity("3.x"), discover_identity("2.0")) == (0xFF00A001, 0xFF008001)
    assert (discover_identity("3.x", "NAK"), discover_identity("2.0", "ACK")) == (0xFF00A081, HEAD_2)
    assert code_of({3: "a", 5: "b"}, "b") == 5


def heard(name: str, *words: int, revision: str = "3.x") -> Message:
    return read_message(build_message(make_header(name, len(words), revision=revision), words), "SOP'")


def test_a_plug_answers_discover_identity_once_and_leaves_the_rest_alone() -> None:
    line = Line(Clock(), Pace())
    plug = Plug(line, Cable("C-C 5A"))
    line.stations.append(plug)
    assert [plug.hears(sop) for sop in ("SOP", "SOP'", "SOP''")] == [False, True, False]
    for message in (heard("Soft_Reset"), heard("Vendor_Defined", 0xFF00A002), heard("Vendor_Defined", 0x12340001)):
        plug.hear(message)
    line.clock.run(1.0)
    assert line.packets == []
    plug.hear(heard("Vendor_Defined", 0xFF00A001))
    line.clock.run(2.0)
    [reply] = line.packets
    assert (reply.sop, reply.sender, reply.attempt) == ("SOP'", "cable", 1)
    assert reply.time_s == 1.0 + Pace().of("tReceiverResponse")
    fields = reply.message().header_fields()
    assert reply.message().words == marker_words(plug.cable)
    assert (fields["id"], fields["power_role"], reply.message().revision) == (0, 1, "3.x")
    assert reply.message().header >> 5 & 1 == 0
    plug.hear(heard("Vendor_Defined", 0xFF008001, revision="2.0"))
    line.clock.run(3.0)
    again = line.packets[-1].message()
    assert (again.words, again.header_fields()["id"], again.revision) == (marker_words(plug.cable, "2.0"), 1, "2.0")
    assert plug.revision == "2.0"
    plug.hear_reset()
    plug.hear(heard("Vendor_Defined", 0xFF00A001))
    line.clock.run(4.0)
    assert line.packets[-1].message().header_fields()["id"] == 0


GREET = State("A", ("greet",), (TimerUse("tSinkTx"), TimerUse("tReceive", "cold", "greet")))


def test_a_table_and_what_may_be_asked_of_it() -> None:
    states = [GREET, State("B", ("send_soft_reset",)), State("C", ("send_hard_reset",)), State("D")]
    arrows = (
        Arrow("A", "x", "B"),
        Arrow("B", "x", "", "", ("bow",)),
        Arrow("A", "x", "C", "not cold"),
        Arrow(ANY, "x", "A"),
    )
    policy = Policy(states, arrows)
    assert (policy.initial, policy.arrows) == ("A", arrows)
    assert policy.resets == {"B", "C"}
    assert list(policy.states) == ["A", "B", "C", "D"]
    assert policy.arrows_from("A", "x") == [arrows[0], arrows[2], arrows[3]]
    assert policy.arrows_from("D", "x") == [arrows[3]]
    assert policy.arrows_from("A", "y") == []
    assert policy.timers() == {"tSinkTx", "tReceive"}
    assert conditions("") == []
    assert conditions("not cold and dark") == [("cold", False), ("dark", True)]
