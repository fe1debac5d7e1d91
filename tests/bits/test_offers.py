"""Offers: what each word means, what is odd about it, and the order they should stand in."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.layout import Word
from pdcheck.bits.objects import read_sources
from pdcheck.bits.offers import (
    Offer,
    arranged,
    battery,
    epr_avs,
    fixed,
    list_problems,
    offer_problems,
    pps,
    spr_avs,
    variable,
)
from pdcheck.bits.power import SOURCE_WORDS

FIVE, NINE, FIFTEEN, TWENTY = fixed(5000, 3000), fixed(9000, 3000), fixed(15000, 3000), fixed(20000, 2250)


def codes(offers, **how):
    """Codes of everything said about a list of offers (their positions are set to where they stand)."""
    _, problems = read_sources([offer.word for offer in offers], **how)
    return [problem.code for problem in problems]


def told(offer, **how):
    return [problem.code for problem in offer_problems(offer, **how)]


def test_a_list_as_it_should_be_has_no_problem():
    full = [FIVE, NINE, FIFTEEN, TWENTY, spr_avs(3000, 2250), pps(5000, 11000, 3000), pps(5000, 21000, 2250)]
    assert codes(full) == []


@pytest.mark.parametrize(
    ("code", "odd", "right"),
    [
        ("reserved-bits", Offer.from_word(FIVE.word | 1 << 22), FIVE),
        ("reserved-bits", Offer.from_word(pps(3300, 11000, 3000).word | 1 << 7), pps(3300, 11000, 3000)),
        ("reserved-bits", Offer.from_word(spr_avs(3000, 0).word | 1 << 20), spr_avs(3000, 0)),
        ("reserved-kind", Offer.from_word(0xF0000000), Offer.from_word(0xE004B0E1)),
        ("range-reversed", pps(11000, 3300, 3000), pps(11000, 11000, 3000)),
        ("range-reversed", variable(6050, 6000, 1000), variable(6000, 6000, 1000)),
        ("range-reversed", battery(9000, 6000, 10000), battery(6000, 9000, 10000)),
        ("range-wide", variable(4750, 6000, 1000), variable(4800, 6000, 1000)),
        ("zero-voltage", fixed(0, 3000), fixed(50, 3000)),
        ("zero-voltage", battery(0, 9000, 10000), battery(50, 9000, 10000)),
        ("over-5a", fixed(20000, 5010), fixed(20000, 5000)),
        ("over-48v", fixed(48050, 5000), fixed(48000, 5000)),
        ("over-48v", epr_avs(15000, 48100, 240), epr_avs(15000, 48000, 240)),
        ("over-5a", pps(3300, 11000, 5050), pps(3300, 11000, 5000)),
        ("over-5a", spr_avs(5010, 0), spr_avs(5000, 0)),
        ("over-5a", spr_avs(3000, 5010), spr_avs(3000, 5000)),
        ("no-power", fixed(5000, 0), fixed(5000, 10)),
        ("no-power", fixed(9000, 0), fixed(9000, 10)),
        ("no-power", pps(3300, 11000, 0), pps(3300, 11000, 50)),
        ("no-power", battery(6000, 9000, 0), battery(6000, 9000, 250)),
        ("flags-not-first", fixed(9000, 3000, 2, dual_role_data=True), fixed(5000, 3000, 1, dual_role_data=True)),
        ("epr-in-spr", fixed(28000, 5000), fixed(20000, 5000)),
        ("epr-in-spr", epr_avs(15000, 28000, 140), pps(3300, 21000, 5000)),
    ],
)
def test_each_oddity_is_told_and_its_neighbour_is_not(code, odd, right):
    assert code in told(odd)
    assert code not in told(right)


def test_epr_objects_are_right_in_an_epr_message():
    offers = [FIVE, *[Offer.from_word(0)] * 6, fixed(28000, 5000), epr_avs(15000, 28000, 140)]
    assert codes(offers, epr_message=True) == []


@pytest.mark.parametrize(
    ("code", "offers"),
    [
        ("first-not-5v", [NINE, FIFTEEN]),
        ("first-not-5v", [pps(3300, 11000, 3000)]),
        ("first-not-5v", [variable(5000, 5000, 1000)]),
        ("order", [FIVE, FIFTEEN, NINE]),
        ("order", [NINE, FIVE]),
        ("order", [TWENTY, FIVE, NINE]),
        ("order", [FIVE, pps(3300, 21000, 3000), pps(3300, 11000, 3000)]),
        ("order", [FIVE, pps(3300, 11000, 3000), spr_avs(3000, 0)]),
        ("order", [FIVE, variable(6000, 7000, 1000), battery(6000, 9000, 10000)]),
        ("order", [FIVE, pps(3300, 11000, 3000), NINE]),
        ("too-many", [FIVE, NINE, FIFTEEN, TWENTY, *[pps(3300, 11000, 50 * n) for n in range(1, 5)]]),
        ("repeated", [FIVE, NINE, NINE]),
    ],
)
def test_each_oddity_of_a_list_is_told(code, offers):
    assert code in codes(offers)


@pytest.mark.parametrize(
    ("code", "offers"),
    [
        ("first-not-5v", [FIVE, NINE]),
        ("order", [FIVE, NINE, FIFTEEN]),
        ("order", [FIVE]),
        ("order", [NINE, FIFTEEN]),
        ("order", [FIVE, pps(3300, 11000, 3000), pps(3300, 21000, 3000)]),
        ("order", [FIVE, spr_avs(3000, 0), pps(3300, 11000, 3000)]),
        ("order", [FIVE, battery(6000, 9000, 10000), variable(6000, 7000, 1000)]),
        ("too-many", [FIVE, NINE, FIFTEEN, TWENTY, *[pps(3300, 11000, 50 * n) for n in range(1, 4)]]),
        ("repeated", [FIVE, NINE]),
    ],
)
def test_a_list_without_that_oddity_is_not_told(code, offers):
    assert code not in codes(offers)


def test_an_order_problem_names_the_object_that_stands_wrong():
    _, problems = read_sources([offer.word for offer in (FIVE, FIFTEEN, NINE, TWENTY)])
    assert [(problem.code, problem.where) for problem in problems] == [("order", "object 3")]


def test_epr_positions():
    low = [FIVE, fixed(28000, 5000)]
    assert "epr-low" in codes(low, epr_message=True)
    gaps = [Offer.from_word(0)] * 6
    assert "spr-high" in codes([FIVE, *gaps, NINE], epr_message=True)
    assert "epr-low" not in codes([FIVE, *gaps, fixed(28000, 5000)], epr_message=True)


def test_a_gap_is_a_gap_in_an_epr_list_and_a_zero_voltage_elsewhere():
    gap = Offer.from_word(0, 3)
    assert told(gap, epr_message=True) == []
    assert "zero-voltage" in told(gap)
    assert gap.is_gap
    assert not gap.holds(0)


@given(st.lists(st.integers(0, 0xFFFFFFFF), max_size=15), st.booleans())
def test_any_words_read_without_an_exception(words, epr_message):
    offers, problems = read_sources(words, epr_message=epr_message)
    assert [offer.word for offer in offers] == words
    assert [offer.position for offer in offers] == list(range(1, len(words) + 1))
    for offer in offers:
        assert isinstance(offer.layout, Word)
        assert offer.layout.encode(offer.fields()) == offer.word
        for voltage in (0, 3300, 5000, 15000, 15100, 48000):
            assert 0 <= offer.current_ma_at(voltage) <= max(5000, offer.current_ma or 0)
    for problem in problems:
        assert problem.code and problem.text


@given(st.lists(st.integers(0, 0xFFFFFFFF), max_size=11))
def test_arranged_offers_have_no_order_problem(words):
    placed = arranged(Offer.from_word(word) for word in words)
    low = tuple(offer for offer in placed if not offer.is_epr)
    assert "order" not in [problem.code for problem in list_problems(low)]
    assert sorted(offer.word for offer in placed) == sorted(word for word in words if word)
    assert all(offer.position >= 8 for offer in placed if offer.is_epr)


class TestCurrentAt:
    def test_epr_avs_rounds_down_to_50_ma_and_stops_at_5_a(self):
        offer = epr_avs(15000, 28000, 100)
        assert offer.current_ma_at(28000) == 3550  # 3571 mA
        assert offer.current_ma_at(20000) == 5000
        assert offer.current_ma_at(15000) == 5000  # 6666 mA

    def test_spr_avs_changes_its_current_above_15_v(self):
        offer = spr_avs(3000, 2250)
        assert offer.current_ma_at(15000) == 3000
        assert offer.current_ma_at(15100) == 2250
        assert (offer.min_mv, offer.max_mv) == (9000, 20000)
        assert spr_avs(3000, 0).max_mv == 15000

    def test_a_battery_gives_power_over_voltage(self):
        assert battery(6000, 12000, 20000).current_ma_at(9000) == 2222
        assert battery(6000, 12000, 200000).current_ma_at(9000) == 5000


@given(st.sampled_from(sorted(SOURCE_WORDS)), st.integers(0, 0x0FFFFFFF))
def test_an_offer_holds_what_its_kind_carries(kind, low):
    word = SOURCE_WORDS[kind]
    raw = low & ~sum(field.mask << field.low for field in word.named if field.fixed is not None)
    raw |= word.encode({})
    offer = Offer.from_word(raw)
    fields = offer.fields()
    assert offer.kind == kind
    for key in ("current_ma", "power_mw", "current_15v_ma", "current_20v_ma", "pdp_w", "peak_current"):
        assert getattr(offer, key) == fields.get(key)
    assert set(offer.flags) == {key for key, value in fields.items() if value is True}
