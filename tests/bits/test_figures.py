"""Offers and requests figure by figure: what each maker sets, what each kind holds, every bound and just beyond it."""

import pytest

from pdcheck.bits.capabilities import encode_capabilities
from pdcheck.bits.message import read_message
from pdcheck.bits.offers import (
    Offer,
    arranged,
    battery,
    epr_avs,
    fixed,
    list_problems,
    offer_problems,
    order_key,
    pps,
    spr_avs,
    variable,
)
from pdcheck.bits.power import SOURCE_WORDS
from pdcheck.bits.request_bounds import request_bounds

GAP = Offer.from_word(0, 3)
RESERVED = Offer.from_word(0xF0000000, 4)


def told(offer, **how):
    return [(problem.code, problem.where) for problem in offer_problems(offer, **how)]


class TestMakers:
    @pytest.mark.parametrize(
        ("make", "expected"),
        [
            (lambda: fixed(9000, 3000), Offer(1, "fixed", 0x0002D12C, 9000, 9000, 3000, peak_current=0)),
            (
                lambda: fixed(5000, 3000, 2, dual_role_power=True, epr_capable=True, peak_current=3),
                Offer(
                    2,
                    "fixed",
                    0x20B1912C,
                    5000,
                    5000,
                    3000,
                    peak_current=3,
                    flags=("dual_role_power", "epr_capable"),
                ),
            ),
            (lambda: variable(5000, 6000, 1000, 3), Offer(3, "variable", 0x87819064, 5000, 6000, 1000)),
            (lambda: variable(5000, 6000, 1000), Offer(1, "variable", 0x87819064, 5000, 6000, 1000)),
            (lambda: battery(5000, 6000, 10000, 4), Offer(4, "battery", 0x47819028, 5000, 6000, power_mw=10000)),
            (lambda: battery(5000, 6000, 10000), Offer(1, "battery", 0x47819028, 5000, 6000, power_mw=10000)),
            (lambda: pps(3300, 11000, 3000, 5), Offer(5, "pps", 0xC0DC213C, 3300, 11000, 3000)),
            (lambda: pps(3300, 11000, 3000), Offer(1, "pps", 0xC0DC213C, 3300, 11000, 3000)),
            (
                lambda: pps(3300, 11000, 3000, power_limited=True),
                Offer(1, "pps", 0xC8DC213C, 3300, 11000, 3000, flags=("pps_power_limited",)),
            ),
            (
                lambda: spr_avs(3000, 2250, 6),
                Offer(6, "spr-avs", 0xE004B0E1, 9000, 20000, current_15v_ma=3000, current_20v_ma=2250, peak_current=0),
            ),
            (
                lambda: spr_avs(3000, 0),
                Offer(1, "spr-avs", 0xE004B000, 9000, 15000, current_15v_ma=3000, current_20v_ma=0, peak_current=0),
            ),
            (
                lambda: epr_avs(15000, 28000, 140, 9),
                Offer(9, "epr-avs", 0xD230968C, 15000, 28000, pdp_w=140, peak_current=0),
            ),
            (
                lambda: epr_avs(15000, 28000, 140),
                Offer(8, "epr-avs", 0xD230968C, 15000, 28000, pdp_w=140, peak_current=0),
            ),
            (lambda: Offer.from_word(0xF0000001), Offer(1, "augmented-reserved", 0xF0000001, 0, 0)),
        ],
    )
    def test_every_figure(self, make, expected):
        offer = make()
        assert offer == expected
        assert offer.layout is SOURCE_WORDS[offer.kind]
        assert offer.fields() == offer.layout.decode(offer.word)

    def test_what_is_epr_a_gap_or_adjustable(self):
        assert [offer.is_epr for offer in (fixed(21000, 10), fixed(21050, 10), epr_avs(9000, 20000, 60))] == [
            False,
            True,
            True,
        ]
        assert (GAP.is_gap, RESERVED.is_gap) == (True, False)
        assert Offer.from_word(0x0002D12C) == fixed(9000, 3000, 1)
        kinds = (pps(3300, 5000, 50), spr_avs(50, 50), epr_avs(15000, 28000, 140), fixed(5000, 10), RESERVED)
        assert [offer.is_adjustable for offer in kinds] == [True, True, True, False, False]


