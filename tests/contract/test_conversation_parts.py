"""The parts of a conversation on their own: what is on offer, events, the e-marker's answer, steps of voltage."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pdcheck.bits.cable import read_cable_words
from pdcheck.bits.offers import Offer, battery, epr_avs, fixed, pps, spr_avs, variable
from pdcheck.contract.lowering import left_of, nominal_mv, within
from pdcheck.contract.talk.bus_voltage import OFF, BusVoltage, contract_level, plain_level
from pdcheck.contract.talk.cable_plug import marker_words
from pdcheck.contract.talk.clock import Clock, Pace
from pdcheck.contract.talk.conversation import Conversation
from pdcheck.contract.talk.supply import Supply
from pdcheck.errors import InputError
from pdcheck.facts.timing import TIMERS
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source

BIG = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; AVS 15-28V 140W"
EPR_BIT = 1 << 23
OFFERS = (
    fixed(5000, 3000),
    fixed(20000, 5000, 2),
    variable(9000, 10000, 3000, 3),
    battery(9000, 12000, 45000, 4),
    pps(3300, 21000, 5000, 5),
    spr_avs(3000, 2250, 6),
    epr_avs(15000, 28000, 140, 8),
)


@given(st.sampled_from(OFFERS), st.floats(1, 240))
@example(OFFERS[0], 1.9997213080120657)
def test_a_share_is_never_more_than_the_share_nor_than_before(offer: Offer, power_w: float) -> None:
    less = within(offer, power_w)
    at = nominal_mv(offer)
    assert less.current_ma_at(at) <= offer.current_ma_at(at)
    if offer.kind != "epr-avs" or power_w >= 1:
        assert less.current_ma_at(at) * at / 1e6 <= power_w + 1e-9 or less == offer
    assert (less.min_mv, less.max_mv, less.position, less.kind) == (
        offer.min_mv,
        offer.max_mv,
        offer.position,
        offer.kind,
    )


def test_a_share_as_the_tables_have_it() -> None:
    # An 80 W port with 40 W left offers 20 V 2 A (PD R3.2 V1.1, Tables 10.3 and 10.4).
    full = (fixed(5000, 3000), fixed(9000, 3000, 2), fixed(15000, 3000, 3), fixed(20000, 4000, 4))
    assert [(offer.max_mv, offer.current_ma) for offer in left_of(full, 40.0)] == [
        (5000, 3000),
        (9000, 3000),
        (15000, 2660),
        (20000, 2000),
    ]
    assert [offer.max_mv for offer in left_of(full, 15.0)] == [5000]
    # At 15 W or less only 5 V is sure, wherever it stands, and what stands first.
    odd = (fixed(9000, 3000), fixed(5000, 3000, 2), pps(3300, 5900, 3000, 3), variable(4000, 5000, 3000, 4))
    assert [offer.position for offer in left_of(odd, 15.0)] == [1, 2, 4]
    assert [offer.position for offer in left_of(odd, 15.1)] == [1, 2, 3, 4]
    assert within(OFFERS[4], 45.0).current_ma == 2250
    assert "pps_power_limited" in within(OFFERS[4], 45.0).flags


def test_the_first_object_says_epr_capable_only_where_it_is_to() -> None:
    cable = Cable("EPR")
    plain = Source(id="s", offers=BIG)
    assert Supply(plain, cable).low_words()[0] & EPR_BIT
    marked = [fixed(5000, 3000, epr_capable=True).word, *(offer.word for offer in plain.offers[1:4])]
    captured = Source(id="s", offers=[*marked, 0, 0, 0, plain.offers[4].word], behaviour={"epr_entry": "not-marked"})
    assert captured.offers[0].word & EPR_BIT
    assert not Supply(captured, cable).low_words()[0] & EPR_BIT
    assert not Supply(Source(id="s", offers="5V 3A, 20V 5A"), cable).low_words()[0] & EPR_BIT


def test_epr_objects_stand_from_position_8_on() -> None:
    words = Supply(Source(id="s", offers=BIG), Cable("EPR")).high_words()
    assert len(words) == 9
    assert words[4:7] == (0, 0, 0)
    assert [Offer.from_word(word).max_mv for word in words[7:]] == [28000, 28000]


def test_more_offers_than_a_message_holds() -> None:
    source = Source(id="many", offers=[fixed(5000 + 500 * step, 1000, step + 1) for step in range(8)])
    with pytest.raises(InputError, match="more offers than a message holds"):
        Supply(source, Cable("C-C"))


@pytest.mark.parametrize("text", ["C-C 5A", "C-C 3A marked", "EPR", "active 5A", "active 240W"])
def test_an_e_marker_says_what_is_stated_of_its_cable(text: str) -> None:
    cable = Cable(text)
    reading = read_cable_words(marker_words(cable))
    assert not reading.problems
    assert (reading.construction, reading.current_ma, reading.voltage_mv, reading.epr) == (
        cable.construction,
        round(cable.current_a * 1000),
        round(cable.voltage_v * 1000),
        cable.epr,
    )
    older = read_cable_words(marker_words(cable, "2.0"))
    assert (older.revision, older.current_ma) == ("2.0", reading.current_ma)
    assert not older.problems


def test_a_cable_without_e_marker_answers_nothing() -> None:
    assert marker_words(Cable("C-C")) == ()
    assert marker_words(Cable("A-C")) == ()


def test_a_move_that_is_broken_off_goes_on_from_where_it_is() -> None:
    clock = Clock()
    bus = BusVoltage(clock)
    nothing: Callable[[], None] = lambda: None  # noqa: E731
    bus.hold(plain_level(3.0))
    clock.run(1.0)
    bus.move(contract_level(fixed(20000, 3000), 20000, 3000), 0.2, 0.5, nothing)
    clock.run(1.1)
    bus.move(OFF, 0.1, 0.5, nothing)
    clock.run(2.0)
    segments = bus.so_far()
    assert [(round(segment.from_v, 9), segment.to_v) for segment in segments] == [
        (5.0, 5.0),
        (5.0, 12.5),
        (12.5, 0.0),
        (0.0, 0.0),
    ]
    assert all(before.end_s == after.start_s for before, after in pairwise(segments))
    assert all(segment.min_v <= min(segment.from_v, segment.to_v) for segment in segments)


@given(st.integers(0, 10**6))
def test_a_drawn_time_is_one_that_the_standard_allows(seed: int) -> None:
    pace = Pace(seed)
    for name, row in TIMERS.items():
        for taken in (pace.of(name), Pace().of(name)):
            assert row.min is None or taken >= row.min, name
            assert row.max is None or taken <= row.max, name


@pytest.mark.parametrize(
    ("offers", "cable", "first", "then", "timer"),
    [
        ("5V 3A; PPS 3.3-21V 3A", "C-C", "pps 9V 2A", "pps 9.5V 2A", "tPpsSrcTransSmall"),
        ("5V 3A; PPS 3.3-21V 3A", "C-C", "pps 9V 2A", "pps 9.52V 2A", "tPpsSrcTransLarge"),
        (BIG, "EPR", "avs 24V 3A", "avs 25V 3A", "tAvsSrcTransSmall"),
        (BIG, "EPR", "avs 24V 3A", "avs 25.1V 3A", "tAvsSrcTransLarge"),
    ],
)
def test_how_long_a_step_takes(
    offers: str, cable: str, first: str, then: str, timer: str, play: Callable[..., Conversation]
) -> None:
    talk = play(first, offers, cable, events=(f"request {then} at 3s",), until_s=5.0)
    [move] = [segment for segment in talk.voltage if not segment.steady and segment.start_s > 3]
    assert move.end_s - move.start_s == pytest.approx(TIMERS[timer].max / 2)
    accept = [packet for packet in talk.packets if packet.message().type == "Accept"][-1]
    # Within one object there is no tSrcTransition: VBUS moves once Accept has its GoodCRC.
    assert move.start_s - accept.end_s < 0.002
