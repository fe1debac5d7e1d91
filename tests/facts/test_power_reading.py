"""What a list of offers looks like: lists as chargers send them, each with its PDP and the remarks due."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.facts import power_rules
from pdcheck.facts.power_reading import pdp_candidates
from pdcheck.facts.power_rules import OfferedSupply, likely_pdp_w, normative_near
from pdcheck.facts.trade import CHARGER_CLASSES


def offers(text):
    """``5/3 9/2.22 pps3.3-11/3 sa3,3.25 ea15-28/140 v5-12/2 b5-12/20`` as offers."""
    out = []
    for word in text.split():
        left, right = word.split("/") if "/" in word else (word, "")
        if left.startswith("pps"):
            low, high = left[3:].split("-")
            out.append(OfferedSupply("pps", float(low), float(high), float(right)))
        elif left.startswith("sa"):
            first, second = (float(a) for a in left[2:].split(","))
            out.append(OfferedSupply("spr-avs", 9.0, 20.0 if second else 15.0, first, None, second))
        elif left.startswith("ea"):
            low, high = left[2:].split("-")
            out.append(OfferedSupply("epr-avs", float(low), float(high), None, float(right)))
        elif left.startswith("v"):
            low, high = left[1:].split("-")
            out.append(OfferedSupply("variable", float(low), float(high), float(right)))
        elif left.startswith("b"):
            low, high = left[1:].split("-")
            out.append(OfferedSupply("battery", float(low), float(high), None, float(right)))
        else:
            out.append(OfferedSupply("fixed", float(left), float(left), float(right)))
    return out


def codes(reading, level=None):
    return {remark.code for remark in reading.remarks if level in (None, remark.level_hint)}


# list, PDP, remarks that are warnings, remarks that are notes
LISTS = [
    ("5/3", 15, set(), set()),
    ("5/2.4", 12, set(), set()),
    ("5/3 9/2", 18, set(), set()),
    ("5/3 9/2 12/1.5", 18, set(), {"twelve-volt"}),
    ("5/3 9/2.22", 20, set(), set()),
    ("5/3 9/2.22 12/1.67", 20, set(), {"twelve-volt"}),
    ("5/3 9/2.23", 20, set(), set()),
    ("5/3 9/2.77 pps3.3-5.9/3 pps3.3-11/2.25", 25, set(), {"pps-lower-end-older", "pps-less"}),
    ("5/3 9/3", 27, set(), set()),
    ("5/3 9/3 15/2", 30, set(), {"avs-missing"}),
    ("5/3 9/3 12/2.5 15/2 20/1.5", 30, set(), {"avs-missing", "twelve-volt", "voltage-above-row"}),
    (
        "5/3 9/3 12/2.75 15/2.2 20/1.65 pps3.3-11/3",
        33,
        set(),
        {"avs-missing", "twelve-volt", "voltage-above-row", "pps-lower-end-older", "pps-less"},
    ),
    ("5/3 9/3 15/2.66 20/2", 40, set(), {"avs-missing", "voltage-above-row"}),
    ("5/3 9/3 15/3", 45, set(), {"avs-missing"}),
    ("5/3 9/3 15/3 sa3,0", 45, set(), set()),
    ("5/3 9/3 15/3 20/2.25", 45, set(), {"avs-missing", "voltage-above-row"}),
    ("5/3 9/3 20/2.25", 45, {"missing-voltage"}, {"avs-missing", "voltage-above-row"}),
    ("5/3 9/3 15/3 20/3", 60, set(), {"avs-missing", "may-be-held-by-cable"}),
    ("5.2/2.4 9/3 20.3/3", 61, {"missing-voltage", "less-current"}, {"avs-missing", "voltage-off-nominal"}),
    ("5/3 9/3 15/3 20/3.25", 65, set(), {"avs-missing", "needs-5a-cable"}),
    ("5/3 9/3 15/3 20/3.25 pps5-21/3.25", 65, set(), {"avs-missing", "needs-5a-cable"}),
    ("5/3 9/3 15/3 20/3.25 pps5-21/5", 65, set(), {"avs-missing", "needs-5a-cable", "pps-above-pdp"}),
    ("5/3 9/3 15/3 20/3.25 sa3,3.25", 65, set(), {"needs-5a-cable"}),
    ("5/3 9/3 15/3 20/3.25 sa3,3", 65, set(), {"needs-5a-cable", "avs-differs"}),
    ("5/3 9/3 15/3 20/3.35", 67, set(), {"avs-missing", "needs-5a-cable"}),
    ("5.2/2.4 9/3 20.2/4.3", 87, {"missing-voltage", "less-current"}, {"voltage-off-nominal", "needs-5a-cable"}),
    ("5/3 9/3 15/3 20.5/4.7", 96.35, set(), {"avs-missing", "voltage-off-nominal", "needs-5a-cable"}),
    ("5/3 9/3 15/3 20/5", 100, set(), {"avs-missing", "needs-5a-cable", "may-have-epr"}),
    ("5/3 9/3 15/3 20/5 28/5 ea15-28/140", 140, set(), {"avs-missing", "needs-5a-cable", "needs-epr-cable"}),
    ("5/3 9/3 15/3 20/5 28/5", 140, {"epr-avs-missing"}, {"needs-epr-cable"}),
    ("5/3 9/3 15/3 20/5 28/5 36/3.88 ea15-36/140", 140, {"epr-voltage-above-row"}, {"epr-avs-range"}),
    ("5/3 9/3 15/3 20/5 28/5 48/5 ea15-48/240", 240, {"missing-voltage"}, {"needs-epr-cable"}),
    ("5/3 9/3 15/3 20/5 28/5 36/5 48/5 ea15-48/240", 240, set(), {"needs-epr-cable"}),
    ("5/3 28/2", 56, {"epr-below-100-w", "epr-voltage-above-row", "missing-voltage"}, set()),
    ("5/3 9/3 15/2.99", 44.85, set(), {"avs-missing"}),
    ("5/3 9/2.5 15/3", 45, {"less-current"}, {"avs-missing"}),
    ("5/3 v5-12/1.5", 18, {"missing-voltage"}, {"optional-above-9v"}),
    ("5/3 9/2 b3.3-9/18", 18, set(), set()),
    ("9/3 5/3", 27, {"first-not-5v"}, set()),
    ("5/3 9/3 pps3.3-12/2", 27, set(), {"pps-range-unusual"}),
    ("5/3 9/3 15/6", 90, {"over-5-a", "missing-voltage"}, set()),
    ("5/3 7/3", 21, {"missing-voltage"}, {"voltage-not-normative"}),
]


@pytest.mark.parametrize(("text", "pdp", "warnings", "notes"), LISTS, ids=[row[0] for row in LISTS])
def test_lists_as_chargers_send_them(text, pdp, warnings, notes):
    reading = pdp_candidates(offers(text))
    assert reading.pdp_w == pytest.approx(pdp)
    assert codes(reading, "warn") == warnings
    assert notes <= codes(reading, "note")


def test_quiet_where_nothing_is_odd():
    for text in ("5/3", "5/3 9/2", "5/3 9/2.22", "5/3 9/3", "5/3 9/3 15/3 sa3,0"):
        assert pdp_candidates(offers(text)).remarks == ()


@pytest.mark.parametrize(
    ("text", "over", "most"),
    [
        ("5/3 9/3 15/3 20/3", None, 240.0),
        ("5/3 9/3 15/3 20/3", "3A", 240.0),
        ("5/3 9/3 15/3 20/3", "5A", 60.0),
        ("5/3 9/3 15/3 20/3 pps5-11/5", None, 60.0),  # a current above 3 A tells of a 5 A cable
        ("5/3 9/3 15/3 20/5", "5A", 240.0),
        ("5/3 9/3 15/3", "3A", 45.0),
        ("5/3 9/3 15/3 20/5 28/5 ea15-28/140", "EPR", 140.0),
    ],
)
def test_what_the_cable_or_spr_mode_may_hide(text, over, most):
    reading = pdp_candidates(offers(text), captured_over=over)
    assert reading.most_w == most
    assert (reading.most_w > reading.pdp_w) == bool(codes(reading) & {"may-be-held-by-cable", "may-have-epr"})


def test_a_printed_pdp_that_fits_is_what_the_list_is_held_against():
    held = pdp_candidates(offers("5/3 9/3 15/3 20/3"), captured_over="3A", printed_w=65.0)
    assert (held.pdp_w, held.judged_w) == (60.0, 65.0)
    assert not codes(held, "warn")
    short = pdp_candidates(offers("5/3 9/3 15/3 20/3"), captured_over="5A", printed_w=65.0)
    assert short.judged_w == 60.0
    assert "less-than-printed" in codes(short)
    more = pdp_candidates(offers("5/3 9/3 15/3 20/3.25"), printed_w=60.0)
    assert "more-than-printed" in codes(more)
    tight = pdp_candidates(offers("5/3 9/3 15/2.99"), printed_w=45.0)
    assert codes(tight, "warn") == {"less-current"}
    rounded = pdp_candidates(offers("5/3 9/3 15/3 20.5/4.7"), printed_w=96.0)
    assert not codes(rounded) & {"less-than-printed", "more-than-printed"}


def test_three_amperes_at_20_v_may_be_the_cable_and_15_v_is_still_asked_for():
    reading = pdp_candidates(offers("5/3 9/3 20/3"), captured_over="3A", printed_w=100.0)
    assert codes(reading, "warn") == {"missing-voltage"}


@pytest.mark.parametrize("text", ["", "5/0", "5/0 9/0", "5/0.05"])
def test_nothing_offered(text):
    reading = pdp_candidates(offers(text))
    assert reading.pdp_w is None
    assert reading.row is None
    assert codes(reading) & {"no-offer", "no-power"}


def test_more_than_any_pdp():
    reading = pdp_candidates(offers("5/3 51.15/10.23"))
    assert reading.pdp_w is None
    assert {"over-5-a", "over-48-v", "over-240-w"} <= codes(reading)


@given(st.integers(min_value=1, max_value=240))
def test_the_least_set_of_a_whole_pdp_reads_back_as_that_pdp_and_breaks_no_rule(pdp_w):
    least = [OfferedSupply("fixed", volts, volts, amperes) for volts, amperes in power_rules.fixed_offers_for(pdp_w)]
    least += [offer for _, offer in power_rules.pps_set_for(pdp_w)]
    least += filter(None, (power_rules.spr_avs_for(pdp_w), power_rules.epr_avs_for(pdp_w)))
    reading = pdp_candidates(least, captured_over="EPR")
    assert reading.pdp_w == pdp_w
    assert codes(reading) <= {"needs-5a-cable", "needs-epr-cable", "may-have-epr"}


@given(st.integers(min_value=1, max_value=240), st.sampled_from([9.0, 15.0, 20.0, 28.0, 36.0, 48.0]), st.booleans())
def test_rounding_either_way_points_to_the_same_whole_pdp(pdp_w, volts, upwards):
    current = math.ceil(pdp_w / volts * 100 - 1e-6) / 100 if upwards else power_rules.round_down_a(pdp_w / volts)
    if current == 0.0:
        return
    assert likely_pdp_w([OfferedSupply("fixed", volts, volts, current)]) == pdp_w


AMPERES = st.integers(min_value=0, max_value=1023).map(lambda n: n / 100)
VOLTS = st.integers(min_value=0, max_value=1023).map(lambda n: n / 20)
ANY_OFFER = st.one_of(
    st.builds(lambda v, a: OfferedSupply("fixed", v, v, a), VOLTS, AMPERES),
    st.builds(lambda lo, hi, a: OfferedSupply("variable", lo, hi, a), VOLTS, VOLTS, AMPERES),
    st.builds(lambda lo, hi, w: OfferedSupply("battery", lo, hi, None, w / 4), VOLTS, VOLTS, st.integers(0, 1023)),
    st.builds(lambda lo, hi, a: OfferedSupply("pps", lo / 10, hi / 10, a / 20), *[st.integers(0, 255)] * 2, AMPERES),
    st.builds(lambda a, b: OfferedSupply("spr-avs", 9.0, 20.0, a, None, b), AMPERES, AMPERES),
    st.builds(lambda lo, hi, w: OfferedSupply("epr-avs", lo, hi, None, w), VOLTS, VOLTS, st.integers(0, 255)),
)


@given(
    st.lists(ANY_OFFER, max_size=11),
    st.sampled_from([None, "3A", "5A", "EPR"]),
    st.one_of(st.none(), st.floats(min_value=0.01, max_value=1000)),
)
def test_any_list_has_a_reading_and_every_remark_an_origin(found, over, printed):
    reading = pdp_candidates(found, captured_over=over, printed_w=printed)
    for remark in reading.remarks:
        assert remark.level_hint in ("note", "warn")
        assert remark.text
        assert remark.origin.text
    if reading.pdp_w is not None:
        assert reading.pdp_w <= reading.most_w
        assert reading.row.above_w < reading.judged_w <= reading.row.up_to_w
    else:
        assert reading.remarks


def test_charger_classes_do_not_overlap():
    ends = [end for ends in CHARGER_CLASSES.values() for end in ends]
    assert ends == sorted(ends)
    assert normative_near(12.0) is None
