"""Every rule broken once and kept once, by rigs that differ in what the rule is about; none is left out."""

import subprocess
import sys
from pathlib import Path

import pytest

import pdcheck.parts
from pdcheck.parts.cable import Cable
from pdcheck.parts.rig import Rig
from pdcheck.parts.source import Source
from pdcheck.records import plain
from pdcheck.verdict.finding import LEVELS, VERDICTS, Finding
from pdcheck.verdict.judge import judge
from pdcheck.verdict.rules.every import RIG_RULES
from tests.patience import PATIENCE_S

RULES = {rule.id: rule for rule in RIG_RULES}
CABLE = {"kind": "C-C", "rating": "5A", "loop": "100mOhm"}
LONG_CABLE = CABLE | {"inductance": "5uH"}
EPR_CABLE = {"kind": "EPR", "loop": "100mOhm"}
BUCK_BOOST = {"kind": "buck-boost", "input": "4.5V-28V", "output": "9V", "efficiency": 0.9, "bulk": "5uF"}
WIRE = {"awg": 20, "length": "0.3m"}
PACK = {"cells": 2, "end": "4.2V", "current": "500mA", "efficiency": "90%"}
LEDS = {"count": 2, "vf": "3V", "current": "100mA"}
# A source that offers what a PDP of 45 W asks for.
OFFERS = "5V 3A, 9V 3A, 15V 3A; AVS 9-15V 3A; PPS 5-16V 3A"


def judged(
    load="1A",
    *,
    trigger=None,
    source=None,
    cable=None,
    converter=None,
    wire=None,
    lead=None,
    fuse=None,
    tolerance=None,
    box=None,
):
    """A rig of one branch ``x``, 9 V at 1 A unless said, that breaks no rule by itself."""
    branch = {"name": "x", "load": {"current": load} if isinstance(load, str) else load}
    parts = {"converter": converter, "wire": wire, "lead": lead, "fuse": fuse}
    branch |= {key: value for key, value in parts.items() if value}
    rig = {"trigger": {"request": "9V", "rating": "5A"} | (trigger or {}), "branch": [branch]}
    if tolerance:
        rig["tolerance"] = tolerance
    if box:
        rig["box"] = box
    made = (
        source if isinstance(source, Source) else Source.model_validate({"id": "s", "offers": OFFERS} | (source or {}))
    )
    over = cable if isinstance(cable, Cable) else Cable.model_validate({"id": "c"} | (cable or CABLE))
    return judge(Rig.model_validate(rig), made, over)


def with_converter(load="1A", **changes):
    keep = {key: changes.pop(key) for key in ("trigger", "source", "cable", "tolerance", "box") if key in changes}
    return judged(load, converter=BUCK_BOOST | changes, **keep)


def beside_a_heater(start):
    module = {"name": "x", "load": "1W", "converter": BUCK_BOOST | {"start": start, "stop": "6V"}}
    heater = {"name": "heater", "load": {"resistance": "4.5ohm", "voltage": "5V-12V"}}
    rig = {"trigger": {"request": "9V", "rating": "5A"}, "branch": [heater, module]}
    return judge(Rig.model_validate(rig), Source("5V 3A, 9V 3A"), Cable.model_validate({"id": "c"} | CABLE))


def plugged_in_live(most):
    box = {"name": "x", "live": True, "wire": WIRE, "load": "1W", "converter": BUCK_BOOST | {"input": f"6V-{most}"}}
    rig = {"trigger": {"request": "9V", "rating": "5A"}, "branch": [box]}
    return judge(Rig.model_validate(rig), Source("5V 3A, 9V 3A"), Cable.model_validate({"id": "c"} | CABLE))


def swinging(bulk):
    changed = {"bulk": bulk, "input": "6V-28V"}
    return judged({"power": "18W"}, wire=WIRE | {"inductance": "2uH"}, converter=BUCK_BOOST | changed)


def marked(*words):
    return Cable.model_validate({"id": "c", "words": " ".join(f"0x{word:08X}" for word in words), "loop": "100mOhm"})


