"""Around a need: gauges, settings, fall-backs, what one change would spare and why nothing does, on a small market."""

from __future__ import annotations

import pytest

from pdcheck.parts.request import FixedRequest, request_text
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from pdcheck.verdict.need import around, least
from pdcheck.verdict.need.around import (
    FallbackNeed,
    LesserSource,
    SettingNeed,
    Spared,
    WireNeed,
    all_needs,
    best_fallback,
    fallback_needs,
    least_gauges,
    setting_needs,
    spared,
    why_nothing_does,
    works_on,
)
from pdcheck.verdict.need.least import Market, cable_of, works, works_as_set

CONVERTER = {"kind": "buck-boost", "input": [6.0, 55.0], "output": "12V", "efficiency": 1.0}


@pytest.fixture
def window(monkeypatch):
    """A market of a few PDPs: all of them take seconds."""

    def open_to(first_w, last_w):
        for place in (least, around):
            monkeypatch.setattr(place, "PDPS_W", range(first_w, last_w + 1))

    return open_to


def rig_of(request="15V", trigger=None, **branch):
    board = {"request": request, "rating": "5A", "voltage_rating": "48V"} | (trigger or {})
    return Rig.model_validate({"trigger": board, "branch": [{"name": "box", "load": {"power": 10}} | branch]})


def told(setting):
    return (request_text(setting.request), *setting[1:])


def test_the_thinnest_wire_works_and_a_thinner_one_does_not():
    rig = rig_of(
        converter=CONVERTER,
        load={"power": 24.0},
        wire={"mm2": 1.0, "length": "0.5m"},
        lead={"awg": 18, "length": "0.3m"},
    )
    market = Market()
    need = market._tightened(rig, works, "3A", 28, 0.25)
    wires = least_gauges(rig, need, 0.09)
    assert wires == [WireNeed("box", "wire", 25, wires[0].loop_ohm), WireNeed("box", "lead", 24, wires[0].loop_ohm)]
    [branch], cable = rig.branches, cable_of("3A", 0.09)
    for place, _, awg in ((each.place, each.branch, each.awg) for each in wires):
        wire = getattr(branch, place)
        for gauge, works_there in ((awg, True), (awg + 1, False)):
            thin = branch.model_copy(update={place: wire.model_copy(update={"awg": gauge, "mm2": None})})
            assert works_on(rig.model_copy(update={"branches": (thin,)}), need, cable) == works_there
    # Over a cable of a class that the load is too much for no wire is any good; without wires none is asked about.
    assert [each.awg for each in least_gauges(rig, need, 5.0)] == [None, None]
    assert least_gauges(rig_of(), need, 0.09) == []


def test_the_lowest_source_comes_before_the_least_cable(window):
    window(26, 29)
    rig = rig_of(converter=CONVERTER, load={"power": 24.0})
    # 24 W at 9 V over 250 mOhm take more than 3 A of 27 W; over a 5 A cable's 150 mOhm they do not.
    assert Market().lowest(rig, works) == ("5A", 27)
    assert Market().lowest(rig, works_as_set) == ("3A", 28)
    assert Market().lowest(rig_of(load={"power": 100.0}), works) is None


def test_every_setting_with_what_it_asks_for(window):
    window(26, 29)
    rig = rig_of("9V", load={"power": 5.0, "voltage": [8, 13]})
    found = setting_needs(Market(), rig)
    # 15 V is on offer above 27 W, and what asks for more falls back to it.
    assert [told(each) for each in found] == [
        ("9 V", 26, "3A", None),
        ("5 V", None, None, None),
        ("15 V", None, None, 28),
        ("20 V", None, None, 28),
        ("28 V", None, None, 28),
        ("36 V", None, None, 28),
        ("48 V", None, None, 28),
        ("highest", 26, "3A", 28),
    ]


def test_a_setting_of_one_s_own_comes_first_and_is_kept(window):
    window(4, 4)
    found = setting_needs(Market(), rig_of("none", load={"power": 0.9}))
    assert [told(each)[:3] for each in found][:2] == [("none", 4, "3A"), ("5 V", 4, "3A")]
    assert len(found) == 9


def lesser(*rows):
    return tuple(LesserSource(*row) for row in rows)


