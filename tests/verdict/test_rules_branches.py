"""Rules that say different things in different situations: each of them whole, and both sides of what divides them."""

from __future__ import annotations

import pytest

from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.verdict.case import Case
from pdcheck.verdict.rules.source import power_reading, supplies
from tests.verdict.test_rules_each import BUCK_BOOST, CABLE, EPR_CABLE, LEDS, RULES, judged, with_converter

PLAIN = {"offers": "5V 3A, 9V 3A"}
WIDE = {"offers": "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A"}
LIST = "5V 3A, 9V 3A, 15V 3A"
TIMERS = "PD R3.2 V1.1, Tables 5.18, 6.68, 6.70, 7.23 to 7.25 [checked]"
RESETS = "after Accept; a sink resets after 0.45 s or a little more"


def behaving(**given):
    return judged("0.5A", source=PLAIN | {"behaviour": given})


def extended(**given):
    board = {"request": "28V", "voltage_rating": "48V"}
    return judged("0.5A", trigger=board, source=WIDE | {"behaviour": given}, cable=EPR_CABLE)


def captured(offers):
    return judged("0.5A", source={"offers": offers, "captured_over": "3A"})


# Rule, judgement, and what is found: level where it is not the rule's own, subject, value, limit, unit, text.
FOUND = {
    "no request": ("source-behaviour", lambda: behaving(silent="request"), [
        ("fail", "source", None, None, "", "never answers a request: there will be no contract"),
    ]),
    "no PS_RDY": ("source-behaviour", lambda: behaving(silent="ps-rdy"), [
        ("fail", "source", None, None, "", "never sends PS_RDY: there will be no contract"),
    ]),
    "no keep-alive where none is needed": ("source-behaviour", lambda: behaving(silent="keep-alive"), []),
    "no keep-alive": ("source-behaviour", lambda: extended(silent="keep-alive"), [
        ("fail", "source", None, None, "", "never answers EPR_KeepAlive: there will be no contract"),
    ]),
    "rejects": ("source-behaviour", lambda: behaving(reject="always"), [
        ("fail", "source", None, None, "", "rejects every request: there will be no contract"),
    ]),
    "waits": ("source-behaviour", lambda: behaving(wait="always"), [
        ("fail", "source", None, None, "", "answers every request with Wait: there will be no contract"),
    ]),
    "no Accept": ("source-behaviour", lambda: behaving(skip_accept="always"), [
        ("fail", "source", None, None, "", "leaves out every Accept: there will be no contract"),
    ]),
    "some": ("source-behaviour", lambda: behaving(reject=999_999, wait=999_999, skip_accept=999_999), []),
    "all at once": ("source-behaviour", lambda: behaving(reject="always", wait="always", ps_rdy="1s"), [
        ("fail", "source", None, None, "", "rejects every request: there will be no contract"),
        ("fail", "source", None, None, "", "answers every request with Wait: there will be no contract"),
        ("fail", "source", 1.0, 0.45, "s", f"sends PS_RDY 1 s {RESETS}"),
    ]),
    "PS_RDY in time": ("source-behaviour", lambda: behaving(ps_rdy="450ms"), []),
    "PS_RDY late": ("source-behaviour", lambda: behaving(ps_rdy="550ms"), [
        ("warn", "source", 0.55, 0.45, "s", f"sends PS_RDY 0.55 s {RESETS}"),
    ]),
    "PS_RDY too late": ("source-behaviour", lambda: behaving(ps_rdy="551ms"), [
        ("fail", "source", 0.551, 0.45, "s", f"sends PS_RDY 0.551 s {RESETS}"),
    ]),
    "no capabilities": ("source-behaviour", lambda: behaving(silent="capabilities"), [
        ("note", "source", None, None, "", "sends no capabilities: no PD, 5 V alone"),
    ]),
    "no EPR entry": ("source-behaviour", lambda: extended(silent="epr-entry"), [
        ("note", "source", None, None, "", "does not enter EPR mode: its EPR offers are not counted on"),
    ]),
    "EPR refused": ("source-behaviour", lambda: extended(epr_entry="refused"), [
        ("note", "source", None, None, "", "does not enter EPR mode: its EPR offers are not counted on"),
    ]),
    "EPR refused where none is to be had": (
        "source-behaviour", lambda: judged("0.5A", source=WIDE | {"behaviour": {"epr_entry": "refused"}}), [],
    ),
    "EPR refused where none is offered": (
        "source-behaviour",
        lambda: judged("0.5A", source=PLAIN | {"behaviour": {"epr_entry": "refused"}}, cable=EPR_CABLE),
        [],
    ),
    "no capabilities over plain wires": (
        "source-behaviour",
        lambda: judged("0.5A", source=PLAIN | {"behaviour": {"silent": "capabilities"}}, cable={"kind": "A-C"}),
        [],
    ),
    "what is granted does not matter without a contract": (
        "source-behaviour",
        lambda: judged("0.5A", trigger={"request": "none"}, source=PLAIN | {"behaviour": {"reject": "always"}}),
        [],
    ),
    "too much for that cable": ("source-capture-cable", lambda: captured("5V 3A, 9V 4A, 15V 3A, 20V 5A"), [
        ("warn", "source", 5.0, 3.0, "A",
         "offers 4 A at 9 V, 5 A at 20 V, yet was captured with a 3 A cable: "
         "the charger breaks the rule, or it was another cable"),
    ]),
    "perhaps more": ("source-capture-cable", lambda: captured(f"{LIST}, 20V 3A"), [
        ("note", "source", None, None, "", "captured with a 3 A cable: it may offer more with a 5 A one"),
    ]),
    "less than the cable carries": ("source-capture-cable", lambda: captured(f"{LIST}, 20V 2.25A"), []),
    "no more at 15 V": ("source-capture-cable", lambda: captured(LIST), []),
    "kept back": ("cable-bounds-offer", lambda: judged("0.5A", source=WIDE), [
        ("note", "cable", None, None, "", "this cable is not EPR: the charger does not offer 28 V"),
    ]),
    "cut and kept back": ("cable-bounds-offer", lambda: judged("0.5A", source=WIDE, cable=CABLE | {"rating": "3A"}), [
        ("note", "cable", None, 3.0, "A", "with this cable the charger offers no more than 3 A at 20 V"),
        ("note", "cable", None, None, "", "this cable is not EPR: the charger does not offer 28 V"),
    ]),
    "21 V programmed over 20 V of a marker": (
        "cable-voltage",
        lambda: judged(trigger={"request": "pps 21V 1A"}, source={"offers": "5V 3A, 9V 3A; PPS 5-21V 3A"}),
        [],
    ),
    "never enough input": ("converter-input-low", lambda: with_converter(input="10V-28V"), [
        ("fail", "x", 9.45, 10.0, "V", "stays off: it needs 10 V and gets at most 9.45 V"),
    ]),
    "not enough at the worst corner": ("converter-input-low", lambda: with_converter(input="8.45V-28V"), [
        ("fail", "x", 8.431, 8.45, "V", "its input falls to 8.43 V on 9 V and it needs 8.45 V"),
    ]),
    "a start above all there is": ("converter-input-low", lambda: with_converter(input="4.5V-28V", start="12V"), []),
    "an input in hand": ("converter-in-hand", lambda: with_converter(input_limit="1.3A"), [
        ("warn", "x", 1.186, 1.04, "A",
         "1.19 A of the converter's 1.3 A in the worst case: 8.8 % to spare; 20 % is comfortable"),
    ]),
    "an output in hand": ("converter-in-hand", lambda: with_converter(output_limit="1.2A"), [
        ("warn", "x", 1.0, 0.96, "A",
         "1 A of the converter's 1.2 A in the worst case: 17 % to spare; 20 % is comfortable"),
    ]),
    "nothing stated of a converter": ("converter-unknown", lambda: with_converter(input=None, efficiency=None), [
        ("note", "x", None, None, "", "no efficiency stated: taken as 85 %"),
        ("note", "x", None, None, "", "its input range is not stated: not judged"),
    ]),
    "dark": ("led-headroom", lambda: judged({"led": LEDS | {"count": 4}}), [
        ("fail", "x", 9.45, 12.0, "V", "its LEDs need 12 V and get at most 9.45 V: they stay dark"),
    ]),
    "dim": ("led-headroom", lambda: judged({"led": LEDS | {"headroom": "2.6V"}}), [
        ("fail", "x", 8.542, 8.6, "V", "its LEDs need 8.6 V and get 8.54 V in the worst case: they stay dark or dim"),
    ]),
    "dark behind a converter": ("led-headroom", lambda: with_converter({"led": LEDS | {"count": 4}}), [
        ("fail", "x", 9.0, 12.0, "V", "its LEDs need 12 V and get 9 V in the worst case: they stay dark or dim"),
    ]),
    "behind a converter that is off": (
        "led-headroom", lambda: with_converter({"led": LEDS | {"count": 4}}, input="10V-28V"), [],
    ),
    "too much behind a converter": ("load-voltage-high",
        lambda: with_converter({"current": "0.1A", "voltage": "5V-8.9V"}),
        [("stop", "x", 9.0, 8.9, "V", "may get 9 V and is rated for 8.9 V")],
    ),
    "a lead too thin": ("wire-current", lambda: judged("2.5A", lead={"awg": 24, "length": "0.1m"}), [
        ("fail", "x lead", 2.5, 2.261, "A",
         "carries 2.5 A in the worst case and stays cool up to 2.26 A"),
    ]),
    "a lead too long": ("wire-drop", lambda: judged(lead={"awg": 20, "length": "7m"}), [
        ("warn", "x lead", 0.4663, 0.4225, "V", "drops 466 mV of 8.45 V in the worst case"),
    ]),
    # It may limit at 1.85 A, where 8.55 V less the 0.1 ohm are 8.365 V.
    "the source gives way": ("bus-collapse", lambda: judged({"power": "40W"}, trigger={"request": "pps 9V 2A"}), [
        ("fail", "source", 40.0, 15.48, "W",
         "the loads want 40 W, but the charger can give only 15.5 W: the voltage collapses; "
         "all loads together can have 15.5 W"),
    ]),
    "a wire gives way": ("bus-collapse", lambda: judged({"power": "40W"}, wire={"awg": 30, "length": "5m"}), [
        ("fail", "x/wire", 40.0, 5.398, "W",
         "the loads want 40 W, but the wire can pass only 5.4 W: the voltage collapses; "
         "all loads together can have 5.24 W"),
    ]),
    "no PD asked for": ("cable-no-pd", lambda: judged("0.4A", trigger={"request": "none"}, cable={"kind": "A-C"}), []),
}  # fmt: skip
OTHER_ADVICE = {"perhaps more": "Capture it again with a 5 A cable to see all that it has."}