# Rule: one rig that breaks it, one as like it as can be that does not.
CASES = {
    # Contract
    "contract-fallback": (lambda: judged(trigger={"request": "12V"}), lambda: judged(trigger={"request": "15V"})),
    "contract-off": (
        lambda: judged(trigger={"request": "12V", "fallback": "none"}),
        lambda: judged(trigger={"request": "12V", "fallback": "5V"}),
    ),
    "contract-mismatch": (
        lambda: judged(trigger={"request": "9V 3.5A"}),
        lambda: judged(trigger={"request": "9V 3A"}),
    ),
    "typec-current-unknown": (
        lambda: judged("0.3A", trigger={"request": "none"}),
        lambda: judged("0.3A", trigger={"request": "none"}, source={"typec_current": "1.5A"}),
    ),
    "source-current": (lambda: judged("3.01A"), lambda: judged("3A")),
    "source-in-hand": (lambda: judged("2.41A"), lambda: judged("2.4A")),
    "pps-current-limit": (
        lambda: judged({"resistance": "4ohm"}, trigger={"request": "pps 9V 2A"}),
        lambda: judged({"resistance": "6ohm"}, trigger={"request": "pps 9V 2A"}),
    ),
    # 5 V through 0.5 ohm passes 12.5 W at most, 11.3 W at 5 % less.
    "bus-collapse": (
        lambda: judged({"power": "11.5W"}, trigger={"request": "5V"}, cable=CABLE | {"loop": "500mOhm"}),
        lambda: judged({"power": "11.2W"}, trigger={"request": "5V"}, cable=CABLE | {"loop": "500mOhm"}),
    ),
    # 16 W wants 3.2 A of 5 V where the converter starts and 2 A are to be had.
    "start-latch": (
        lambda: with_converter({"power": "15W"}, input="5V-28V", trigger={"request": "pps 15V 2A"}),
        lambda: with_converter({"power": "15W"}, input="5V-28V", start="12V", trigger={"request": "pps 15V 2A"}),
    ),
    # Cable, connector, trigger
    "cable-current": (
        lambda: judged("3.01A", cable=CABLE | {"rating": "3A"}),
        lambda: judged("3A", cable=CABLE | {"rating": "3A"}),
    ),
    "cable-voltage": (
        lambda: judged(trigger={"request": "15V"}, cable=CABLE | {"rating": "3A", "voltage": "9V"}),
        lambda: judged(trigger={"request": "9V"}, cable=CABLE | {"rating": "3A", "voltage": "9V"}),
    ),
    "cable-no-pd": (lambda: judged("0.1A", cable={"kind": "A-C"}), lambda: judged("0.1A", cable={"kind": "C-C"})),
    "cable-bounds-offer": (
        lambda: judged(source={"offers": "5V 3A, 9V 5A"}, cable={"kind": "C-C"}),
        lambda: judged(source={"offers": "5V 3A, 9V 3A"}, cable={"kind": "C-C"}),
    ),
    "cable-marker-missing": (lambda: judged(cable={"kind": "C-C"}), lambda: judged(cable=CABLE)),
    "cable-marker-odd": (
        lambda: judged(cable=marked(0xFF00A841, 0x1860EE01, 0, 0x00050100, 0x100A2620)),
        lambda: judged(cable=marked(0xFF00A841, 0x1860EE01, 0, 0x00020100, 0x100A2643)),
    ),
    "cable-loop": (
        lambda: judged(cable=CABLE | {"loop": "151mOhm"}),
        lambda: judged(cable=CABLE | {"loop": "150mOhm"}),
    ),
    "cable-loop-assumed": (lambda: judged(cable={"kind": "C-C", "rating": "5A"}), lambda: judged(cable=CABLE)),
    "connector-current": (
        lambda: judged("5.01A", source={"offers": "5V 3A, 9V 6A"}),
        lambda: judged("5A", source={"offers": "5V 3A, 9V 6A"}),
    ),
    "trigger-current": (
        lambda: judged("2.01A", trigger={"rating": "2A"}),
        lambda: judged("2A", trigger={"rating": "2A"}),
    ),
    "trigger-voltage": (
        lambda: judged(trigger={"request": "15V", "voltage_rating": "12V"}),
        lambda: judged(trigger={"request": "15V", "voltage_rating": "15V"}),
    ),
    "trigger-rating-unknown": (
        lambda: judged(trigger={"rating": None}),
        lambda: judged(trigger={"rating": "3A"}),
    ),
    # Converters
    "converter-input-high": (
        lambda: with_converter(input="4.5V-9.4V"),
        lambda: with_converter(input="4.5V-9.45V"),
    ),
    "converter-output-over": (
        lambda: with_converter(kind="boost", output="9.4V"),
        lambda: with_converter(kind="boost", output="9.45V"),
    ),
    "converter-input-low": (
        lambda: with_converter(input="8.5V-28V"),
        lambda: with_converter(input="8V-28V"),
    ),
    "converter-start": (lambda: with_converter(start="8.6V"), lambda: with_converter(start="8.55V")),
    "converter-input-current": (
        lambda: with_converter(input_limit="1A"),
        lambda: with_converter(input_limit="1.5A"),
    ),
    "converter-input-power": (
        lambda: with_converter(input_power="9.9W"),
        lambda: with_converter(input_power="10W"),
    ),
    "converter-output-current": (
        lambda: with_converter("1.01A", output_limit="1A"),
        lambda: with_converter("1A", output_limit="1A"),
    ),
    "converter-output-power": (
        lambda: with_converter("1.01A", power_limit="9W"),
        lambda: with_converter("1A", power_limit="9W"),
    ),
    "converter-efficiency-range": (
        lambda: with_converter(efficiency={"input": [5, 7], "output": [0.1, 2], "values": [[0.9, 0.9], [0.9, 0.9]]}),
        lambda: with_converter(efficiency={"input": [5, 9.5], "output": [0.1, 2], "values": [[0.9, 0.9], [0.9, 0.9]]}),
    ),
    "converter-in-hand": (
        lambda: with_converter("0.81A", output_limit="1A"),
        lambda: with_converter("0.8A", output_limit="1A"),
    ),
    "converter-input-transient": (
        lambda: with_converter(input="4.5V-9.9V"),
        lambda: with_converter(input="4.5V-9.95V"),
    ),
    "converter-before-contract": (
        lambda: with_converter("0.1A", input="6V-28V"),
        lambda: with_converter("0.1A", input="5V-28V"),
    ),
    # The first second. At 4.75 V 12 W behind 90 % want 2.81 A, 14 W want 3.3 A of the 3 A that are there.
    "start-overload": (
        lambda: with_converter({"power": "14W"}, trigger={"request": "15V"}),
        lambda: with_converter({"power": "12W"}, trigger={"request": "15V"}, source={"typec_current": "3A"}),
    ),
    # 4.5 ohm through 0.1 ohm leave 8.36 V of 8.55 V.
    "start-blocked": (lambda: beside_a_heater("8.4V"), lambda: beside_a_heater("8.3V")),
    # 8.05 V less the drop of 0.1 ohm in a dip; 5 uF hold 3.3 W for some microseconds.
    "dip-cuts-off": (
        lambda: with_converter("0.33A", start="8.3V", stop="8.1V"),
        lambda: with_converter("0.33A", start="8.3V", stop="7.9V"),
    ),
    # 9.45 V ring up to 18 V: 0.2 uH, 9 mOhm and 5 uF have a damping ratio of 0.03.
    "live-ring": (lambda: plugged_in_live("17V"), lambda: plugged_in_live("19V")),
    # 2 uH and 2 uF against 20 W: at 9 V it takes 247 mOhm and more.
    "input-swings": (lambda: swinging("2uF"), lambda: swinging("100uF")),
    "bus-swings": (
        lambda: with_converter({"power": "10W"}, bulk="1uF", trigger={"bulk": "1uF"}, cable=LONG_CABLE),
        lambda: with_converter({"power": "10W"}, bulk="100uF", trigger={"bulk": "1uF"}, cable=LONG_CABLE),
    ),
    "converter-unknown": (lambda: with_converter(efficiency=None), lambda: with_converter(efficiency=0.9)),
    # Loads, wires, capacitance
    "load-voltage-high": (
        lambda: judged({"current": "1A", "voltage": "5V-9.4V"}),
        lambda: judged({"current": "1A", "voltage": "5V-9.45V"}),
    ),
    "load-voltage-low": (
        lambda: judged({"current": "1A", "voltage": "8.46V-12V"}),
        lambda: judged({"current": "1A", "voltage": "8.45V-12V"}),
    ),
    "wire-current": (
        lambda: judged("2.5A", wire={"awg": 24, "length": "0.1m"}),
        lambda: judged("2.2A", wire={"awg": 24, "length": "0.1m"}),
    ),
    # 20 AWG rises by 1.33 K/A2 of cool copper: 2.9 A in air of 58 degrees C make 70.9, 2.7 A 69.2.
    "wire-insulation": (
        lambda: judged("2.9A", wire=WIRE, box={"air": "58C"}),
        lambda: judged("2.7A", wire=WIRE, box={"air": "58C"}),
    ),
    # 100 mOhm turn half a watt into heat at 2.236 A.
    "contact-heat": (
        lambda: judged("2.24A", wire=WIRE | {"contacts": "100mOhm"}),
        lambda: judged("2.23A", wire=WIRE | {"contacts": "100mOhm"}),
    ),
    # A ninth of what it gives, 9 W at 1 A, is lost: 1 W.
    "converter-heat": (lambda: with_converter(heat_limit="0.99W"), lambda: with_converter(heat_limit="1.01W")),
    "converter-temperature": (lambda: with_converter(rise="75.5K/W"), lambda: with_converter(rise="74.9K/W")),
    "converter-derated": (
        lambda: with_converter(derate={"air": ["40C", "60C"], "output": ["2A", "1A"]}, box={"air": "60.5C"}),
        lambda: with_converter(derate={"air": ["40C", "60C"], "output": ["2A", "1A"]}, box={"air": "60C"}),
    ),
    # 1 W in 9.4 dm2 that sheds 6 W/(m2 K) at worst: 23 K above 25 degrees C; 48 are too much for metal.
    "box-touch": (
        lambda: with_converter(box={"size": "50mm x 40mm x 18mm", "material": "painted metal", "air": "25C"}),
        lambda: with_converter(box={"size": "50mm x 40mm x 18mm", "material": "plastic", "air": "25C"}),
    ),
    # 9 W at 75 % lose 3 W, at 30 K/W 90 K above 25 degrees C.
    "converter-may-be-hot": (lambda: with_converter(efficiency=0.75), lambda: with_converter(efficiency=0.79)),
    # Three quarters of 2 A; a wire of AWG 24 that carries 2.26 A.
    "fuse-current": (lambda: judged("1.51A", fuse="2A"), lambda: judged("1.5A", fuse="2A")),
    "lithium-pack": (lambda: judged({"pack": PACK, "voltage": "4V-24V"}), lambda: judged("1A")),
    "pack-end": (
        lambda: judged({"pack": PACK | {"end": "4.46V"}, "voltage": "4V-24V"}),
        lambda: judged({"pack": PACK | {"end": "4.2V"}, "voltage": "4V-24V"}),
    ),
    # 9 V less 5 % and less 0.1 ohm at 0.55 A is 8.495 V; the full pack has 8.4 V.
    "pack-headroom": (
        lambda: judged({"pack": PACK | {"headroom": "0.1V"}}),
        lambda: judged({"pack": PACK | {"headroom": "0V"}}),
    ),
    "fuse-bus-wire": (
        lambda: judged(wire={"awg": 24, "length": "0.1m"}, trigger={"fuse": "2.27A"}),
        lambda: judged(wire={"awg": 24, "length": "0.1m"}, trigger={"fuse": "2.26A"}),
    ),
    "fuse-wire": (
        lambda: judged(wire={"awg": 24, "length": "0.1m"}, fuse="2.27A"),
        lambda: judged(wire={"awg": 24, "length": "0.1m"}, fuse="2.26A"),
    ),
    "wire-guessed": (lambda: judged("0.5A", wire="?"), lambda: judged("0.5A", wire=WIRE)),
    "wire-drop": (
        lambda: judged(wire={"awg": 20, "length": "7m"}),
        lambda: judged(wire={"awg": 20, "length": "6m"}),
    ),
    "led-headroom": (
        lambda: judged({"led": LEDS | {"count": 3, "headroom": "0.5V"}}),
        lambda: judged({"led": LEDS | {"headroom": "0.5V"}}),
    ),
    "load-weak": (
        lambda: judged({"resistance": "9ohm", "power": "20W"}),
        lambda: judged({"resistance": "9ohm", "power": "9W"}),
    ),
    "load-dim": (
        lambda: judged({"resistance": "9ohm", "power": "11W"}),
        lambda: judged({"resistance": "9ohm", "power": "9W"}),
    ),
    "load-burns": (
        lambda: judged({"resistance": "9ohm", "power": "6W"}),
        lambda: judged({"resistance": "9ohm", "power": "9W"}),
    ),
    "load-strong": (
        lambda: judged({"resistance": "9ohm", "power": "7.5W"}),
        lambda: judged({"resistance": "9ohm", "power": "9W"}),
    ),
    "led-dark": (
        lambda: judged({"led": LEDS | {"driver": "resistor", "resistor": "70ohm"}}),
        lambda: judged({"led": LEDS | {"driver": "resistor", "resistor": "24ohm"}}),
    ),
    "led-dim": (
        lambda: judged({"led": LEDS | {"driver": "resistor", "resistor": "33ohm"}}),
        lambda: judged({"led": LEDS | {"driver": "resistor", "resistor": "24ohm"}}),
    ),
    "led-current": (
        lambda: judged({"led": LEDS | {"driver": "resistor", "resistor": "22ohm"}}),
        lambda: judged({"led": LEDS | {"driver": "resistor", "resistor": "33ohm"}}),
    ),
    "led-before-contract": (
        lambda: judged({"led": LEDS}),
        lambda: judged({"led": LEDS | {"count": 1}}),
    ),
    "led-waste": (
        lambda: judged({"led": LEDS | {"driver": "resistor"}}, trigger={"request": "9V"}),
        lambda: judged({"led": LEDS | {"vf": "3.2V", "driver": "resistor"}}, trigger={"request": "9V"}),
    ),
    "bulk-contract": (lambda: with_converter(bulk="101uF"), lambda: with_converter(bulk="100uF")),
    "bulk-attach": (lambda: with_converter(bulk="10.1uF"), lambda: with_converter(bulk="10uF")),
    "start-assumed": (
        lambda: with_converter(start="5V", stop="4.5V", soft_start="3ms", esr="5mOhm"),
        lambda: with_converter(start="5V", stop="4.5V", soft_start="3ms", esr="5mOhm", output_bulk="10uF"),
    ),
    "bulk-unknown": (lambda: with_converter(bulk=None), lambda: with_converter(bulk="5uF")),
    # The source's own behaviour and list
    "source-behaviour": (
        lambda: judged(source={"offers": "5V 3A, 9V 3A", "behaviour": {"reject": "always"}}),
        lambda: judged(source={"offers": "5V 3A, 9V 3A", "behaviour": {"reject": 2, "ps_rdy": "440ms"}}),
    ),
    "source-sleeps": (
        lambda: judged("50mA", source={"sleeps_below": "60mA"}),
        lambda: judged("60mA", source={"sleeps_below": "60mA"}),
    ),
    "source-doubtful": (
        lambda: judged(source=doubtful("3c21dcc048c6e7c7")),
        lambda: judged(source=doubtful("3c21dcc048c6e7c6")),
    ),
    "source-offers-assumed": (
        lambda: judged(source={"offers": "65W"}),
        lambda: judged(source={"offers": "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"}),
    ),
    "source-capture-cable": (
        lambda: judged(source={"offers": "5V 3A, 9V 3A, 15V 3A, 20V 5A", "captured_over": "3A"}),
        lambda: judged(source={"offers": "5V 3A, 9V 3A, 15V 3A, 20V 5A", "captured_over": "5A"}),
    ),
    "source-shares": (
        lambda: judged(source=Source(id="s", ports={"C1": "45W", "C2": "30W", "C1+C2": "30W+15W"})),
        lambda: judged(source=Source(id="s", ports={"C1": "45W"})),
    ),
    "source-list-odd": (
        lambda: judged(source={"offers": (0x0801912C, 0x0004B12C, 0x0002D12C)}),
        lambda: judged(source={"offers": (0x0801912C, 0x0002D12C, 0x0004B12C)}),
    ),
    "source-power-rules": (
        lambda: judged(source={"offers": "5V 3A, 9V 3A, 12V 3A"}),
        judged,
    ),
}