def test_what_each_fall_back_does_below(window):
    window(14, 29)
    rig = rig_of(converter=CONVERTER, load={"power": 24.0})
    market = Market()
    as_set = market.need(rig, works_as_set)
    assert as_set is not None and as_set.pdp_w == 28
    assert fallback_needs(market, rig, as_set) == [
        FallbackNeed(
            "next-lower",
            lesser((5.0, 14, 15, "off", "converter-input-low"), (9.0, 16, 27, "overload", "cable-current")),
        ),
        FallbackNeed("5V", lesser((5.0, 14, 27, "off", "converter-input-low"))),
        FallbackNeed("none", lesser((0.0, 14, 27, "off", "contract-off"))),
    ]


def test_fall_backs_that_work_and_such_that_harm(window):
    window(26, 29)
    market = Market()
    tender = rig_of("20V", load={"power": 5.0, "voltage": [8, 13]})
    high = [(each.fallback, each.lesser) for each in fallback_needs(market, tender, None)]
    assert high[0] == (
        "next-lower",
        lesser((9.0, 26, 27, "works", "contract-fallback"), (15.0, 28, 29, "unsafe", "load-voltage-high")),
    )
    # On 5 V the load has too little: it draws all the same.
    assert high[1] == ("5V", lesser((5.0, 26, 29, "overload", "load-voltage-low")))
    assert fallback_needs(market, rig_of("none"), None) == []


def test_a_converter_that_sags_comes_on_first_and_one_that_does_not_start_stays_off(window):
    window(16, 17)
    market = Market()
    sags = rig_of("15V", converter=CONVERTER | {"input": [8.4, 55.0]}, load={"power": 12.0})
    [found] = fallback_needs(market, sags, None)[0].lesser
    assert found[:4] == (9.0, 16, 17, "overload") and found.rule == "converter-input-low"
    waits = rig_of("15V", converter=CONVERTER | {"start": "9V"}, load={"power": 10.0})
    [found] = fallback_needs(market, waits, None)[0].lesser
    assert found == (9.0, 16, 17, "off", "converter-start")
    # One that the heater beside it keeps from starting stays off as safely, and so does what is only weak or dark.
    beside = rig_of("15V", converter=CONVERTER | {"start": "8.3V", "stop": "6V"}, load={"power": 1.0})
    heater = rig_of(load={"resistance": 6.0, "power": 25.0, "least": 5.0}).branches[0].model_copy(update={"name": "h"})
    [found] = fallback_needs(market, beside.model_copy(update={"branches": (*beside.branches, heater)}), None)[0].lesser
    assert found == (9.0, 16, 17, "off", "start-blocked")
    [found] = fallback_needs(market, rig_of("15V", load={"resistance": 36.0}), None)[0].lesser
    assert found == (9.0, 16, 17, "off", "load-weak")
    dark = {"led": {"count": 2, "vf": 3.0, "current": 0.02, "driver": "resistor", "resistor": 450}}
    [found] = fallback_needs(market, rig_of("15V", load=dark), None)[0].lesser
    assert found == (9.0, 16, 17, "off", "led-dark")
    string = {"led": {"count": 4, "vf": 3.0, "current": 0.1}}
    [found] = fallback_needs(market, rig_of("15V", load=string), None)[0].lesser
    assert found == (9.0, 16, 17, "off", "led-headroom")


def fall_back(name, *states):
    return FallbackNeed(name, tuple(LesserSource(5.0, 10, 9 + watts, state, None) for state, watts in states))


def test_the_best_fall_back_is_safe_and_works_most_often():
    works_most = fall_back("next-lower", ("works", 5), ("off", 10))
    stays_off = fall_back("5V", ("off", 15))
    harms = fall_back("none", ("works", 20), ("unsafe", 1))
    strains = fall_back("none", ("works", 20), ("overload", 1))
    assert [each.safe for each in (works_most, stays_off, harms, strains)] == [True, True, False, False]
    assert [each.working for each in (works_most, stays_off, harms)] == [5, 0, 20]
    assert best_fallback([stays_off, works_most, harms, strains], "5V") is works_most
    assert best_fallback([harms, strains], "none") is None
    # Among equals the one that is set.
    equal = fall_back("none", ("off", 15))
    assert best_fallback([stays_off, equal], "none") is equal
    assert best_fallback([stays_off, equal], "5V") is stays_off
    assert fall_back("5V").safe and fall_back("5V").working == 0


class Told(Market):
    """A market on which only what it is told of works, on the least source over the least cable; it keeps the rigs."""

    def __init__(self, accepts):
        super().__init__()
        self.accepts, self.rigs = accepts, []

    def lowest(self, rig, accept):
        self.rigs.append(rig)
        return ("3A", 2) if self.accepts(rig) else None

    def surely_none(self, rig, accept, pdps_w):
        return False


