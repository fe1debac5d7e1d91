"""Requests in all their forms, in both widths of the position, read by the offer that they point at."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits.message import build_message, make_header, read_message
from pdcheck.bits.objects import read_request
from pdcheck.bits.offers import Offer, battery, epr_avs, fixed, pps, spr_avs, variable
from pdcheck.bits.power import AVS_REQUEST, BATTERY_REQUEST, FIXED_REQUEST, PPS_REQUEST, REQUEST_WORDS
from pdcheck.bits.sequence import Listener

OFFERS = (
    fixed(5000, 3000, 1),
    fixed(20000, 3000, 2),
    battery(6000, 12000, 30000, 3),
    variable(6000, 7000, 2000, 4),
    spr_avs(3000, 2250, 5),
    pps(3300, 11000, 3000, 6),
    fixed(28000, 5000, 8),
    epr_avs(15000, 28000, 140, 9),
)


def told(reading):
    return [problem.code for problem in reading.problems]


def ask(position, form="fixed", **values):
    word = REQUEST_WORDS[form].encode({"position": position, **values})
    return read_request(word, OFFERS)


@pytest.mark.parametrize(
    ("position", "form"),
    [(1, "fixed"), (2, "fixed"), (3, "battery"), (4, "fixed"), (5, "avs"), (6, "pps"), (8, "fixed"), (9, "avs")],
)
def test_the_offer_decides_the_form(position, form):
    reading = read_request(position << 28, OFFERS, epr_message=True)
    assert reading.kind == form
    assert "ambiguous" not in told(reading)


def test_every_figure_of_every_form():
    two = ask(2, operating_current_ma=2250, max_operating_current_ma=3000, no_usb_suspend=True)
    assert two.fields["operating_current_ma"] == 2250
    assert two.fields["max_operating_current_ma"] == 3000
    assert two.flags == ["no_usb_suspend"]
    assert told(two) == []
    three = ask(3, "battery", operating_power_mw=20000, max_operating_power_mw=30000)
    assert (three.fields["operating_power_mw"], three.fields["max_operating_power_mw"]) == (20000, 30000)
    five = ask(5, "avs", output_voltage_mv=12300, operating_current_ma=2000)
    assert (five.fields["output_voltage_mv"], five.fields["operating_current_ma"]) == (12300, 2000)
    six = ask(6, "pps", output_voltage_mv=8520, operating_current_ma=1250)
    assert (six.fields["output_voltage_mv"], six.fields["operating_current_ma"]) == (8520, 1250)
    assert told(three) == told(five) == told(six) == []


@pytest.mark.parametrize(
    ("code", "odd", "right"),
    [
        ("over-offer", ask(1, operating_current_ma=3010), ask(1, operating_current_ma=3000)),
        ("over-offer", ask(3, "battery", operating_power_mw=30250), ask(3, "battery", operating_power_mw=30000)),
        (
            "over-offer",
            ask(6, "pps", output_voltage_mv=9000, operating_current_ma=3050),
            ask(6, "pps", output_voltage_mv=9000, operating_current_ma=3000),
        ),
        (
            "over-offer",
            ask(5, "avs", output_voltage_mv=15100, operating_current_ma=2300),
            ask(5, "avs", output_voltage_mv=15000, operating_current_ma=2300),
        ),
        ("outside-range", ask(6, "pps", output_voltage_mv=11020), ask(6, "pps", output_voltage_mv=11000)),
        ("outside-range", ask(6, "pps", output_voltage_mv=3280), ask(6, "pps", output_voltage_mv=3300)),
        ("outside-range", ask(5, "avs", output_voltage_mv=8900), ask(5, "avs", output_voltage_mv=9000)),
        ("off-step", ask(5, "avs", output_voltage_mv=9025), ask(5, "avs", output_voltage_mv=9100)),
        ("position", ask(7), ask(6, "pps", output_voltage_mv=5000)),
        ("position", ask(0), ask(1)),
        ("epr-in-spr", ask(8), ask(2)),
        ("over-5a", ask(2, operating_current_ma=5010), ask(2, operating_current_ma=3000)),
        ("over-5a", ask(2, max_operating_current_ma=5010), ask(2, max_operating_current_ma=5000)),
        ("reserved-bits", read_request(0x10300000, OFFERS), read_request(0x10000000, OFFERS)),
        ("reserved-bits", read_request(0x60000180, OFFERS), read_request(0x60000000, OFFERS)),
        ("reserved-bits", read_request(0x68000000, OFFERS), read_request(0x18000000, OFFERS)),
    ],
)
def test_each_oddity_is_told_and_its_neighbour_is_not(code, odd, right):
    assert code in told(odd)
    assert code not in told(right)


def test_without_the_offer_it_is_read_as_fixed_and_marked():
    reading = read_request(0x6004B12C)
    assert (reading.kind, told(reading)) == ("fixed", ["ambiguous"])
    assert told(read_request(0x6004B12C, form="fixed")) == []
    assert "ambiguous" in told(read_request(0x7004B12C, OFFERS))


@pytest.mark.parametrize("form", sorted(REQUEST_WORDS))
def test_a_form_that_is_asked_for_overrules(form):
    assert read_request(0x1004B12C, OFFERS, form=form).kind == form


def test_before_epr_the_position_has_three_bits():
    word = 0x9004B12C
    assert read_request(word, form="fixed").fields["position"] == 9
    old = read_request(word, form="fixed", revision="2.0")
    assert old.fields["position"] == 1
    assert "reserved-bits" in told(old)


@given(st.integers(0, 0xFFFFFFFF), st.sampled_from(sorted(REQUEST_WORDS)), st.sampled_from(["1.0", "2.0", "3.x"]))
def test_any_word_reads_in_any_form_and_encodes_back(word, form, revision):
    reading = read_request(word, OFFERS, form=form, revision=revision)
    assert reading.layout.encode(reading.fields) == word


@given(st.integers(0, 0xFFFFFFFF), st.lists(st.integers(0, 0xFFFFFFFF), max_size=11))
def test_any_word_reads_by_any_offers(word, offered):
    offers = tuple(Offer.from_word(one, position) for position, one in enumerate(offered, 1))
    reading = read_request(word, offers)
    assert reading.layout.encode(reading.fields) == word


def test_the_last_capabilities_decide():
    listener = Listener()
    request = read_message(build_message(make_header("Request", 1, source=False), [0x1303E8FA]))
    first = read_message(build_message(make_header("Source_Capabilities", 1), [OFFERS[0].word]))
    second = read_message(build_message(make_header("Source_Capabilities", 1), [OFFERS[5].word]))
    assert "ambiguous" in [problem.code for problem in listener.hear(request).problems]
    listener.hear(first)
    assert listener.hear(request).objects[0].kind == "fixed"
    listener.hear(second)
    assert listener.hear(request).objects[0].kind == "pps"


class TestEprRequest:
    def hear(self, *words, offers=()):
        listener = Listener()
        listener.offers = tuple(offers)
        return listener.hear(
            read_message(build_message(make_header("EPR_Request", len(words), source=False), list(words)))
        )

    def test_the_copy_decides_the_form(self):
        word = AVS_REQUEST.encode({"position": 9, "output_voltage_mv": 20000, "operating_current_ma": 5000})
        heard = self.hear(word, OFFERS[7].word)
        assert [reading.kind for reading in heard.objects] == ["avs", "epr-avs"]
        assert heard.objects[0].fields["output_voltage_mv"] == 20000
        assert heard.problems == ()

    def test_every_form_by_its_copy(self):
        pairs = [
            (FIXED_REQUEST.encode({"position": 1, "operating_current_ma": 3000}), OFFERS[0], "fixed"),
            (BATTERY_REQUEST.encode({"position": 3, "operating_power_mw": 30000}), OFFERS[2], "battery"),
            (PPS_REQUEST.encode({"position": 6, "output_voltage_mv": 9000}), OFFERS[5], "pps"),
        ]
        for word, offer, form in pairs:
            heard = self.hear(word, offer.word)
            assert (heard.objects[0].kind, heard.problems) == (form, ())

    def test_a_copy_that_differs_is_told(self):
        word = FIXED_REQUEST.encode({"position": 8, "operating_current_ma": 5000})
        assert self.hear(word, OFFERS[6].word, offers=OFFERS).problems == ()
        heard = self.hear(word, OFFERS[6].word ^ 1, offers=OFFERS)
        assert "copy-differs" in [problem.code for problem in heard.problems]

    def test_a_wrong_number_of_objects_is_told(self):
        for words in ([0x8047D1F4], [0x8047D1F4, 0x0008C1F4, 0]):
            assert "object-count" in [problem.code for problem in self.hear(*words).problems]