class TestVoltagesAndCurrents:
    @pytest.mark.parametrize(
        ("offer", "held", "not_held"),
        [
            (fixed(5000, 3000), [5000], [4999, 5001, 0]),
            (pps(3300, 11000, 3000), [3300, 9000, 11000], [3299, 11001]),
            (spr_avs(3000, 2250), [9000, 15000, 20000], [8999, 20001]),
            (spr_avs(3000, 0), [9000, 15000], [15001]),
            (epr_avs(15000, 28000, 140), [15000, 28000], [14999, 28001]),
            (battery(5000, 9000, 10000), [], [5000, 7000]),
            (variable(5000, 6000, 1000), [], [5000, 5500]),
            (RESERVED, [], [0, 5000]),
            (GAP, [], [0, 5000]),
            (pps(0, 11000, 3000), [1], [0]),
        ],
    )
    def test_what_is_held(self, offer, held, not_held):
        assert all(offer.holds(voltage) for voltage in held)
        assert not any(offer.holds(voltage) for voltage in not_held)

    @pytest.mark.parametrize(
        ("offer", "voltage", "current"),
        [
            (fixed(5000, 3000), 5000, 3000),
            (fixed(5000, 6000), 5000, 6000),
            (fixed(5000, 3000), 0, 3000),
            (variable(5000, 6000, 6000), 5000, 5000),
            (pps(3300, 11000, 5050), 5000, 5000),
            (pps(3300, 11000, 3000), 5000, 3000),
            (battery(6000, 12000, 20000), 9000, 2222),
            (battery(6000, 12000, 20000), 4000, 5000),
            (battery(6000, 12000, 20250), 4000, 5000),
            (battery(6000, 12000, 250), 1, 5000),
            (battery(6000, 12000, 20000), 0, 0),
            (battery(6000, 12000, 20000), -1, 0),
            (epr_avs(15000, 28000, 100), 28000, 3550),
            (epr_avs(15000, 28000, 100), 20000, 5000),
            (epr_avs(15000, 28000, 101), 20000, 5000),
            (epr_avs(15000, 28000, 100), 1, 5000),
            (epr_avs(15000, 28000, 100), 0, 0),
            (epr_avs(15000, 28000, 1), 10000, 100),
            (spr_avs(3000, 2250), 15000, 3000),
            (spr_avs(3000, 2250), 15001, 2250),
            (spr_avs(5250, 5500), 15000, 5000),
            (spr_avs(5250, 5500), 20000, 5000),
            (spr_avs(3000, 0), 20000, 0),
            (RESERVED, 5000, 0),
        ],
    )
    def test_current(self, offer, voltage, current):
        assert offer.current_ma_at(voltage) == current


