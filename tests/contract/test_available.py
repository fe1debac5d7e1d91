"""What a source offers over a cable: bounded, hidden, or nothing of PD at all."""

import pytest

from pdcheck.bits.offers import Offer
from pdcheck.contract.available import available, bound_current, plain_cable_hides
from pdcheck.parts.cable import Cable
from pdcheck.parts.source import Source

FULL = "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A; PPS 3.3-21V 5A; AVS 15-28V 140W"


def seen(cable, offers=FULL):
    return available(Source(id="s", offers=offers), Cable(cable))


@pytest.mark.parametrize(
    ("cable", "most", "epr"),
    [("C-C", 3000, False), ("C-C 3A", 3000, False), ("C-C 5A", 5000, False), ("EPR", 5000, True)],
)
def test_the_cable_bounds_current_and_hides_epr(cable, most, epr):
    found = seen(cable)
    assert found.pd and found.epr is epr
    assert max(offer.current_ma or 0 for offer in found.offers) == most
    assert any(offer.is_epr for offer in found.offers) is epr
    assert [offer.position for offer in found.hidden] == ([] if epr else [8, 9])
    assert bool(found.bounded) is (most == 3000)
    # A bounded offer is another word on the wire, at the same position.
    for offer in found.offers:
        assert Offer.from_word(offer.word, offer.position) == offer


def test_no_pd_over_a_legacy_cable():
    found = seen("A-C")
    assert not found.pd and found.offers == () and found.typec_a == 0.5 and not found.typec_known


def test_a_source_that_states_its_typec_current_is_believed_up_to_the_cable():
    source = Source(id="s", offers="5V 3A", typec_current="3A")
    assert available(source, Cable(id="c", kind="A-C")).typec_a == 3.0
    assert available(source, Cable(id="c", kind="A-C")).typec_known


@pytest.mark.parametrize(
    ("word", "most", "bounded"),
    [
        (0x000641F4, 3000, 0x0006412C),  # 20 V 5 A -> 3 A
        (0x0006412C, 3000, 0x0006412C),  # exactly 3 A stays
        (0x0006412D, 3000, 0x0006412C),  # 3.01 A does not
        (0xC1A42164, 3000, 0xC1A4213C),  # PPS 3.3..21 V 5 A -> 3 A
        (0xE00641F4, 3000, 0xE004B12C),  # SPR AVS, 15 V current 4 A and 20 V current 5 A -> both 3 A
    ],
)
def test_bounded_words(word, most, bounded):
    if word >> 28 == 0xE:
        word, bounded = 0xE0000000 | 400 << 10 | 500, 0xE0000000 | 300 << 10 | 300
    assert bound_current(Offer.from_word(word, 2), most).word == bounded


def test_a_battery_offer_is_bounded_where_it_needs_most_current():
    # 60 W at the 12 V end would be 5 A: over a 3 A cable no more than 36 W is sure.
    offer = Offer.from_word(1 << 30 | 400 << 20 | 240 << 10 | 240, 2)
    assert bound_current(offer, 3000).power_mw == 36000


def test_whether_a_plain_cable_hides_anything():
    assert plain_cable_hides(Source(id="s", offers=FULL))
    assert not plain_cable_hides(Source(id="s", offers="5V 3A, 20V 3A"))


def test_an_offer_that_the_standard_reserves_is_no_choice():
    reserved = 0xF0000000  # augmented, type 11b
    found = available(Source(id="s", offers=(0x0001912C, reserved, 0x0002D12C)), Cable("C-C"))
    assert [(offer.position, offer.kind) for offer in found.offers] == [(1, "fixed"), (3, "fixed")]


def test_a_source_that_sends_no_capabilities_leaves_nothing_of_pd():
    source = Source(id="s", offers=FULL, behaviour={"silent": "capabilities"}, typec_current="3A")
    found = available(source, Cable("C-C 5A"))
    assert found == ((), (), (), False, False, 3.0, True)
    assert found.pd is False and found.epr is False