def doubtful(tail):
    capture = f"a1612c9101082cd1020013c10300dcb00400a5400600{tail}"
    return Source.model_validate({"id": "s", "hex": capture})


@pytest.mark.parametrize("rule", CASES)
def test_the_rule_is_broken(rule):
    found = [finding for finding in CASES[rule][0]().findings if finding.rule == rule]
    assert found, [finding.rule for finding in CASES[rule][0]().findings]
    for finding in found:
        assert finding.level in LEVELS and finding.text and finding.subject and str(finding.origin)
        assert finding.advice or finding.level == "note"
        # A violation is never rounded to its limit in words.
        if finding.value is not None and finding.limit is not None and finding.level in ("stop", "fail"):
            assert finding.value != finding.limit


@pytest.mark.parametrize("rule", CASES)
def test_the_rule_is_kept(rule):
    found = [finding for finding in CASES[rule][1]().findings if finding.rule == rule]
    assert not found, found


@pytest.mark.parametrize("rule", CASES)
def test_the_verdict_follows_the_gravest_finding(rule):
    for make in CASES[rule]:
        judgement = make()
        levels = [finding.level for finding in judgement.findings]
        assert levels == sorted(levels, key=LEVELS.index)
        assert judgement.verdict == (VERDICTS[levels[0]] if levels else "runs")
        assert judgement.works == (judgement.verdict in ("runs", "limited"))


