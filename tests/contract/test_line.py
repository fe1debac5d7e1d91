"""The line and the clock on their own: who waits for whom, how often something is sent, who hears a reset."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pdcheck.bits.message import Message, build_message, make_header
from pdcheck.contract.settle import Contract
from pdcheck.contract.talk import cc_line
from pdcheck.contract.talk.cc_line import Line, Packet, duration_s, good_crc, tries
from pdcheck.contract.talk.clock import Clock, Pace, longest
from pdcheck.contract.talk.journal import Change, Journal, Remark, Stand
from pdcheck.errors import InputError
from pdcheck.facts.timing import TIMERS

PING = build_message(make_header("Ping", 0, source=True, dfp=True))
LONG_S, RESET_S = duration_s(PING, "SOP"), duration_s(b"", "Hard_Reset")
GAP_S, TRANSMIT_S = Pace().of("tInterFrameGap"), Pace().of("tTransmit")
AGAIN_S = Pace().of("tReceive") + Pace().of("tRetry")


class Ear:
    """A station that notes what it hears."""

    revision = "3.x"

    def __init__(self, name: str, sops: tuple[str, ...], clock: Clock) -> None:
        self.name, self.sops, self.clock = name, sops, clock
        self.heard: list[tuple[float, str]] = []

    def hears(self, sop: str) -> bool:
        return sop in self.sops

    def hear(self, message: Message) -> None:
        self.heard.append((self.clock.now_s, message.type))

    def hear_reset(self) -> None:
        self.heard.append((self.clock.now_s, "reset"))


@pytest.fixture
def line() -> Line:
    return Line(Clock(), Pace())


def station(line: Line, name: str, *sops: str) -> Ear:
    ear = Ear(name, sops, line.clock)
    line.stations.append(ear)
    return ear


def send(line: Line, done: list[Any], wanted: Callable[[], bool] = lambda: True, count: int = 3) -> None:
    line.send("source", "SOP", PING, count, lambda good: done.append((good, line.clock.now_s)), wanted)


def test_a_message_is_answered_by_who_hears_it(line: Line) -> None:
    source, plug, sink = station(line, "source", "SOP"), station(line, "cable", "SOP'"), station(line, "sink", "SOP")
    done: list[Any] = []
    send(line, done)
    line.clock.run(1.0)
    first, answer = line.packets
    answer_s = LONG_S + max(GAP_S, TRANSMIT_S)
    assert first == Packet(0.0, LONG_S, "SOP", PING, "source", 1, answer_s)
    assert answer == Packet(answer_s, answer_s + duration_s(answer.raw, "SOP"), "SOP", answer.raw, "sink")
    assert done == [(True, pytest.approx(answer.end_s))]
    assert (source.heard, plug.heard) == ([], [])
    assert sink.heard == [(pytest.approx(answer.end_s), "Ping")]


def test_a_message_that_nobody_hears_is_sent_again(line: Line) -> None:
    done: list[Any] = []
    send(line, done)
    line.clock.run(1.0)
    starts = [turn * (LONG_S + AGAIN_S) for turn in range(3)]
    assert [packet.time_s for packet in line.packets] == pytest.approx(starts)
    assert [(packet.attempt, packet.answered_s) for packet in line.packets] == [(1, None), (2, None), (3, None)]
    assert done == [(False, pytest.approx(starts[2] + LONG_S + Pace().of("tReceive")))]


def test_what_is_no_longer_wanted_is_not_sent(line: Line) -> None:
    done: list[Any] = []
    send(line, done, lambda: line.clock.now_s < LONG_S)
    send(line, done, lambda: False)
    line.clock.run(1.0)
    assert len(line.packets) == 1
    assert done == []


def test_one_packet_at_a_time(line: Line) -> None:
    sink = station(line, "sink", "SOP")
    source = station(line, "source", "SOP")
    done: list[Any] = []
    send(line, done)
    send(line, done)
    line.hard_reset("sink", lambda: done.append("reset"))
    line.clock.run(1.0)
    assert [(packet.sop, packet.sender) for packet in line.packets] == [
        ("SOP", "source"), ("SOP", "sink"), ("SOP", "source"), ("SOP", "sink"), ("Hard_Reset", "sink"),
    ]  # fmt: skip
    for before, after in ((1, 2), (3, 4)):
        assert line.packets[after].time_s == pytest.approx(line.packets[before].end_s + GAP_S)
    assert done[2] == "reset"
    assert [what for _, what in sink.heard] == ["Ping", "Ping"]
    reset = line.packets[4]
    assert source.heard == [(pytest.approx(reset.end_s), "reset")]
    assert reset.end_s - reset.time_s == pytest.approx(RESET_S)
    assert reset.is_reset
    assert (reset.raw, reset.attempt, reset.answered_s) == (b"", 1, None)


def test_a_line_that_is_free_is_not_waited_for(line: Line) -> None:
    line.hard_reset("sink", lambda: None)
    line.clock.run(RESET_S + GAP_S)
    line.hard_reset("source", lambda: None)
    assert [packet.time_s for packet in line.packets] == [0.0, pytest.approx(RESET_S + GAP_S)]


def test_no_more_packets_than_a_conversation_may_have(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cc_line, "MOST_PACKETS", 2)
    line.hard_reset("sink", lambda: None)
    line.hard_reset("sink", lambda: None)
    line.hard_reset("sink", lambda: None)
    with pytest.raises(InputError) as caught:
        line.clock.run(1.0)
    assert (caught.value.what, caught.value.expected) == ("more than 2 packets", "a shorter --until")
    assert len(line.packets) == 2
    assert (cc_line.MOST_PACKETS, tries("3.x"), tries("2.0")) == (2, 3, 4)


@pytest.mark.parametrize(
    ("name", "sop", "power_role", "data_role"),
    [("source", "SOP", 1, 1), ("sink", "SOP", 0, 0), ("cable", "SOP'", 1, 0), ("source", "SOP'", 0, 0)],
)
def test_a_good_crc_says_who_it_is_from(line: Line, name: str, sop: str, power_role: int, data_role: int) -> None:
    asked = Packet(0.0, 1.0, sop, build_message(make_header("Ping", 0, message_id=5)), "sink").message()
    answer = Packet(0.0, 1.0, sop, good_crc(asked, station(line, name)), name).message()
    fields = answer.header_fields()
    assert (answer.type, answer.crc_ok, fields["id"], fields["power_role"]) == ("GoodCRC", True, 5, power_role)
    assert answer.header >> 5 & 1 == data_role


def test_a_clock_calls_in_the_order_of_time_then_of_asking() -> None:
    clock, heard = Clock(), []
    for name, seconds in (("b", 2.0), ("a", 1.0), ("c", 2.0), ("d", 3.0), ("late", 3.5)):
        clock.after(seconds, lambda name=name: heard.append((name, clock.now_s)))
    gone = clock.after(1.5, lambda: heard.append(("gone", clock.now_s)))
    gone.cancel()
    gone.cancel()
    clock.run(3.0)
    assert heard == [("a", 1.0), ("b", 2.0), ("c", 2.0), ("d", 3.0)]
    assert clock.now_s == 3.0
    clock.run(4.0)
    assert heard[4:] == [("late", 3.5)]


@pytest.mark.parametrize(
    ("name", "epr", "seconds"),
    [("tSenderResponse", False, 0.03), ("tReceiverResponse", False, 0.0075), ("tSinkRequest", False, 0.11),
     ("tPSTransition", False, 0.5), ("tPSTransition", True, 0.925), ("tTypeCSinkWaitCap", True, 0.465)],
)  # fmt: skip
def test_typical_times(name: str, epr: bool, seconds: float) -> None:
    assert Pace().of(name, epr=epr) == pytest.approx(seconds, abs=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_drawn_times_keep_to_their_share_of_the_range(seed: int) -> None:
    for row in TIMERS.values():
        drawn = Pace(seed).of(row.name)
        if row.min is not None and row.max is not None:
            assert row.min <= drawn <= row.max
        elif row.max is not None:
            assert 0.3 * row.max <= drawn <= 0.9 * row.max
        else:
            assert 1.02 * row.require_min() <= drawn <= 1.5 * row.require_min()


def test_the_longest_that_timers_take() -> None:
    assert longest("tPSHardReset", "tSafe0V") == pytest.approx(0.685)
    assert longest("tPSTransition") == TIMERS["tPSTransition"].max


def test_a_journal_takes_down_what_is_news() -> None:
    clock = Clock()
    journal = Journal(clock)
    contract = Contract("as-asked", "fixed", 9.0, 3.0, None, (), False, "so")
    journal.stand(None)
    clock.run(1.0)
    journal.change("sink", "PE_SNK_Ready", "PS_RDY")
    journal.remark("trouble", "it broke")
    journal.remark("line", "plug in")
    journal.stand(contract)
    clock.run(2.0)
    journal.stand(contract)
    journal.stand(None)
    journal.stand(None)
    assert journal.changes == [Change(1.0, "sink", "PE_SNK_Ready", "PS_RDY")]
    assert journal.remarks == [Remark(1.0, "trouble", "it broke"), Remark(1.0, "line", "plug in")]
    assert journal.stands == [Stand(1.0, contract), Stand(2.0, None)]