def digits(value):
    """A figure to the four digits that are told."""
    return None if value is None else float(f"{value:.4g}")


@pytest.mark.parametrize("name", FOUND)
def test_what_is_said(name):
    rule, make, expected = FOUND[name]
    found = [each for each in make().findings if each.rule == rule]
    told = [(each.level, each.subject, digits(each.value), digits(each.limit), each.unit, each.text) for each in found]
    assert told == expected
    for each in found:
        assert each.advice == OTHER_ADVICE.get(name, RULES[rule].advice)
        assert str(each.origin) == (TIMERS if each.unit == "s" else str(RULES[rule].origin))


def boxes(rule, *converters):
    """What a rule finds on a plain load and some boxes of 4 W beside it, by the source."""
    listed = [
        {"name": f"b{at}", "load": {"power": "4W"}, "converter": BUCK_BOOST | each}
        for at, each in enumerate(converters)
    ]
    rig = Rig.model_validate(
        {"trigger": {"request": "9V", "rating": "5A"}, "branch": [{"name": "plain", "load": "1W"}, *listed]}
    )
    return lambda source: list(
        RULES[rule].findings(Case(rig, Source.model_validate({"id": "s"} | PLAIN | source), judged().case.cable))
    )


FOUR = ({"start": "5.6V"}, {"input": "5.5V-28V"}, {"start": "5.5V"}, {"input": "5.51V-28V"})


