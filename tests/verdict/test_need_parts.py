"""The pieces of a need: sources and cables of the rules, the greatest loop, what is asked of a verdict."""

from __future__ import annotations

import pytest

from pdcheck.contract.settle import Contract
from pdcheck.parts.request import AvsRequest, FixedRequest, HighestRequest, NoRequest, PpsRequest
from pdcheck.verdict.need.least import (
    PDPS_W,
    cable_of,
    class_limit_ohm,
    greatest_loop,
    kind_of_source,
    runs,
    source_of,
    works,
    works_as_set,
)


def listed(pdp_w, kind):
    return [
        (each.position, each.kind, each.min_mv, each.max_mv, each.current_ma, each.pdp_w)
        for each in source_of(pdp_w, kind).offers
    ]


def test_the_least_sources_of_45_and_140_w():
    plain = [(1, "fixed", 5000, 5000, 3000, None), (2, "fixed", 9000, 9000, 3000, None)]
    fifteen = (3, "fixed", 15000, 15000, 3000, None)
    assert listed(45, "fixed") == [*plain, fifteen]
    assert listed(45, "none") == [*plain, fifteen]
    assert listed(45, "pps") == [*plain, fifteen, (4, "pps", 5000, 16000, 3000, None)]
    twenty, more = (4, "fixed", 20000, 20000, 5000, None), (8, "fixed", 28000, 28000, 5000, None)
    assert listed(140, "fixed") == [*plain, fifteen, twenty, more]
    assert listed(140, "pps") == [*plain, fifteen, twenty, (5, "pps", 5000, 21000, 5000, None), more]
    assert listed(140, "avs")[5:] == [more, (9, "epr-avs", 15000, 28000, None, 140)]


def test_adjustable_voltage_has_two_currents():
    [avs] = [each for each in source_of(50, "avs").offers if each.kind == "spr-avs"]
    assert (avs.min_mv, avs.max_mv, avs.current_15v_ma, avs.current_20v_ma) == (9000, 20000, 3000, 2500)
    # AVS is asked for above 27 W, EPR AVS above 100 W.
    assert [listed(27, "avs"), listed(100, "avs")[-1][1]] == [listed(27, "fixed"), "spr-avs"]
    assert listed(101, "avs")[-1][1] == "epr-avs"


@pytest.mark.parametrize(
    ("pdp_w", "amperes"), [(1, 0.2), (2, 0.4), (3, 0.5), (7, 0.5), (8, 1.5), (14, 1.5), (15, 3.0), (240, 3.0)]
)
def test_what_a_source_says_at_5_v_without_pd(pdp_w, amperes):
    assert source_of(pdp_w, "none").typec_current_a == amperes
    assert source_of(pdp_w, "fixed").typec_current_a is None


def test_sources_and_cables_have_names_of_their_own():
    assert source_of(27, "pps").id == "pdp-27w"
    told = [
        (each.id, each.current_a, each.voltage_v, each.is_epr, each.construction)
        for each in map(cable, ("3A", "5A", "EPR"))
    ]
    assert told == [
        ("cable-3a", 3.0, 20.0, False, "unmarked"),
        ("cable-5a", 5.0, 20.0, False, "passive"),
        ("cable-epr", 5.0, 50.0, True, "passive"),
    ]
    assert cable("5A").loop_ohm() == ((0.1, 0.1, 0.1), False)
    assert [class_limit_ohm(each) for each in ("3A", "5A", "EPR")] == [0.25, 0.15, 0.15]


def cable(cable_class):
    return cable_of(cable_class, 0.1)


def test_the_same_cable_is_handed_out_each_time():
    assert cable_of("3A", 0.1) is cable_of("3A", 0.1)
    others = [cable_of("3A", 0.2), cable_of("5A", 0.1)]
    assert [(each.id, each.loop_ohm()[0].typ) for each in others] == [("cable-3a", 0.2), ("cable-5a", 0.1)]


def test_a_request_says_which_offers_are_looked_for():
    asked = (PpsRequest(9.0), AvsRequest(12.0), NoRequest(), FixedRequest(9.0), HighestRequest())
    assert [kind_of_source(each) for each in asked] == ["pps", "avs", "none", "fixed", "fixed"]
    assert (PDPS_W[0], PDPS_W[-1], len(PDPS_W)) == (1, 240, 240)


@pytest.mark.parametrize(
    ("most", "at", "stated"),
    [
        (0.31459, 0.25, 0.3145),
        (0.3, 0.25, 0.3),
        (0.3, 0.3, 0.3),
        (12.349, 0.15, 12.34),
        (999.94, 0.0025, 999.9),
        (0.0025, 0.0025, 0.0025),
        (0.00251234, 0.0025, 0.002512),
    ],
)
def test_the_greatest_loop_down_to_four_digits(most, at, stated):
    assert greatest_loop(each_of(lambda ohms: ohms <= most), at) == stated


def each_of(works):
    return lambda loops: [works(ohms) for ohms in loops]


def test_no_loop_is_too_much_or_the_first_that_works_is_the_last():
    assert greatest_loop(each_of(lambda ohms: True), 0.25) is None
    assert greatest_loop(each_of(lambda ohms: ohms <= 1000.0), 0.25) is None
    assert greatest_loop(each_of(lambda ohms: ohms < 1000.0), 0.25) == 999.9
    # A figure of more than four digits, below which nothing works: it is stated as it is.
    assert greatest_loop(each_of(lambda ohms: ohms == 0.123456), 0.123456) == 0.123456


def test_the_search_divides_ratios_from_afar_and_differences_from_near():
    asked: list[list[float]] = []

    def work_to(loops):
        asked.append(loops)
        return [ohms <= 0.31459 for ohms in loops]

    assert greatest_loop(work_to, 0.25) == 0.3145
    # Equal ratios while the ends are more than a factor of two apart, 4000 at first; then equal steps.
    limit, far, near, *_, last = asked
    assert limit == [1000.0]
    assert far == pytest.approx([0.25 * 4000 ** (at / 8) for at in range(1, 8)])
    top = 0.25 * 4000 ** (1 / 8)
    assert near == pytest.approx([0.25 * (top / 0.25) ** (at / 8) for at in range(1, 8)])
    # It ends with what it states, and no later than four digits are sure.
    assert last[-1] == 0.3145 and len(asked) == 8


def contract(outcome):
    return Contract(outcome, "fixed", 9.0, 3.0, None, (), False, "")


@pytest.mark.parametrize(
    ("verdict", "outcome", "accepted"),
    [
        ("runs", "as-asked", (True, True, True)),
        ("runs", "type-c", (True, True, True)),
        ("limited", "as-asked", (True, True, False)),
        ("limited", "fallback", (True, False, False)),
        ("runs", "fallback", (True, False, True)),
        ("fails", "as-asked", (False, False, False)),
        ("unsafe", "as-asked", (False, False, False)),
        ("fails", "off", (False, False, False)),
    ],
)
def test_what_is_accepted(verdict, outcome, accepted):
    assert tuple(each(verdict, contract(outcome)) for each in (works, works_as_set, runs)) == accepted