class TestOddOffers:
    @pytest.mark.parametrize(
        ("offer", "codes"),
        [
            (fixed(48000, 5000, 8), []),
            (fixed(48050, 5000, 8), ["over-48v"]),
            (variable(4800, 6000, 1000), []),
            (variable(4750, 6000, 1000), ["range-wide"]),
            (battery(50, 50, 250), []),
            (battery(0, 50, 250), ["zero-voltage"]),
            (variable(0, 0, 10), ["zero-voltage"]),
            (pps(0, 11000, 50), []),
            (pps(0, 0, 50), ["zero-voltage"]),
            (pps(5000, 5000, 5000), []),
            (pps(5100, 5000, 5050), ["range-reversed", "over-5a"]),
            (spr_avs(5000, 5000), []),
            (spr_avs(5010, 5010), ["over-5a", "over-5a"]),
            (spr_avs(0, 3000), ["no-power"]),
            (spr_avs(3000, 0), []),
            (epr_avs(15000, 28000, 0), ["no-power"]),
            (battery(5000, 6000, 0), ["no-power"]),
            (fixed(5000, 3000, 2, dual_role_data=True), ["flags-not-first"]),
            (fixed(5000, 3000, 1, dual_role_data=True), []),
            (pps(3300, 5000, 50, 2, power_limited=True), []),
            (RESERVED, ["reserved-kind"]),
            (Offer.from_word(0xF0000001), ["reserved-bits", "reserved-kind"]),
            (GAP, []),
        ],
    )
    def test_everything_odd(self, offer, codes):
        assert told(offer, epr_message=True) == [(code, f"object {offer.position}") for code in codes]

    def test_outside_an_epr_message(self):
        assert told(GAP) == [("zero-voltage", "object 3")]
        assert told(fixed(21000, 10)) == []
        assert told(fixed(21050, 10)) == [("epr-in-spr", "object 1")]
        assert told(epr_avs(15000, 20000, 60)) == [("epr-in-spr", "object 8")]

    def test_no_power_at_5_v_is_another_thing(self):
        texts = [offer_problems(offer)[0].text for offer in (fixed(5000, 0), fixed(5050, 0), pps(3300, 5000, 0))]
        assert texts[0].startswith("5 V at 0 mA") and texts[1] == texts[2] == "the offer carries no current"


class TestLists:
    FIVE, NINE = fixed(5000, 3000), fixed(9000, 3000, 2)

    def told(self, *offers, epr_message=False):
        placed = tuple(offer._replace(position=at) for at, offer in enumerate(offers, 1))
        return [(problem.code, problem.where) for problem in list_problems(placed, epr_message=epr_message)]

    def test_lengths(self):
        seven = [self.FIVE, *(fixed(9000 + 50 * n, 3000) for n in range(6))]
        assert list_problems(()) == []
        assert self.told(*seven) == []
        assert self.told(*seven, fixed(20000, 3000)) == [("too-many", "object 8")]
        assert self.told(*seven, fixed(28000, 3000), epr_message=True) == []

    def test_every_neighbour_is_compared(self):
        assert self.told(self.NINE, self.FIVE, self.NINE, self.FIVE) == [
            ("first-not-5v", "object 1"),
            ("order", "object 2"),
            ("order", "object 4"),
        ]
        assert self.told(self.FIVE, self.FIVE, self.NINE, self.NINE) == [
            ("repeated", "object 2"),
            ("repeated", "object 4"),
        ]
        # Alike in their voltage, they may stand in any order.
        assert self.told(self.FIVE, self.NINE, fixed(9000, 2000)) == []

    def test_gaps_and_reserved_kinds_do_not_count(self):
        assert self.told(self.FIVE, GAP, GAP, RESERVED, RESERVED, epr_message=True) == []
        assert self.told(pps(3300, 5000, 50)) == [("first-not-5v", "object 1")]

    def test_epr_objects_stand_from_8_on(self):
        low, high = fixed(20000, 3000), fixed(28000, 3000)
        assert self.told(self.FIVE, *[GAP] * 5, high, epr_message=True) == [("epr-low", "object 7")]
        assert self.told(self.FIVE, *[GAP] * 6, high, epr_message=True) == []
        assert self.told(self.FIVE, *[GAP] * 6, low, epr_message=True) == [("spr-high", "object 8")]
        assert self.told(self.FIVE, *[GAP] * 5, low, GAP, epr_message=True) == []
        assert self.told(self.FIVE, high) == []

    def test_the_order_of_all_kinds(self):
        right = [
            fixed(5000, 3000),
            fixed(9000, 3000),
            fixed(20000, 3000),
            battery(5000, 6000, 250),
            battery(6000, 7000, 250),
            battery(6000, 8000, 250),
            variable(5000, 6000, 10),
            spr_avs(3000, 0),
            spr_avs(3000, 3000),
            pps(5000, 11000, 50),
            pps(3300, 16000, 50),
            pps(5000, 16000, 50),
            RESERVED,
            fixed(28000, 5000),
            fixed(36000, 5000),
            epr_avs(0, 28000, 140),
            epr_avs(15000, 28000, 140),
        ]
        keys = [order_key(offer) for offer in right]
        assert keys == sorted(set(keys))
        placed = arranged([GAP, *reversed(right)])
        assert [offer.word for offer in placed] == [offer.word for offer in right]
        assert [offer.position for offer in placed] == [*range(1, 14), 8, 9, 10, 11]
        # A fixed 5 V stands before every other, lower ones too.
        assert [offer.max_mv for offer in arranged([fixed(3300, 10), fixed(5000, 10)])] == [5000, 3300]