def test_on_the_five_volts_each_converter_that_waits_is_told_of():
    found = boxes("converter-before-contract", *FOUR)({})
    assert [(each.subject, each.value, each.limit, each.unit, each.text) for each in found] == [
        ("b0", 5.5, 5.6, "V", "off on the 5 V before the contract: it needs 5.6 V"),
        ("b3", 5.5, 5.51, "V", "off on the 5 V before the contract: it needs 5.51 V"),
    ]
    assert [each.advice for each in found] == ["Normal: it starts when the contract comes."] * 2
    assert [str(each.origin)[:6] for each in found] == ["PD R3."] * 2


def through(ohms, volts, watts):
    """The current of a power behind a resistance: i (v - i r) = p, the lesser root [any circuits textbook]."""
    return (volts - (volts * volts - 4 * ohms * watts) ** 0.5) / (2 * ohms)


def test_on_the_five_volts_what_starts_is_added_up():
    # Both start at 5.5 V; what the plain load takes before 9 V nobody states: it counts where the charger's 5 V do not.
    [perhaps] = boxes("start-overload", *FOUR)({})
    assert (perhaps.level, perhaps.subject, perhaps.limit, perhaps.unit) == ("note", "b1", 0.5, "A")
    assert perhaps.value == pytest.approx(through(0.1, 5.5, 1 + 2 * 4 / 0.9), rel=1e-6)
    assert perhaps.text.startswith("may start on the 5 V before the contract, at 5.5 V, and then plain, b2 and b1 ")
    [surely] = boxes("start-overload", *FOUR)({"typec_current": "1.5A"})
    assert (surely.level, surely.subject, surely.limit) == ("fail", "b1", 1.5)
    assert surely.value == pytest.approx(through(0.1, 5.5, 2 * 4 / 0.9), rel=1e-6)
    assert boxes("start-overload", *FOUR)({"typec_current": "3A"}) == []
    # One of them wants 1.18 A at 4.5 V.
    [one] = boxes("start-overload", {"input": "4.5V-28V"})({})
    assert (one.level, one.value) == ("note", pytest.approx(through(0.1, 4.75, 1 + 4 / 0.9), rel=1e-6))
    assert boxes("start-overload", {"input": "4.5V-28V"})({"typec_current": "1.5A"}) == []


