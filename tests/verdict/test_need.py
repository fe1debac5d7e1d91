"""What a rig needs is tight: it works on exactly that, and on nothing one step lower."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from pdcheck.facts.power_rules import ROWS, fixed_offers_for
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.records import plain
from pdcheck.verdict.judge import judge
from pdcheck.verdict.need.around import all_needs, best_fallback, setting_needs
from pdcheck.verdict.need.least import (
    CLASSES,
    PDPS_W,
    Accept,
    Market,
    Need,
    cable_of,
    kind_of_source,
    runs,
    source_of,
    works,
    works_as_set,
)
from pdcheck.verdict.need.to_buy import label

MARKET = Market()


def accepted(rig: Rig, accept: Accept, pdp_w: int, cable_class: str, loop_ohm: float) -> bool:
    """Over a cable of that loop resistance; where a better one makes the rig take more, over better ones as well."""
    source = source_of(pdp_w, kind_of_source(rig.trigger.request))
    grows = any(branch.load.grows_with_voltage for branch in rig.branches)
    found = [
        judge(rig, source, cable_of(cable_class, part * loop_ohm))  # type: ignore[arg-type]
        for part in ((1.0, 0.5, 0.0) if grows else (1.0,))
    ]
    return all(accept(each.verdict, each.case.contract) for each in found)


def assert_tight(rig: Rig, accept: Accept, need: Need) -> None:
    loop = need.case.cable.loop_ohm()[0].typ
    assert accepted(rig, accept, need.pdp_w, need.cable_class, loop)
    for lower in {need.pdp_w - 1, *(round(row.up_to_w) for row in ROWS if row.up_to_w < need.pdp_w)} - {0}:
        assert not accepted(rig, accept, lower, need.cable_class, loop)
    for lesser in CLASSES[: CLASSES.index(need.cable_class)]:
        assert not accepted(rig, accept, need.pdp_w, lesser, loop)
    resistive = any(branch.load.kind in ("resistance", "led") for branch in rig.branches)
    if need.loop_ohm is not None and not resistive:
        assert not accepted(rig, accept, need.pdp_w, need.cable_class, 1.01 * loop)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig), st.sampled_from((works, works, works_as_set, runs)))
def test_tight(rig: Rig, accept: Accept) -> None:
    need = MARKET.need(rig, accept)
    if need is None:
        assert not any(
            accepted(rig, accept, pdp_w, each, 0.15)
            for pdp_w in (15, 27, 45, 60, 100, 140, 180, 240)
            for each in CLASSES
        )
    assume(need is not None)
    assert need is not None
    assert_tight(rig, accept, need)


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig))
def test_document_says_what_to_build(rig: Rig) -> None:
    """A source made from the label, or the words, and a cable made from the figures are those that were judged."""
    need = MARKET.need(rig, works)
    assume(need is not None and need.loop_ohm is not None)
    assert need is not None
    told = plain(need, Need)
    typec = {"typec_current": told["source"]["typec_current_a"]} if told["source"]["typec_current_a"] else {}
    for offers in ({"offers": told["source"]["label"]}, {"hex": told["source"]["hex"]}):
        source = Source.model_validate({"id": "s", **offers, **typec})
        assert [offer.word for offer in source.offers] == [offer.word for offer in need.case.source.offers]
        cable = cable_of(told["cable"]["cable_class"], told["cable"]["loop_ohm"])
        assert judge(rig, source, cable).verdict == told["verdict"]


@pytest.mark.parametrize("pdp_w", [5, 15, 16, 27, 28, 45, 46, 60, 61, 100, 101, 140, 141, 180, 181, 240])
@pytest.mark.parametrize("kind", ["fixed", "pps", "avs"])
def test_sources_are_those_of_the_rules(pdp_w: int, kind: str) -> None:
    source = source_of(pdp_w, kind)
    fixed = [(o.max_mv / 1000, (o.current_ma or 0) / 1000) for o in source.offers if o.kind == "fixed"]
    assert fixed == fixed_offers_for(float(pdp_w))
    assert [o.word for o in Source(id="s", offers=label(source.offers)).offers] == [o.word for o in source.offers]


def rig_of(request: str, watts: float, least_v: float = 6.0) -> Rig:
    return Rig.model_validate(
        {
            "trigger": {"request": request, "rating": "5A", "voltage_rating": "48V"},
            "branch": [
                {
                    "name": "box",
                    "converter": {"kind": "buck-boost", "input": [least_v, 55.0], "output": "12V", "efficiency": 1.0},
                    "load": {"power": watts},
                }
            ],
        }
    )


def test_rows_decide() -> None:
    """A trigger at 20 V on a box that needs 19 V: whatever little it draws, 20 V starts above 45 W."""
    rig = rig_of("20V", 5.0, 18.0)
    need = MARKET.need(rig, works)
    assert need is not None
    assert (need.pdp_w, need.cable_class, need.contract.voltage_v) == (46, "3A", 20.0)


def test_more_than_three_amperes_needs_a_marked_cable_and_epr_one_above_20_v() -> None:
    marked = MARKET.need(rig_of("20V", 70.0, 15.0), works)
    assert marked is not None
    assert marked.cable_class == "5A"
    extended = MARKET.need(rig_of("28V", 110.0, 22.0), works)
    assert extended is not None
    assert (extended.cable_class, extended.contract.epr) == ("EPR", True)


def test_beyond_every_source() -> None:
    needs = all_needs(rig_of("48V", 300.0, 30.0))
    assert needs.least is None
    assert any("no USB-C source gives more than 240 W" in reason for reason in needs.reasons)
    assert needs.to_dict()["possible"] is False


def test_lower_input_is_named_as_what_would_spare_most() -> None:
    """20 V is asked for only because the converter starts at 17 V; from 13 V on 15 V would do, on 28 W."""
    needs = all_needs(rig_of("20V", 10.0, 17.0))
    assert needs.as_set is not None
    assert needs.as_set.pdp_w == 46
    [change] = [each for each in needs.spared if "13 V" in each.change]
    assert (change.pdp_w, change.before_pdp_w) == (28, 46)


def test_fall_back_that_stays_off_is_chosen() -> None:
    """On 9 V the box comes on and asks for more than a lesser source has; at 5 V it stays off."""
    needs = all_needs(rig_of("15V", 24.0, 6.0))
    by_rule = {each.fallback: each for each in needs.fallbacks}
    assert not by_rule["next-lower"].safe
    assert {"overload"} <= {each.state for each in by_rule["next-lower"].lesser}
    assert by_rule["none"].safe
    best = best_fallback(needs.fallbacks, "next-lower")
    assert best is not None
    assert best.safe


def test_settings_cover_every_voltage() -> None:
    found = {each.request: each for each in setting_needs(MARKET, rig_of("15V", 10.0))}
    lowest = [each.pdp_w for each in found.values() if each.pdp_w is not None]
    assert len(found) == 8
    assert min(lowest) < 28
    assert all(each.pdp_w in PDPS_W for each in found.values() if each.pdp_w is not None)