class TestCapabilities:
    def test_one_message(self):
        (name, frame), *more = encode_capabilities([fixed(9000, 3000), fixed(5000, 3000)])
        message = read_message(frame)
        assert (name, message.words, more) == ("Source_Capabilities", (0x0001912C, 0x0002D12C), [])
        fields = message.header_fields()
        assert (fields["id"], fields["object_count"], message.revision) == (0, 2, "3.x")
        (_, frame), *_ = encode_capabilities([fixed(5000, 3000)], revision="2.0", message_id=5)
        assert (read_message(frame).header_fields()["id"], read_message(frame).revision) == (5, "2.0")

    def test_gaps_between_spr_and_epr(self):
        messages = encode_capabilities([fixed(5000, 3000), fixed(28000, 5000)], message_id=2, revision="3.x")
        assert [name for name, _ in messages] == ["Source_Capabilities", *["EPR_Source_Capabilities"] * 2]
        read = [read_message(frame) for _, frame in messages]
        assert read[0].words == (0x0081912C,)
        data = b"".join(message.data for message in read[1:])
        assert data == bytes.fromhex("2c918100") + bytes(24) + bytes.fromhex("f4c10800")
        assert [message.header_fields()["id"] for message in read] == [2, 3, 4]
        assert all(message.revision == "3.x" and message.crc_ok for message in read)
        older = encode_capabilities([fixed(5000, 3000), fixed(28000, 5000)], revision="2.0")
        assert [read_message(frame).revision for _, frame in older] == ["2.0"] * 3

    def test_the_most(self):
        low = [fixed(5000 + 50 * n, 3000) for n in range(7)]
        high = [fixed(28000 + 50 * n, 5000) for n in range(4)]
        assert len(encode_capabilities([*low, *high])) == 1 + 2

    def test_epr_capable_is_a_flag_of_fixed_offers(self):
        messages = encode_capabilities([pps(5000, 11000, 3000), fixed(28000, 5000)])
        assert read_message(messages[0][1]).words == (pps(5000, 11000, 3000).word,)
        flagged = encode_capabilities([fixed(5000, 3000, epr_capable=True), fixed(28000, 5000)])
        assert read_message(flagged[0][1]).words == (0x0081912C,)
        assert read_message(encode_capabilities([fixed(5000, 3000)])[0][1]).words == (0x0001912C,)


class TestBounds:
    @pytest.mark.parametrize(
        ("offer", "bounds"),
        [
            (fixed(9000, 2000), {"operating_current_ma": (0, 2000), "max_operating_current_ma": (0, 5000)}),
            (fixed(9000, 6000), {"operating_current_ma": (0, 5000), "max_operating_current_ma": (0, 5000)}),
            (variable(5000, 6000, 1000), {"operating_current_ma": (0, 1000), "max_operating_current_ma": (0, 5000)}),
            (battery(5000, 6000, 10000), {"operating_power_mw": (0, 10000), "max_operating_power_mw": (0, 1 << 32)}),
            (pps(3300, 11000, 3000), {"output_voltage_mv": (3300, 11000), "operating_current_ma": (0, 3000)}),
            (spr_avs(3000, 2250), None),
            (epr_avs(15000, 28000, 140), None),
            (fixed(28000, 5000), None),
            (RESERVED, None),
            (GAP, None),
        ],
    )
    def test_each_kind(self, offer, bounds):
        assert request_bounds(offer) == bounds
