"""Triggers, converters, wires, loads: what they read, what they work out, what they refuse."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.facts import copper
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.fields import Part
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.led import Led
from pdcheck.parts.request import (
    AvsRequest,
    FixedRequest,
    HighestRequest,
    NoRequest,
    PowerRequest,
    PpsRequest,
    PreferenceRequest,
    Request,
    parse_request,
    request_text,
)
from pdcheck.parts.rig import Rig, Tolerance
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple

REQUESTS = [
    ("15V", FixedRequest(15.0)),
    ("15 V", FixedRequest(15.0)),
    (20, FixedRequest(20.0)),
    (13.2, FixedRequest(13.2)),
    ("20", FixedRequest(20.0)),
    ("15V 2A", FixedRequest(15.0, 2.0)),
    ("15 V 2 A", FixedRequest(15.0, 2.0)),
    ("15V@2A", FixedRequest(15.0, 2.0)),
    ("highest", HighestRequest()),
    ("Power", PowerRequest()),
    ("none", NoRequest()),
    ("pps 13.2V 3A", PpsRequest(13.2, 3.0)),
    ("PPS 13.2 V", PpsRequest(13.2)),
    ("avs 12V", AvsRequest(12.0)),
    ("prefer 20V 15V 9V", PreferenceRequest((20.0, 15.0, 9.0))),
    ("prefer 20V, 15V, 9V", PreferenceRequest((20.0, 15.0, 9.0))),
    ("prefer 20V > 15V > 9V", PreferenceRequest((20.0, 15.0, 9.0))),
]


@pytest.mark.parametrize(("text", "request_"), REQUESTS)
def test_request(text: Any, request_: Request) -> None:
    found = parse_request(text)
    assert found == request_
    assert type(found) is type(request_)
    assert parse_request(request_text(found)) == found


def test_kinds_of_request_are_never_equal() -> None:
    assert HighestRequest() != PowerRequest()
    assert FixedRequest(12.0, 3.0) != PpsRequest(12.0, 3.0)


NO_REQUESTS = [
    *("", "x", "higest", "15V 2A 3A", "15V 0A", "pps", "pps 2A", "prefer", "prefer 9V 9V", "highest 5V", "49V", "0V"),
    *("-5V", "nan", True, None, [15], "9" * 1000),
]


@pytest.mark.parametrize("text", NO_REQUESTS, ids=lambda x: repr(x)[:20])
def test_no_request(text: Any) -> None:
    with pytest.raises(InputError):
        parse_request(text)


def test_trigger() -> None:
    trigger = Trigger(request="15V")
    assert (trigger.fallback, trigger.resistance, trigger.rating_a) == ("next-lower", Triple(0.0, 0.0, 0.0), None)
    for text, fallback in (("5V", "5V"), ("5 v", "5V"), (5, "5V"), ("next lower", "next-lower"), ("None", "none")):
        assert Trigger(request="15V", fallback=text).fallback == fallback
    rated = Trigger(request="15V", rating="5A", voltage_rating="24V", bulk="10uF", resistance="25mOhm")
    assert (rated.rating_a, rated.rating_v, rated.bulk_f, rated.resistance.max) == (5.0, 24.0, 1e-5, 0.025)


def mistake_of(model: type[Part], said: Any) -> str:
    with pytest.raises(InputError) as caught:
        model.model_validate(said)
    return str(caught.value)


def test_trigger_mistakes() -> None:
    assert "expected next-lower (of:" in mistake_of(Trigger, {"request": "15V", "fallback": "next-lowest"})
    assert "is missing" in mistake_of(Trigger, {})
    assert "zero" in mistake_of(Trigger, {"request": "15V", "rating": 0})


def test_wire_counts_its_copper_twice_and_its_contacts_once() -> None:
    wire = Wire(awg=20, length="0.4m", contacts="10mOhm")
    # AWG 20: 10.15 ohm per 1000 ft at 20 degrees C [handbook]
    assert wire.resistance_ohm() == pytest.approx(2 * 0.4 * 10.15 / 304.8 + 0.010, rel=1e-3)
    assert wire.resistance_ohm(70.0) == pytest.approx((wire.resistance_ohm() - 0.010) * 1.1965 + 0.010)
    assert Wire(mm2="0.75", length="1m").resistance_ohm() == pytest.approx(2 * 0.026)
    assert wire.resistance_ohm() == Wire(awg="AWG20", length_m=0.4, contacts_ohm=0.01).resistance_ohm()


def test_wire_that_knows_its_temperature_keeps_to_it() -> None:
    wire = Wire(awg=20, length="1m", temperature="60C")
    assert wire.resistance_ohm(20.0) == wire.resistance_ohm(-10.0) == Wire(awg=20, length=1).resistance_ohm(60.0)
    assert wire.ampacity_a() == Wire(awg=20, length=1).ampacity_a()


def test_stranded_wire_resists_a_little_more() -> None:
    plain, stranded = Wire(awg=20, length=1), Wire(awg=20, length=1, stranded=True)
    assert stranded.resistance_ohm() / plain.resistance_ohm() == pytest.approx(copper.STRANDED_FACTOR.value)
    assert Wire(mm2=1, length=1, stranded=True).resistance_ohm() == Wire(mm2=1, length=1).resistance_ohm()


def test_wire_mistakes() -> None:
    assert "has no size" in mistake_of(Wire, {"length": "1m"})
    assert "has two sizes" in mistake_of(Wire, {"length": "1m", "awg": 20, "mm2": 1})
    for awg in (41, -1, 20.5, "20mm", True, "AWG"):
        assert "is not a wire gauge" in mistake_of(Wire, {"length": "1m", "awg": awg})
    assert "negative" in mistake_of(Wire, {"length": "-1m", "awg": 20})
    assert "out of range" in mistake_of(Wire, {"length": 1e300, "awg": 20})
    assert "out of range" in mistake_of(Wire, {"length": "1m", "mm2": 0.0001})


def test_converter_needs_its_input_where_its_kind_says() -> None:
    buck = Converter(kind="buck", input="4.5V-28V", output="9V", dropout="1V")
    assert (buck.minimum_input_v(), buck.maximum_input_v()) == (10.0, 28.0)
    assert buck.minimum_input_v(3.0) == 4.5
    boost = Converter(kind="step-up", input="3V-30V", output="24V")
    assert (boost.minimum_input_v(), boost.maximum_input_v()) == (3.0, 24.0)
    both = Converter(kind="buck-boost", input="6V-36V", output="12V")
    assert (both.minimum_input_v(), both.maximum_input_v()) == (6.0, 36.0)
    unknown = Converter(kind="buck-boost", output="12V")
    assert (unknown.minimum_input_v(), unknown.maximum_input_v(), unknown.survives_v) == (0.0, None, None)
    assert Converter(kind="boost", output="12V").maximum_input_v() == 12.0


def test_efficiency_that_nobody_stated_is_said_to_be_assumed() -> None:
    unknown = Converter(kind="buck", output="5V")
    assert unknown.efficiency_at(12.0, 1.0) == 0.85
    assert unknown.assumed == ("no efficiency stated: taken as 85 %",)
    stated = Converter(kind="buck", output="5V", efficiency="92%")
    assert (stated.efficiency, stated.assumed) == (0.92, ())


TABLE = EfficiencyTable(input=["5V", "12V", "20V"], output=["0.5A", "2A"], values=[[0.8, 0.9], [0.9, 0.94], [0.7, 0.6]])


def test_table_gives_its_own_points_back_and_is_linear_between() -> None:
    for row, volts in enumerate(TABLE.input_v):
        for column, amps in enumerate(TABLE.output_a):
            assert TABLE.at(volts, amps) == TABLE.values[row][column]
    assert TABLE.at(8.5, 0.5) == pytest.approx(0.85)
    assert TABLE.at(5.0, 1.25) == pytest.approx(0.85)
    assert TABLE.at(8.5, 1.25) == pytest.approx((0.8 + 0.9 + 0.9 + 0.94) / 4)


@given(st.floats(0, 100), st.floats(0, 100))
def test_table_never_leaves_its_own_values(volts: float, amps: float) -> None:
    flat = [value for row in TABLE.values for value in row]
    assert min(flat) <= TABLE.at(volts, amps) <= max(flat)
    inside = min(max(volts, 5.0), 20.0), min(max(amps, 0.5), 2.0)
    assert TABLE.at(volts, amps) == TABLE.at(*inside)


def test_table_agrees_with_an_independent_interpolator() -> None:
    interpolate = pytest.importorskip("scipy.interpolate")
    grid = interpolate.RegularGridInterpolator((TABLE.input_v, TABLE.output_a), TABLE.values)
    for step in range(50):
        volts, amps = 5 + step * 0.3, 0.5 + step * 0.03
        assert TABLE.at(volts, amps) == pytest.approx(float(grid((volts, amps))))


def test_table_mistakes() -> None:
    good = {"input": [5, 12], "output": [1], "values": [[0.9], [0.8]]}
    assert EfficiencyTable.model_validate(good).at(5, 1) == 0.9
    assert "do not rise" in mistake_of(EfficiencyTable, good | {"input": [12, 5]})
    assert "do not rise" in mistake_of(EfficiencyTable, good | {"output": []})
    assert "1 rows for 2" in mistake_of(EfficiencyTable, good | {"values": [[0.9]]})
    assert "row 2 has 2 values" in mistake_of(EfficiencyTable, good | {"values": [[0.9], [0.8, 0.7]]})
    assert "out of range" in mistake_of(EfficiencyTable, good | {"values": [[0.9], [1.1]]})
    assert "zero" in mistake_of(EfficiencyTable, good | {"values": [[0.9], [0]]})


def test_converter_on_one_line() -> None:
    full = Converter("buck-boost:6-36V:5A:92%", output=12.0, output_limit=3.0)
    assert (full.kind, full.input_v, full.input_limit_a, full.efficiency) == ("buck-boost", (6.0, 36.0), 5.0, 0.92)
    assert (full.output_v, full.output_limit_a) == (12.0, 3.0)
    assert Converter("buck", output=5.0).input_v is None
    assert Converter("boost:3V-20V", output=24.0).input_limit_a is None
    assert Converter("buck:6-36V::0.9", output=5.0).efficiency == 0.9
    for text in (
        "",
        ":",
        "chopper",
        "buck:36-6V",
        "buck:6-36V:5V",
        "buck:6-36V:5A:120%",
        "buck:6-36V:5A:92%:x",
        "x" * 999,
    ):
        with pytest.raises(InputError):
            Converter(text, output=5.0)


def test_converter_mistakes() -> None:
    good = {"kind": "buck", "output": "5V"}
    assert "expected buck" in mistake_of(Converter, good | {"kind": "bucks"})
    assert "outside of the output range" in mistake_of(Converter, good | {"output_range": "6V-12V"})
    assert "starts above its end" in mistake_of(Converter, good | {"input": "36V-6V"})
    assert "92 is not an efficiency" in mistake_of(Converter, good | {"efficiency": 92})
    assert "zero" in mistake_of(Converter, good | {"output": 0})
    assert "is missing" in mistake_of(Converter, good | {"efficiency": {}})


def test_load_is_exactly_one_thing() -> None:
    assert Load(power="24W").kind == "power"
    assert Load(current="2A").kind == "current"
    assert Load(resistance="6ohm").kind == "resistance"
    assert Load.model_validate("24W").power_w == 24.0
    assert Load.model_validate("6 Ω").resistance_ohm == 6.0
    assert "says nothing" in mistake_of(Load, {})
    assert "power and current" in mistake_of(Load, {"power": 1, "current": 1})
    for text in ("24", "24V", "", "heavy"):
        assert "is not a load" in mistake_of(Load, text)
    for key in ("power", "current", "resistance"):
        assert "zero" in mistake_of(Load, {key: 0})


def test_led() -> None:
    led = Led(count=3, vf="3.4V", current="250mA")
    assert (led.string_v, led.driver, led.headroom_v) == (10.2, "driver", 0.0)
    assert led.power_w == pytest.approx(2.55)
    assert Led(count=3, vf="3.4V", current="250mA", driver="resistor", resistor="39ohm").resistor_ohm == 39.0
    said = {"count": 3, "vf": "3.4V", "current": "250mA"}
    assert "on a driver" in mistake_of(Led, said | {"resistor": "39ohm"})
    assert "on a resistor" in mistake_of(Led, said | {"driver": "resistor", "headroom": "1V"})
    for count in (0, -1, 2.5, 1001, True, "3"):
        assert "is not a number of LEDs" in mistake_of(Led, said | {"count": count})


def test_tolerance_of_the_rig_goes_before_that_of_the_source() -> None:
    source = Source(id="x", offers="5V 3A", tolerance="2%")
    assert Tolerance().of_source(source) == 0.02
    assert Tolerance(source="3%").of_source(source) == 0.03
    # Stated as 5 % it counts for every source; not stated, each source's own does.
    assert Tolerance() != Tolerance(source=0.05)
    assert Tolerance() == Tolerance(resistance=0, efficiency=0, load=0, copper="20C")
    assert Tolerance(copper={"min": "-10C", "typ": 20, "max": "60C"}).copper == Triple(-10.0, 20.0, 60.0)


def test_rig_mistakes() -> None:
    branch = {"name": "a", "load": "1W"}
    good = {"trigger": {"request": "9V"}, "branch": [branch]}
    assert Rig.model_validate(good).branches[0].name == "a"
    assert "there is no branch" in mistake_of(Rig, good | {"branch": []})
    assert "name of another branch" in mistake_of(Rig, good | {"branch": [branch, branch]})
    assert "[[branch]]" in mistake_of(Rig, good | {"branch": branch})
    assert "is not a name" in mistake_of(Rig, good | {"branch": [branch | {"name": "a/in"}]})
    assert "beside a kit" in mistake_of(Rig, good | {"kit": {}, "source": []})
