"""Both ports off the beaten track: requests that no proper trigger makes, chunks, stray messages, wishes for EPR."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.bits.crc import with_crc
from pdcheck.bits.message import build_extended, build_message, make_header, read_message
from pdcheck.bits.offers import fixed
from pdcheck.bits.sequence import Listener
from pdcheck.contract.asking import request_words
from pdcheck.contract.available import Available
from pdcheck.contract.settle import settle_on
from pdcheck.contract.talk.cc_line import Packet
from pdcheck.contract.talk.conversation import Conversation, Talk
from pdcheck.contract.talk.port import event_of
from pdcheck.contract.talk.sink_port import PROPER, Ask, Manner, epr_would_help
from pdcheck.parts.cable import Cable
from pdcheck.parts.request import parse_request
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger

PLAIN, BIG = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"


def talk_of(request: str, offers: str = PLAIN, cable: str = "C-C", manner: Manner = PROPER, **behaviour: Any) -> Talk:
    source = Source(id="s", offers=offers, behaviour=behaviour, typec_current="1.5A")
    return Talk(Trigger(request=request), source, Cable(cable), manner)


def asking(talk: Talk, words: tuple[int, ...], name: str = "Request") -> None:
    """From now on the trigger asks in these words."""
    talk.sink.next_ask = lambda: Ask(name, words, talk.sink.target())  # type: ignore[method-assign, union-attr]


def said(talk: Talk, after_s: float = 0.0) -> list[str]:
    """What went over the line, GoodCRCs left out."""
    packets = [packet for packet in talk.line.packets if packet.time_s > after_s]
    names = [packet.sop if packet.is_reset else packet.message().type for packet in packets]
    return [name for name in names if name != "GoodCRC"]


@pytest.mark.parametrize(
    ("word", "answer"),
    [
        (request_words(fixed(9000, 3000, 2), 3000)[0], "Accept"),
        (request_words(fixed(9000, 3000, 2), 3010)[0], "Reject"),
        (request_words(fixed(9000, 3000, 6), 1000)[0], "Reject"),
        (4 << 28 | 800 << 9 | 60, "Accept"),
        (4 << 28 | 801 << 9 | 60, "Reject"),
        (4 << 28 | 164 << 9 | 60, "Reject"),
        (4 << 28 | 800 << 9 | 61, "Reject"),
    ],
)
def test_a_source_grants_what_it_offers_and_nothing_else(word: int, answer: str) -> None:
    talk = talk_of("9V")
    asking(talk, (word,))
    talk.play(0.7)
    assert said(talk)[:3] == ["Source_Capabilities", "Request", answer]
    assert (talk.source.grant is not None) is (answer == "Accept")  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("name", "change", "answer"),
    [("EPR_Request", 0, "Accept"), ("EPR_Request", 1, "Hard_Reset"), ("Request", None, "Hard_Reset")],
)
def test_in_epr_mode_a_request_has_to_bring_a_true_copy(name: str, change: int | None, answer: str) -> None:
    talk = talk_of("28V", BIG, "EPR")
    talk.play(1.3)
    assert talk.so_far().contract.voltage_v == 28.0  # type: ignore[union-attr]
    offer = talk.source.offers[-1]  # type: ignore[union-attr]
    word = request_words(offer, 3000, 24000, epr_mode=True)[0]
    asking(talk, (word,) if change is None else (word, offer.word ^ change), name)
    talk.sink.happen("timeout tPPSRequest")  # type: ignore[union-attr]
    talk.play(1.4)
    assert said(talk, 1.3)[:2] == [name, answer]
    if answer == "Hard_Reset":
        assert talk.line.packets[-1].sender == "source"


def test_an_epr_request_without_epr_mode_is_answered_by_a_reset() -> None:
    talk = talk_of("9V")
    word = request_words(fixed(9000, 3000, 2), 3000)[0]
    asking(talk, (word, fixed(9000, 3000, 2).word), "EPR_Request")
    talk.play(0.7)
    assert said(talk)[:3] == ["Source_Capabilities", "EPR_Request", "Hard_Reset"]


def test_a_refused_request_uses_up_no_accept_left_out() -> None:
    talk = talk_of("9V", wait=1, skip_accept=1)
    talk.play(2.0)
    assert said(talk)[:7] == [
        "Source_Capabilities", "Request", "Wait", "Source_Capabilities", "Request", "PS_RDY", "Soft_Reset",
    ]  # fmt: skip


@pytest.mark.parametrize(("number", "answered"), [(0, True), (1, True), (2, False), (3, False)])
def test_a_chunk_is_sent_when_it_is_asked_for(number: int, answered: bool) -> None:
    talk = talk_of("28V", BIG, "EPR")
    talk.play(1.3)
    source = talk.source
    assert source is not None
    assert len(source._chunks) == 2
    header = make_header("EPR_Source_Capabilities", 0, message_id=3, extended=True) | 1 << 12
    inner = 0x8400 | number << 11
    body = header.to_bytes(2, "little") + inner.to_bytes(2, "little") + bytes(2)
    source.hear(read_message(with_crc(body), "SOP", 1.3))
    before = len(talk.line.packets)
    talk.play(1.31)
    raws = [packet.raw for packet in talk.line.packets[before:]]
    assert (source._chunks[number] in raws if answered else not raws) is True


def test_a_request_for_a_chunk_is_a_message_like_any_other(scenes: Any) -> None:
    talk: Conversation = scenes["EPR"].play()
    asks = [p for p in talk.packets if not p.is_reset and p.message().extended_fields().get("request_chunk")]
    assert len(asks) == 1
    fields, inner = asks[0].message().header_fields(), asks[0].message().extended_fields()
    assert asks[0].message().crc_ok
    assert (fields["object_count"], fields["power_role"], fields["extended"]) == (1, 0, 1)
    assert (inner["chunked"], inner["chunk_number"], inner["data_size"]) == (1, 1, 0)
    assert asks[0].answered_s is not None


def test_all_that_is_said_has_a_true_crc(scene: Any) -> None:
    packets: tuple[Packet, ...] = scene._replace(until_s=3.0).play().packets
    assert all(packet.message().crc_ok for packet in packets if not packet.is_reset)


@pytest.mark.parametrize(
    ("raw", "event"),
    [
        (build_message(make_header("Accept", 0, source=True)), "Accept"),
        (build_message(make_header("EPR_Mode", 1), [0x05000000]), "EPR_Mode Exit"),
        (build_message(make_header("EPR_Mode", 1), [0xEE000000]), "EPR_Mode reserved"),
        (build_extended(make_header("Extended_Control", 0, extended=True), b"\3\0")[0], "EPR_KeepAlive"),
        (build_message(make_header("Vendor_Defined", 1), [0xFF00A041]), "Discover Identity ACK"),
        (build_message(make_header("Vendor_Defined", 1), [0xFF00A081]), "Discover Identity refused"),
        (build_message(make_header("Vendor_Defined", 1), [0x12340000]), "unstructured refused"),
    ],
)
def test_the_event_that_a_message_is(raw: bytes, event: str) -> None:
    assert event_of(Listener().hear(read_message(raw))) == event


def test_a_port_that_is_dead_or_stuck_does_nothing_more() -> None:
    for end in ("dead", "stuck"):
        talk = talk_of("9V")
        talk.play(1.0)
        port = talk.source
        assert port is not None
        setattr(port, end, True)
        port.happen("reset due")
        assert port.hears("SOP") is (end == "stuck")
        assert port.hears("SOP'") is (end == "stuck")
        port.hear(talk.line.packets[2].message())
        talk.play(2.0)
        assert said(talk, 1.0) == []


def test_who_answers_what_is_sent_to_whom() -> None:
    talk = talk_of("9V")
    assert [talk.source.hears(sop) for sop in ("SOP", "SOP'", "SOP''")] == [True, True, False]  # type: ignore[union-attr]
    assert [talk.sink.hears(sop) for sop in ("SOP", "SOP'", "SOP''")] == [True, False, False]  # type: ignore[union-attr]
    talk.sink.dead = True  # type: ignore[union-attr]
    assert not talk.sink.hears("SOP")  # type: ignore[union-attr]


def test_message_ids_come_round_after_7(scenes: Any) -> None:
    talk = scenes["PPS renewed"].play()
    sent = [p.message().header_fields()["id"] for p in talk.packets if p.answered_s and p.sender == "source"]
    assert sent == [number % 8 for number in range(len(sent))]
    assert len(sent) > 8


@pytest.mark.parametrize(
    ("request_", "offers", "helps"),
    [
        ("28V", "5V 3A, 20V 5A", True),
        ("20V", "5V 3A, 9V 3A", False),
        ("20.1V", "5V 3A, 9V 3A", True),
        ("28V", "5V 3A, 28V 5A", False),
        ("prefer 28V 9V", "5V 3A, 9V 3A", True),
        ("prefer 9V 28V", "5V 3A, 9V 3A", False),
        ("prefer 12V 15V", "5V 3A, 9V 3A", False),
        ("prefer 12V 28V", "5V 3A, 9V 3A", True),
        ("avs 15V 3A", "5V 3A", True),
        ("avs 14.9V 3A", "5V 3A", False),
        ("avs 15V 3A", "5V 3A, 20V 3A; AVS 9-20V 3A/3A", False),
        ("avs 15V 4A", "5V 3A, 20V 3A; AVS 9-20V 3A/3A", True),
        ("highest", "5V 3A", False),
        ("pps 9V", "5V 3A", False),
    ],
)
def test_whether_epr_would_help(request_: str, offers: str, helps: bool) -> None:
    request = parse_request(request_)
    seen = Available(Source(id="s", offers=offers).offers, (), (), True, False, 0.5, False)
    assert epr_would_help(request, settle_on(request, "5V", seen)) is helps


@pytest.mark.parametrize(
    ("request_", "watts"),
    [
        ("28V", 140),
        ("28V 3A", 84),
        ("avs 24V 4A", 96),
        ("prefer 20.5V 28V", 140),
        ("48V 6A", 255),
        ("avs 24.1V 3.1A", 75),
    ],
)
def test_the_power_wanted_of_epr_mode(request_: str, watts: int) -> None:
    talk = talk_of(request_, BIG, "EPR")
    talk.play(0.7)
    words = [packet.message().words[0] for packet in talk.line.packets if packet.message().type == "EPR_Mode"]
    assert words[0] == 1 << 24 | watts << 16


@pytest.mark.parametrize(
    ("least_a", "back"), [(0.5, True), (0.567, True), (2.99, True), (3.0, False), (3.5, False), (None, False)]
)
def test_give_back_is_said_where_less_would_do(least_a: float | None, back: bool) -> None:
    talk = talk_of("15V", "5V 3A, 15V 3A", manner=Manner(least_a=least_a), revision="2.0")
    talk.play(1.0)
    [word] = talk.so_far().contract.request_words  # type: ignore[union-attr]
    least = int((least_a or 0) * 100) if back else 300
    assert word == 2 << 28 | back << 27 | 300 << 10 | least


def test_no_give_back_in_pps() -> None:
    talk = talk_of("pps 9V 2A", manner=Manner(least_a=0.5))
    talk.play(1.0)
    assert talk.so_far().contract.request_words == (4 << 28 | 450 << 9 | 40,)  # type: ignore[union-attr]


def test_usb_suspend_is_declined_where_it_is_offered() -> None:
    source = Source(id="s", offers=(fixed(5000, 3000, usb_suspend_supported=True).word, fixed(9000, 3000).word))
    talk = Talk(Trigger(request="9V"), source, Cable("C-C"))
    talk.play(1.0)
    assert talk.so_far().contract.request_words == (2 << 28 | 1 << 24 | 300 << 10 | 300,)  # type: ignore[union-attr]


def test_reject_and_wait_count_up() -> None:
    talk = talk_of("9V")
    for answer in ("reject", "wait", "wait", "reject", "wait"):
        talk.source.refuse_next(answer)  # type: ignore[union-attr]
    talk.play(9.0)
    assert [name for name in said(talk) if name in ("Reject", "Wait", "Accept")] == [
        "Reject", "Reject", "Wait", "Wait", "Wait", "Accept",
    ]  # fmt: skip


def test_ps_rdy_comes_when_the_source_is_set_to_send_it() -> None:
    for seconds in (0.05, 0.3):
        talk = talk_of("9V", ps_rdy=f"{seconds}s")
        talk.play(1.0)
        accept, ready = (
            next(p for p in talk.line.packets if p.message().type == name) for name in ("Accept", "PS_RDY")
        )
        assert ready.time_s - accept.end_s == pytest.approx(seconds, abs=0.002)