def test_supplies_are_offers_in_volts_amperes_and_watts():
    offers = "5V 3A, 9V 2.22A, 15V 3A, 20V 5A, 28V 5A; PPS 5-21V 5A; AVS 9-20V 5A; AVS 15-28V 140W"
    listed = [tuple(each) for each in supplies(Source(id="s", offers=offers).offers)]
    assert listed == [
        ("fixed", 5.0, 5.0, 3.0, None, None),
        ("fixed", 9.0, 9.0, 2.22, None, None),
        ("fixed", 15.0, 15.0, 3.0, None, None),
        ("fixed", 20.0, 20.0, 5.0, None, None),
        ("spr-avs", 9.0, 20.0, 5.0, None, 5.0),
        ("pps", 5.0, 21.0, 5.0, None, None),
        ("fixed", 28.0, 28.0, 5.0, None, None),
        ("epr-avs", 15.0, 28.0, None, 140.0, None),
    ]
    # A gap and a reserved word are no supplies; a battery has watts.
    words = Source(id="s", offers=(0x0801912C, 0x4B41912C, 0xF0000000)).offers
    assert [(each.kind, each.power_w) for each in supplies(words)] == [("fixed", None), ("battery", 75.0)]


@pytest.mark.parametrize(("captured_over", "most_w"), [(None, 240), ("3A", 240), ("5A", 60)])
def test_what_stops_at_3_a_may_be_the_cable_s_doing_unless_a_5_a_one_was_there(captured_over, most_w):
    source = Source.model_validate(
        {"id": "s", "offers": "5V 3A, 9V 3A, 15V 3A, 20V 3A", "captured_over": captured_over}
    )
    reading = power_reading(source)
    assert (reading.pdp_w, reading.most_w) == (60, most_w)