def settings_of(rig, pdp_w=3, cable_class="3A"):
    others = [FixedRequest(volts) for volts in (5.0, 9.0, 15.0, 20.0)]
    requests = [rig.trigger.request, *(each for each in others if each != rig.trigger.request)]
    return [SettingNeed(each, pdp_w, cable_class, None) for each in requests]


FULL = {
    "converter": CONVERTER | {"kind": "buck", "input": [17.0, 30.0], "dropout": "1V", "start": "18.5V"},
    "wire": {"awg": 20, "length": "0.5m"},
    "lead": {"awg": 20, "length": "1.2345m"},
}


def test_every_kind_of_change_is_tried_the_mildest_first():
    rig = rig_of("20V", {"resistance": "50mOhm", "rating": "3A"}, **FULL)
    found = spared(Told(lambda rig: True), rig, settings_of(rig))
    assert found == [
        Spared(change, 2, "3A", 3, "3A")
        for change in (
            "box: a buck converter that works from 18 V",
            "box: a wire of half the length, 250 mm",
            "box: a lead of half the length, 617 mm",
            "a trigger without resistance of its own",
            "a trigger rated for 5 A",
        )
    ]


def test_what_is_changed_and_nothing_else():
    rig = rig_of("15V", {"resistance": "50mOhm", "rating": "3A"}, **FULL)
    market = Told(lambda rig: False)
    assert spared(market, rig, settings_of(rig)) == []
    converters = [
        (request_text(each.trigger.request), made.kind, made.input_v, made.start_v, made.dropout_v)
        for each in market.rigs
        if (made := each.branches[0].converter) != rig.branches[0].converter
    ]
    # Below its output of 12 V a buck has to become a buck-boost.
    assert converters == [
        (volts, kind, (least_v, 30.0), None, 0.0)
        for least_v, kind in ((18.0, "buck"), (13.0, "buck"), (8.0, "buck-boost"), (4.5, "buck-boost"))
        for volts in ("15 V", "9 V", "5 V")
    ]
    wire, lead, resistance, rating = market.rigs[-4:]
    assert (wire.branches[0].wire.length_m, wire.branches[0].lead) == (0.25, rig.branches[0].lead)
    assert (lead.branches[0].wire, lead.branches[0].lead.length_m) == (rig.branches[0].wire, 1.2345 / 2)
    assert (resistance.trigger.resistance, resistance.trigger.rating_a) == (Triple.exact(0.0), 3.0)
    assert (rating.trigger.resistance, rating.trigger.rating_a) == (rig.trigger.resistance, 5.0)
    assert all(each.trigger.request == rig.trigger.request for each in market.rigs[-4:])


@pytest.mark.parametrize(
    ("given", "tried"),
    [
        ({"input": [8.0, 30.0]}, [4.5]),
        ({"input": [8.01, 30.0]}, [8.0, 4.5]),
        ({"input": [4.5, 30.0]}, []),
        ({"input": [4.0, 13.0], "start": "13V"}, [8.0, 4.5]),
        ({"input": [30.0, 60.0]}, [24.0, 18.0, 13.0, 8.0, 4.5]),
        ({"start": "12V"}, [8.0, 4.5]),
        ({}, []),
    ],
)
def test_only_lower_least_inputs_are_tried(given, tried):
    made = {"kind": "buck-boost", "output": "12V", "efficiency": 1.0} | given
    rig = rig_of("highest", converter=made)
    market = Told(lambda rig: False)
    spared(market, rig, settings_of(rig))
    inputs = [each.branches[0].converter.input_v for each in market.rigs]
    end = given.get("input", [0.0, 60.0])[1]
    assert inputs == [(volts, end) for volts in tried]
    # What is not set to one voltage keeps its setting.
    assert all(each.trigger.request == rig.trigger.request for each in market.rigs)


def test_another_setting_is_named_and_has_to_spare_on_that_one_too():
    rig = rig_of("20V", converter=CONVERTER | {"input": [17.0, 55.0]})
    nine = Told(lambda rig: request_text(rig.trigger.request) == "9 V")
    settings = settings_of(rig)
    [found] = spared(nine, rig, settings)
    assert found.change == "box: a buck-boost converter that works from 13 V, with the trigger set to 9 V"
    already = [each._replace(pdp_w=2) if request_text(each.request) == "9 V" else each for each in settings]
    assert spared(nine, rig, already) == []