def test_every_rule_is_covered():
    assert set(CASES) == set(RULES), "CASES above has a case that breaks each rule and one that does not"


def test_the_plain_rig_breaks_no_rule():
    plain = judged(source={"typec_current": "3A"})
    assert [finding.rule for finding in plain.findings] == []
    assert plain.verdict == "runs"


def test_rules_lists_each_once_with_level_and_origin(pdcheck):
    document = pdcheck("rules", "--json").json
    assert document["schema"] == "pdcheck/rules/1"
    listed = {row["rule"]: row for row in document["rules"]}
    assert len(listed) == len(document["rules"]) and set(RULES) <= set(listed)
    for name, row in listed.items():
        assert row["level"] in LEVELS and row["origin"] and row["title"] and row["advice"], name
    shown = pdcheck("rules").out
    assert all(name in shown for name in RULES)


@pytest.mark.parametrize("rule", sorted(CASES))
def test_a_finding_in_json_has_all_its_keys(rule):
    for finding in CASES[rule][0]().findings:
        row = plain(finding, Finding)
        assert list(row) == ["rule", "level", "subject", "value", "limit", "unit", "origin", "text", "advice"]
        assert all(mark in row["origin"] for mark in "[]") or "no source" in row["origin"], row["origin"]


def test_unknown_cables_are_counted_at_3_a_and_said():
    found = judged("3.01A", cable=Cable("C-C", id="unknown")).findings
    assert {"cable-current", "cable-marker-missing", "cable-loop-assumed"} <= {finding.rule for finding in found}


def test_a_current_that_is_stated_for_20_v_is_not_counted_on_5_v():
    assert "start-overload" not in [
        finding.rule
        for finding in judged({"current": "3.2A", "voltage": "12V-30V"}, source={"offers": "5V 3A, 15V 3.25A"}).findings
    ]
    assert "start-overload" in [
        finding.rule
        for finding in judged({"current": "3.2A", "voltage": "5V-30V"}, source={"offers": "5V 3A, 15V 3.25A"}).findings
    ]


@pytest.mark.parametrize("backwards", [False, True])
def test_the_order_of_the_rules_is_not_that_in_which_files_are_read(backwards: bool) -> None:
    parts = sorted(f"pdcheck.parts.{path.stem}" for path in Path(pdcheck.parts.__path__[0]).glob("[a-z]*.py"))
    read = f"""
from importlib import import_module
for name in sorted({parts!r}, reverse={backwards}):
    import_module(name)
from pdcheck.verdict.rules.every import RIG_RULES
print(*(rule.id for rule in RIG_RULES))
"""
    done = subprocess.run([sys.executable, "-c", read], capture_output=True, text=True, check=True, timeout=PATIENCE_S)
    assert done.stdout.split() == [rule.id for rule in RIG_RULES]
