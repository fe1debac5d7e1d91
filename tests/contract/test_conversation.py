"""Conversations with a known outcome: what stands in the end, what was said on the way, and when."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

import pytest

from pdcheck.bits.line import BIT_RATE_NOMINAL, packet_bits
from pdcheck.bits.power import EPR_MODE
from pdcheck.bits.sequence import Listener, Told
from pdcheck.contract.talk.cc_line import Packet
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.contract.talk.sink_policy import SINK
from pdcheck.contract.talk.sink_port import Manner
from pdcheck.contract.talk.source_policy import SOURCE
from pdcheck.facts.timing import COUNTERS, TIMERS, timer
from pdcheck.facts.voltage import fixed_band

PLAIN, PLAIN_CABLE = "5V 3A, 9V 3A, 15V 3A, 20V 2.25A", "C-C"
PPS = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"
BIG, EPR_CABLE = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W", "EPR"
Play = Callable[..., Conversation]
Scenes = Mapping[str, Any]


def told(talk: Conversation) -> list[tuple[Packet, Told]]:
    listener = Listener()
    return [(packet, listener.hear(packet.message())) for packet in talk.packets if not packet.is_reset]


def types(talk: Conversation, sop: str = "SOP") -> list[str]:
    """The messages in order, GoodCRCs left out."""
    named = [packet.sop if packet.is_reset else packet.message().type for packet in talk.packets if packet.sop == sop]
    return [name for name in named if name != "GoodCRC"]


def first(talk: Conversation, name: str, sender: str = "") -> Packet:
    return next(p for p in talk.packets if p.raw and p.message().type == name and sender in ("", p.sender))


def resets(talk: Conversation) -> list[Packet]:
    return [packet for packet in talk.packets if packet.sop == "Hard_Reset"]


def test_outcome(scene: Any) -> None:
    talk = scene.play()
    found = talk.contract
    assert (talk.result, found and found.voltage_v, found and found.current_a) == (
        scene.result,
        scene.volts,
        scene.amps,
    ), talk.reason
    assert talk.reason
    assert (talk.contract is None) == (talk.result == "failed")


def test_the_scenes_lead_through_every_state(scenes: Scenes) -> None:
    seen: set[str] = set()
    for scene in scenes.values():
        seen |= {change.state for change in scene.play().changes}
    assert seen == set(SINK.states) | set(SOURCE.states)


def test_same_again_is_the_same(scenes: Scenes) -> None:
    scene = scenes["EPR AVS"]
    assert scene.play() == scene.play()
    assert scene.play(seed=4) == scene.play(seed=4)
    assert scene.play(seed=4).packets != scene.play(seed=5).packets


def test_the_plain_course(play: Play) -> None:
    talk = play("15V", PLAIN, PLAIN_CABLE)
    assert types(talk) == ["Source_Capabilities", "Request", "Accept", "PS_RDY"]
    assert [packet.message().header_fields()["id"] for packet in talk.packets if packet.answered_s] == [0, 0, 1, 2]
    # Each is answered with its own number, by the other side.
    for packet, answer in zip(talk.packets[::2], talk.packets[1::2], strict=True):
        assert answer.message().type == "GoodCRC"
        assert answer.sender != packet.sender
        assert answer.message().header_fields()["id"] == packet.message().header_fields()["id"]
        assert answer.time_s == packet.answered_s
    assert first(talk, "Request").message().words == talk.contract.request_words


@pytest.mark.parametrize("seed", [None, 1, 2])
def test_times_are_within_the_limits(scene: Any, seed: int | None) -> None:
    talk = scene.play(seed)
    for before, after in pairwise(talk.packets):
        # Rounding: the limit itself may be met.
        assert after.time_s - before.end_s >= TIMERS["tInterFrameGap"].min - 1e-9
        if after.raw and after.message().type == "GoodCRC":
            assert after.time_s - before.end_s <= TIMERS["tTransmit"].max + 1e-9
    listed = [(packet, each.message.type) for packet, each in told(talk) if each.message.type != "GoodCRC"]
    for (asked, question), (answered, answer) in pairwise(listed):
        gap = answered.time_s - asked.end_s
        if (question, answer) in {
            ("Source_Capabilities", "Request"),
            ("Request", "Accept"),
            ("Request", "Reject"),
            ("Request", "Wait"),
            ("EPR_Request", "Accept"),
            ("Soft_Reset", "Accept"),
        }:
            assert gap <= TIMERS["tReceiverResponse"].max + 2e-3
        if answer == "PS_RDY" and question == "Accept" and "ps_rdy" not in scene.behaviour:
            assert gap <= timer("tSrcTransReq", epr=scene.cable == EPR_CABLE).max


def test_the_voltage_is_told_without_a_gap_and_within_its_limits(scenes: Scenes) -> None:
    for scene in scenes.values():
        talk = scene.play()
        assert talk.voltage[0].start_s == 0
        assert talk.voltage[-1].end_s == talk.until_s
        for before, after in pairwise(talk.voltage):
            assert before.end_s == after.start_s
            assert before.to_v == pytest.approx(after.from_v, abs=1e-6), scene.name
        for segment in talk.voltage:
            for volts in (segment.from_v, segment.to_v, segment.at((segment.start_s + segment.end_s) / 2)):
                assert segment.min_v <= volts <= segment.max_v


def test_the_voltage_follows_the_contract(play: Play) -> None:
    talk = play("15V", PLAIN, PLAIN_CABLE)
    off, up, five, move, fifteen = talk.voltage
    assert (off.to_v, up.to_v, five.to_v, fifteen.to_v) == (0.0, 5.0, 5.0, 15.0)
    assert (fifteen.min_v, fifteen.max_v) == fixed_band(15.0)
    assert (five.min_v, five.max_v) == (4.75, 5.5)
    accept, ready = first(talk, "Accept"), first(talk, "PS_RDY")
    assert accept.end_s + TIMERS["tSrcTransition"].min <= move.start_s <= move.end_s <= ready.time_s
    assert five.current_a == 1.5
    assert fifteen.current_a == 3.0


def test_5_a_offers_are_hidden_by_a_3_a_cable(play: Play) -> None:
    thin, thick = play("20V", BIG, "C-C 3A"), play("20V", BIG, "C-C 5A")
    offers = [dict.fromkeys((o.max_mv, o.current_ma) for o in told(talk)[-1][1].offers) for talk in (thin, thick)]
    assert offers == [{}, {}]
    lists = [next(each.offers for _, each in told(talk) if each.offers) for talk in (thin, thick)]
    assert [(offers[3].max_mv, offers[3].current_ma) for offers in lists] == [(20000, 3000), (20000, 5000)]
    # The cable is asked before anything is offered; one without e-marker does not answer, try after try.
    assert types(thin, "SOP'") == ["Vendor_Defined"] * (1 + round(COUNTERS["nRetryCount"].value))
    assert thin.packets[0].sop == thick.packets[0].sop == "SOP'"
    assert types(thick, "SOP'") == ["Vendor_Defined", "Vendor_Defined"]


def test_a_cable_is_not_asked_where_nothing_depends_on_it(play: Play) -> None:
    assert types(play("15V", PLAIN, "C-C 5A"), "SOP'") == []
    assert types(play("20V", BIG, "captive 5A"), "SOP'") == []


def test_a_to_c_brings_resets_and_5_v(play: Play) -> None:
    talk = play("15V", PLAIN, "A-C")
    assert types(talk) == []
    assert len(resets(talk)) == 1 + COUNTERS["nHardResetCount"].value
    assert {packet.sender for packet in talk.packets} == {"sink"}
    assert max(segment.to_v for segment in talk.voltage) == 5.0


def test_a_trigger_without_pd_is_offered_in_vain(play: Play) -> None:
    talk = play("none", PLAIN, PLAIN_CABLE)
    lists = types(talk)
    assert set(lists) == {"Source_Capabilities"}
    assert len(lists) == COUNTERS["nCapsCount"].value * (1 + COUNTERS["nRetryCount"].value)
    assert talk.changes[-1].state == "PE_SRC_Disabled"


def test_pps_is_asked_for_again_in_time(play: Play) -> None:
    talk = play("pps 9V 2A", PPS, PLAIN_CABLE)
    asked = [packet.time_s for packet in talk.packets if packet.message().type == "Request"]
    assert len(asked) >= 4
    assert all(after - before <= TIMERS["tPPSRequest"].max for before, after in pairwise(asked))
    assert not resets(talk)


def test_pps_times_out_after_silence(play: Play) -> None:
    talk = play("pps 9V 2A", PPS, PLAIN_CABLE, manner=Manner(renews=False))
    reset = resets(talk)[0]
    last = max(packet.time_s for packet in talk.packets if packet.raw and packet.time_s < reset.time_s)
    assert reset.sender == "source"
    assert TIMERS["tPPSTimeout"].min <= reset.time_s - last <= TIMERS["tPPSTimeout"].max + 0.01
    # VBUS goes to 0 V, stays there for tSrcRecover, and comes back.
    zero = next(segment for segment in talk.voltage if segment.steady and segment.to_v == 0 and segment.start_s > 1)
    assert TIMERS["tSrcRecover"].min <= zero.end_s - zero.start_s <= TIMERS["tSrcRecover"].max
    assert any("tPPSTimeout" in remark.text for remark in talk.remarks)


def test_a_step_within_a_pps_object_needs_no_transition_time(play: Play) -> None:
    talk = play("pps 9V 2A", PPS, PLAIN_CABLE, events=("request pps 9.4V 2A at 2s",))
    accept = [packet for packet in talk.packets if packet.message().type == "Accept"][1]
    ready = [packet for packet in talk.packets if packet.message().type == "PS_RDY"][1]
    assert ready.time_s - accept.end_s <= TIMERS["tPpsSrcTransSmall"].max
    assert talk.contract.voltage_v == 9.4


def test_epr_is_entered_step_by_step(play: Play) -> None:
    talk = play("28V", BIG, EPR_CABLE, until_s=2.0)
    steps = [
        each.objects[0].meanings()["action"] if each.message.type == "EPR_Mode" else each.message.type
        for packet, each in told(talk)
        if packet.sop == "SOP" and each.message.type != "GoodCRC"
    ]
    assert steps[:13] == [
        "Source_Capabilities",
        "Request",
        "Accept",
        "PS_RDY",
        "Enter",
        "Enter Acknowledged",
        "Enter Succeeded",
        "EPR_Source_Capabilities",
        "EPR_Source_Capabilities",
        "EPR_Source_Capabilities",
        "EPR_Request",
        "Accept",
        "PS_RDY",
    ]
    enter, succeeded = (packet for packet, each in told(talk) if each.message.type == "EPR_Mode"), None
    enter = [packet for packet, each in told(talk) if each.message.type == "EPR_Mode"]
    assert enter[2].time_s - enter[0].end_s < TIMERS["tEnterEPR"].min
    # The cable is asked between Acknowledged and Succeeded.
    asked = [packet.time_s for packet in talk.packets if packet.sop == "SOP'"]
    assert any(enter[1].time_s < time < enter[2].time_s for time in asked)
    assert succeeded is None
    spr, epr = (each for _, each in told(talk) if each.message.type in ("Request", "EPR_Request"))
    assert spr.objects[0].fields["epr_capable"]
    assert len(epr.message.words) == 2
    assert talk.contract.request_words == epr.message.words


def test_epr_is_kept_alive(play: Play) -> None:
    talk = play("28V", BIG, EPR_CABLE, until_s=5.0)
    alive = [packet for packet in talk.packets if packet.message().type == "Extended_Control"]
    assert [packet.sender for packet in alive[:4]] == ["sink", "source"] * 2
    asked = [packet.time_s for packet in alive if packet.sender == "sink"]
    assert all(
        TIMERS["tSinkEPRKeepAlive"].min <= after - before <= TIMERS["tSinkEPRKeepAlive"].max + 0.02
        for before, after in pairwise(asked)
    )


@pytest.mark.parametrize(
    ("cause", "name"),
    [
        (0, "EPR, refused"),
        (1, "EPR, cable is not"),
        (2, "EPR, no VCONN"),
        (3, "EPR, request does not say so"),
        (4, "EPR, not now"),
        (5, "EPR, source not marked"),
    ],
)
def test_epr_is_refused_for_each_cause(cause: int, name: str, scenes: Scenes) -> None:
    talk = scenes[name].play()
    modes = [EPR_MODE.decode(each.message.words[0]) for _, each in told(talk) if each.message.type == "EPR_Mode"]
    assert (modes[-1]["action"], modes[-1]["data"]) == (4, cause)
    assert [mode["action"] for mode in modes].count(1) == 1
    assert talk.contract.voltage_v == 20.0
    assert max(segment.max_v for segment in talk.voltage) < 24


def test_epr_not_kept_alive_is_reset_by_the_source(play: Play) -> None:
    talk = play("28V", BIG, EPR_CABLE, manner=Manner(keeps_alive=False), until_s=4.0)
    reset = resets(talk)[0]
    last = max(packet.end_s for packet in talk.packets if packet.time_s < reset.time_s)
    assert reset.sender == "source"
    assert TIMERS["tSourceEPRKeepAlive"].min <= reset.time_s - last <= TIMERS["tSourceEPRKeepAlive"].max + 0.01


def test_the_second_port_takes_its_share(scenes: Scenes) -> None:
    talk = scenes["second port and back"].play()
    stands = [(stand.contract.voltage_v, stand.contract.current_a) for stand in talk.stands]
    assert stands == [(20.0, 2.25), (20.0, 1.5), (20.0, 2.25)]
    assert not resets(talk)
    by_reset = scenes["second port, by reset"].play()
    assert [packet.sender for packet in resets(by_reset)] == ["source"]
    assert [stand.contract and stand.contract.current_a for stand in by_reset.stands] == [2.25, None, 1.5]


def test_a_share_that_nobody_stated_is_said_to_be_assumed(play: Play) -> None:
    talk = play("20V", PLAIN, PLAIN_CABLE, events=("second port at 3s",))
    assert any("half of the power" in text for text in talk.assumed)
    assert talk.contract.current_a == 1.12


def test_a_sink_waits_before_it_asks_again(scenes: Scenes) -> None:
    talk = scenes["told to wait with a contract"].play()
    waited = first(talk, "Wait")
    again = next(p for p in talk.packets if p.time_s > waited.end_s and p.message().type == "Request")
    assert again.time_s - waited.end_s >= TIMERS["tSinkRequest"].min


def test_revision_2_speaks_revision_2(play: Play, scenes: Scenes) -> None:
    talk = scenes["Revision 2.0"].play()
    # In a GoodCRC the revision carries no meaning.
    assert {each.message.revision for _, each in told(talk) if each.message.type != "GoodCRC"} == {"2.0"}
    unheard = play("none", PLAIN, PLAIN_CABLE, behaviour={"revision": "2.0"})
    assert max(packet.attempt for packet in unheard.packets) == 1 + COUNTERS["nRetryCount R2.0"].value


def test_a_list_out_of_order_is_asked_by_its_own_positions(scenes: Scenes) -> None:
    talk = scenes["list out of order"].play()
    [capabilities] = [each for _, each in told(talk) if each.offers]
    assert [offer.max_mv for offer in capabilities.offers] == [5000, 20000, 15000, 9000]
    assert any(problem.code == "order" for problem in capabilities.problems)
    assert talk.contract.position == 3


def test_a_message_without_good_crc_is_sent_again_with_its_number(play: Play) -> None:
    talk = play("none", PLAIN, PLAIN_CABLE, until_s=1.0)
    groups = [talk.packets[at : at + 3] for at in range(0, 6, 3)]
    for group in groups:
        assert [packet.attempt for packet in group] == [1, 2, 3]
        assert len({packet.raw for packet in group}) == 1
    assert groups[0][0].raw != groups[1][0].raw


def test_a_packet_takes_as_long_as_its_bits(scenes: Scenes) -> None:
    for packet in scenes["PPS, trigger hangs"].play().packets:
        bits = len(packet_bits(packet.raw, packet.sop))
        assert packet.end_s - packet.time_s == pytest.approx(bits / BIT_RATE_NOMINAL.value)