@pytest.mark.parametrize(
    ("pdp_w", "cable_class", "spares"),
    [
        (3, "3A", True),
        (2, "5A", True),
        (1, "5A", True),
        (2, "3A", False),
        (1, "3A", False),
        (None, None, True),
    ],
)
def test_less_is_a_lower_source_or_a_lesser_cable(pdp_w, cable_class, spares):
    rig = rig_of("9V", {"resistance": "50mOhm"})
    found = spared(Told(lambda rig: True), rig, settings_of(rig, pdp_w, cable_class))
    change = Spared("a trigger without resistance of its own", 2, "3A", pdp_w, cable_class)
    assert found == ([change] if spares else [])


def test_nothing_to_change():
    assert spared(Told(lambda rig: True), rig_of("9V", {"rating": "5A"}), settings_of(rig_of("9V"))) == []
    unrated = rig_of("9V", {"rating": None})
    assert spared(Told(lambda rig: True), unrated, settings_of(unrated)) == []


LIMIT = "no USB-C source gives more than 240 W [PD R3.2 V1.1 [checked]]"


@pytest.mark.parametrize(
    ("rig", "reasons"),
    [
        (rig_of("9V", load={"power": 40.0}), ["source: must give 4.68 A in the worst case and offers 3 A at 9 V"]),
        (rig_of("none", load={"power": 20.0}), ["source: must give 4.22 A in the worst case and offers 3 A at 5 V"]),
        (
            rig_of("13V", {"fallback": "none"}),
            ["trigger: 13 V is not on offer, and the trigger gives nothing then"],
        ),
        (
            rig_of("13V", load={"power": 20, "voltage": [12, 14]}),
            ["13 V is not on offer: falls back to 9 V", "box: gets 8.55 V in the worst case and needs 12 V"],
        ),
        (
            rig_of("48V", {"voltage_rating": "21V"}, converter=CONVERTER, load={"power": 20.0}),
            ["trigger: gets 48 V and is rated for 21 V"],
        ),
        (
            rig_of("48V", load={"power": 240.1}),
            [
                f"it draws 240.1 W and {LIMIT}",
                "cable: carries 5.27 A in the worst case and is rated for 5 A",
                "connector: carries 5.27 A in the worst case; USB-C ends at 5 A",
                "trigger: carries 5.27 A in the worst case and is rated for 5 A",
            ],
        ),
    ],
)
def test_why_nothing_does(rig, reasons):
    assert why_nothing_does(rig) == reasons


def test_no_more_than_three_findings_are_told():
    found = why_nothing_does(rig_of("20V", {"rating": "1A"}, load={"power": 120}))
    assert len(found) == 3
    assert [each.split(":")[0] for each in found] == ["cable", "connector", "trigger"]


def test_all_of_it_where_something_does(window):
    window(26, 28)
    rig = rig_of("9V", wire={"awg": 20, "length": "0.3m"}, load={"power": 15.0, "voltage": [5.6, 20]})
    needs = all_needs(rig)
    assert needs.least is not None and needs.as_set is not None and needs.in_hand is not None
    assert [each[:3] for each in (needs.least, needs.as_set, needs.in_hand)] == [(26, 240, "3A")] * 3
    # The cable may have more than its class: half of the limit is what is counted on.
    assert needs.least.loop_ohm is not None and needs.least.loop_ohm > 0.25
    assert (needs.wires_loop_ohm, needs.wires) == (0.125, tuple(least_gauges(rig, needs.least, 0.125)))
    market = Market()
    assert list(needs.settings) == setting_needs(market, rig)
    assert list(needs.fallbacks) == fallback_needs(market, rig, needs.as_set)
    assert (needs.spared, needs.reasons) == ((), ())


def test_all_of_it_where_nothing_does(window):
    window(26, 27)
    rig = rig_of("9V", wire={"awg": 20, "length": "0.3m"}, load={"power": 60.0})
    needs = all_needs(rig)
    assert (needs.least, needs.as_set, needs.in_hand, needs.wires, needs.wires_loop_ohm) == (None, None, None, (), None)
    assert list(needs.reasons) == why_nothing_does(rig) and needs.reasons
    assert [each.fallback for each in needs.fallbacks] == ["next-lower", "5V", "none"]
    assert len(needs.settings) == 8
