"""Fuses: on random rigs each value lies between what flows and what the wire carries, and no other value does.

Flows and wires are worked out here once more: a bus by repeated substitution, a wire by its heat balance. The standard
values are typed from the lists of IEC 60127 (series R10) and ISO 8820-3 [memory of both].
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import pdcheck
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.parts.trigger import Trigger
from pdcheck.verdict.fuses import FusePlace, fuses, thicker
from pdcheck.verdict.judge import judge

R10 = [0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10]
BLADE = [1, 2, 3, 4, 5, 7.5, 10, 15, 20]
SHARES = {"UL": 0.75, "IEC": 1.0, "blade": 0.75, "resettable": 0.6}
VALUES = {"UL": R10, "IEC": R10, "blade": BLADE}
FUSE_RULES = {"fuse-current", "fuse-wire", "fuse-bus-wire"}
MM2_OHM_PER_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3}  # IEC 60228, class 5

SOURCE = Source("5V 3A, 9V 3A, 15V 3A, 20V 5A", id="s")
CABLE = Cable("C-C 5A loop=100mOhm", id="c")


def wire_figures(wire: dict[str, Any]) -> tuple[float, float, float]:
    """Ohms there and back, ohms per metre at 20 degrees C, and the copper's diameter [m]."""
    if "awg" in wire:
        diameter = 0.127e-3 * 92 ** ((36 - wire["awg"]) / 39)
        per_m = 1 / 58e6 / (math.pi * diameter**2 / 4)
    else:
        diameter = math.sqrt(4 * wire["mm2"] / math.pi) * 1e-3
        per_m = MM2_OHM_PER_KM[wire["mm2"]] / 1000
    return 2 * wire["length"] * per_m, per_m, diameter


def carries_a(wire: dict[str, Any]) -> float:
    """Joule's heat of the warm wire is what 10 W/(m2 K) take from its surface at 30 K."""
    _, per_m, diameter = wire_figures(wire)
    return math.sqrt(10 * 30 * math.pi * diameter / (per_m * (1 + 0.00393 * 30)))


def flows_at(source_v: float, path_ohm: float, branches: list[dict[str, Any]]) -> list[float] | None:
    """What flows into each branch, by repeated substitution; None where it comes to no end."""
    amperes = [0.0] * len(branches)
    for _ in range(3000):
        bus_v, new = source_v - path_ohm * sum(amperes), []
        for branch, was in zip(branches, amperes, strict=True):
            ohm = wire_figures(branch["wire"])[0]
            if "current" in branch["load"]:
                new.append(branch["load"]["current"])
            elif "power" in branch["load"]:
                end_v = bus_v - ohm * was
                if end_v <= 0:
                    return None
                new.append(branch["load"]["power"] / end_v)
            else:
                new.append(bus_v / (ohm + branch["load"]["resistance"]))
        if all(math.isclose(a, b, rel_tol=1e-13) for a, b in zip(amperes, new, strict=True)):
            return new
        amperes = new
    return None


def worst_flows(volts: float, branches: list[dict[str, Any]]) -> list[float] | None:
    """The most into each branch, and last the most through the bus, over the source's 5 % either way."""
    found = [flows_at(volts * factor, 0.1, branches) for factor in (0.95, 1.0, 1.05)]
    if any(each is None for each in found):
        return None
    listed = [each for each in found if each is not None]
    return [*map(max, zip(*listed, strict=True)), max(map(sum, listed))]


wires = st.builds(
    lambda size, length: dict([size]) | {"length": length},
    st.tuples(st.just("awg"), st.integers(14, 32)) | st.tuples(st.just("mm2"), st.sampled_from(list(MM2_OHM_PER_KM))),
    st.floats(0.05, 0.5),
)
loads = (
    st.fixed_dictionaries({"current": st.floats(0.02, 2.0)})
    | st.fixed_dictionaries({"power": st.floats(0.2, 20.0), "voltage": st.just("4V-22V")})
    | st.fixed_dictionaries({"resistance": st.floats(6.0, 400.0)})
)
random_rigs = st.tuples(
    st.sampled_from([9.0, 15.0, 20.0]),
    st.lists(st.fixed_dictionaries({"wire": wires, "load": loads}), min_size=1, max_size=3),
).map(lambda said: (said[0], [each | {"name": f"b{at}"} for at, each in enumerate(said[1])]))


def with_fuse(volts: float, branches: list[dict[str, Any]], place: str, fuse: str) -> Rig:
    trigger: dict[str, Any] = {"request": volts, "rating": "5A"} | ({"fuse": fuse} if place == "bus" else {})
    built = [each | ({"fuse": fuse} if each["name"] == place else {}) for each in branches]
    return Rig.model_validate({"trigger": trigger, "branch": built})


def broken(volts: float, branches: list[dict[str, Any]], place: str, fuse: str) -> set[str]:
    found = judge(with_fuse(volts, branches, place, fuse), SOURCE, CABLE).findings
    return {each.rule for each in found} & FUSE_RULES


def beside(values: list[float], kept: list[float]) -> list[float]:
    """The values just below and just above those that were kept, and every one where none was."""
    if not kept:
        return values
    at, last = values.index(kept[0]), values.index(kept[-1])
    return [*values[max(at - 1, 0) : at], *values[last + 1 : last + 2]]


@settings(max_examples=200, deadline=None)
@given(random_rigs)
def test_the_values_are_those_between_flow_and_wire_and_no_others(said: tuple[float, list[dict[str, Any]]]) -> None:
    volts, branches = said
    flows = worst_flows(volts, branches)
    if flows is None:
        return
    rig = Rig.model_validate({"trigger": {"request": volts, "rating": "5A"}, "branch": branches})
    bus, *rest = fuses(rig, [(SOURCE, CABLE)]).places
    thinnest = min(carries_a(each["wire"]) for each in branches)
    expected = [(bus, flows[-1], thinnest)]
    expected += [(place, a, carries_a(each["wire"])) for place, a, each in zip(rest, flows, branches, strict=False)]
    for place, flows_a, wire_a in expected:
        assert place.flows_a is not None and math.isclose(place.flows_a, flows_a, rel_tol=1e-6)
        assert place.wire_a is not None and math.isclose(place.wire_a, wire_a, rel_tol=1e-9)
        assert list(place.values_a) == between(sorted({*R10, *BLADE}), 0.75, place.flows_a, place.wire_a)
        for kind in place.kinds:
            assert kind.share == SHARES[kind.kind]
            if kind.kind in VALUES:
                assert list(kind.values_a) == between(VALUES[kind.kind], kind.share, place.flows_a, place.wire_a)


def between(values: list[float], share: float, flows_a: float, wire_a: float) -> list[float]:
    return [value for value in values if flows_a <= value * share * (1 + 1e-9) and value <= wire_a * (1 + 1e-9)]


@settings(max_examples=25, deadline=None)
@given(random_rigs)
def test_each_value_passes_check_and_its_neighbours_do_not(said: tuple[float, list[dict[str, Any]]]) -> None:
    volts, branches = said
    rig = Rig.model_validate({"trigger": {"request": volts, "rating": "5A"}, "branch": branches})
    if judge(rig, SOURCE, CABLE).case.collapse is not None:
        return
    for place in fuses(rig, [(SOURCE, CABLE)]).places:
        for kind in place.kinds:
            if kind.kind not in VALUES:
                continue
            kept = list(kind.values_a)
            for value in (kept[0], kept[-1]) if kept else ():
                assert not broken(volts, branches, place.place, f"{value}A {kind.kind}"), (place, kind, value)
            for value in beside(VALUES[kind.kind], kept):
                assert broken(volts, branches, place.place, f"{value}A {kind.kind}"), (place, kind, value)


def of(found: Any, name: str) -> FusePlace:
    place: FusePlace = next(each for each in found.places if each.place == name)
    return place


def simple(load: str = "2A", wire: str = "24AWG 0.2m", trigger: Any = "15V", **more: Any) -> Rig:
    return Rig(trigger=trigger, branch=[Branch("x", wire=wire, load={"current": load}, **more)])


def test_where_no_value_fits_it_says_what_to_change() -> None:
    """2 A are 75 % of 2.67 A; AWG 24 carries 2.26 A, AWG 22 3.2 A, which 3 A is below."""
    found = fuses(simple(), [(SOURCE, CABLE)])
    place = of(found, "x")
    assert place.values_a == ()
    assert {kind.kind: kind.values_a for kind in place.kinds} == {
        "UL": (), "IEC": (2.0,), "blade": (), "resettable": (),
    }  # fmt: skip
    assert any("take AWG 22 for the x wire; then 3 A fits" in reason for reason in place.reasons)
    assert any("only a fuse made to IEC 60127 fits" in reason for reason in place.reasons)
    assert of(fuses(simple(wire="22AWG 0.2m"), [(SOURCE, CABLE)]), "x").values_a == (3.0, 3.15)


def test_a_wire_that_would_make_room_does_and_the_next_thinner_does_not() -> None:
    for gauge in range(16, 32, 2):
        for amperes in (0.9, 2.4, 4.6):
            if carries_a({"awg": gauge, "length": 1}) >= amperes:
                continue
            told = thicker(Branch("x", wire=f"{gauge}AWG 1m", load="1W").wire, amperes)  # type: ignore[arg-type]
            assert told is not None
            named = int(told.removeprefix("AWG "))
            assert carries_a({"awg": named, "length": 1}) >= amperes > carries_a({"awg": named + 2, "length": 1})


def test_nothing_fits_anything_that_flows_past_every_value() -> None:
    rig = simple("4.9A", wire="30AWG 0.01m", trigger="20V")
    place = of(fuses(rig, [(SOURCE, CABLE)]), "x")
    assert not any(kind.values_a for kind in place.kinds)
    assert not fuses(rig, [(SOURCE, CABLE)])


def test_a_wire_that_is_not_known_is_taken_as_thin() -> None:
    for unknown in (None, "?"):
        rig = Rig(trigger="15V", branch=[Branch("x", wire=unknown, load={"current": "0.5A"})])
        place = of(fuses(rig, [(SOURCE, CABLE)]), "x")
        assert place.wire_a is not None
        assert math.isclose(place.wire_a, carries_a({"awg": 26, "length": 1}), rel_tol=1e-9)
        assert any("is not known" in reason for reason in place.reasons)


def test_a_branch_with_its_own_fuse_needs_none_on_the_bus() -> None:
    thin = Branch("thin", wire="28AWG 0.2m", load={"current": "0.3A"})
    thick = Branch("thick", wire="18AWG 0.2m", load={"current": "2A"})
    without = fuses(Rig(trigger="15V", branch=[thin, thick]), [(SOURCE, CABLE)])
    fused = fuses(Rig(trigger="15V", branch=[thin.replace(fuse="1A"), thick]), [(SOURCE, CABLE)])
    assert of(without, "bus").values_a == ()
    assert of(fused, "bus").values_a == (3.15, 4.0, 5.0, 6.3)
    assert of(fused, "thin").stated == "1A"
    assert any("1A that the rig has here fits" in reason for reason in of(fused, "thin").reasons)


def test_a_lead_without_a_converter_is_protected_too() -> None:
    rig = simple("0.5A", wire="18AWG 0.2m", lead="28AWG 0.2m")
    place = of(fuses(rig, [(SOURCE, CABLE)]), "x")
    assert place.wire_a is not None
    assert math.isclose(place.wire_a, carries_a({"awg": 28, "length": 1}), rel_tol=1e-9)
    judged = judge(simple("0.5A", wire="18AWG 0.2m", lead="28AWG 0.2m", fuse="2A"), SOURCE, CABLE)
    assert "fuse-wire" in {each.rule for each in judged.findings}


@pytest.mark.parametrize(
    ("source", "words"),
    [("5V 3A, 15V 5A", "blows 1.6 A to 2.5 A within a minute"), ("5V 3A, 15V 1.5A", "never blows 1.6 A to 4 A")],
)
def test_whether_the_source_can_blow_it(source: str, words: str) -> None:
    """Surely at twice the value, never below 1.35 times."""
    place = of(fuses(simple("1.1A", wire="20AWG 0.2m"), [(Source(source, id="s"), CABLE)]), "x")
    assert any(words in reason for reason in place.reasons), place.reasons
    assert place.source_a is not None
    assert place.blows_up_to_a == place.source_a / 2
    assert place.never_above_a == pytest.approx(place.source_a / 1.35)


@pytest.mark.parametrize(
    ("request_", "source", "highest_v", "rated_v"),
    [
        ("9V", "5V 3A, 9V 3A", 9.45, 24.0),
        ("20V", "5V 3A, 20V 3A", 21.0, 24.0),
        ("highest", "5V 3A, 20V 3A", 21.0, 55.0),
        ("28V", "5V 3A, 9V 3A, 15V 3A, 20V 5A, 28V 5A", 29.4, 55.0),
        ("none", "5V 3A", 5.5, 24.0),
    ],
)
def test_the_voltage_that_it_must_be_rated_for(request_: str, source: str, highest_v: float, rated_v: float) -> None:
    """5 % above the contract, 5.5 V without one; 24 V (vSprMax) or 55 V (vEprMax) is what a sink must survive."""
    found = fuses(simple("0.3A", trigger=request_), [(Source(source, id="s"), Cable("EPR", id="c"))])
    for place in found.places:
        assert (round(place.voltage_v, 6), place.rated_v) == (highest_v, rated_v)


def test_only_pairs_that_work_count() -> None:
    """On the weak one the rig falls back to 5 V and fails: what would flow there needs no fuse."""
    rig = Rig(trigger="15V", branch=[Branch("x", wire="20AWG 0.2m", load={"power": "12W", "voltage": "12V-17V"})])
    weak = Source("5V 3A", id="weak")
    both, alone = fuses(rig, [(SOURCE, CABLE), (weak, CABLE)]), fuses(rig, [(SOURCE, CABLE)])
    assert both.on == ("s with c",) and both.runs
    assert [each.flows_a for each in both.places] == [each.flows_a for each in alone.places]
    assert not fuses(rig, [(weak, CABLE)]).runs and not fuses(rig, [(weak, CABLE)])


def test_nothing_flows_where_the_trigger_gives_nothing() -> None:
    rig = simple(trigger=Trigger("12V", fallback="none"))
    place = of(fuses(rig, [(Source("5V 3A", id="s"), CABLE)]), "x")
    assert (place.flows_a, place.values_a, place.kinds) == (None, (), ())
    assert "no fuse can be chosen" in str(fuses(rig, [(Source("5V 3A", id="s"), CABLE)]))


def test_a_surge_asks_for_a_slow_one() -> None:
    rig = simple("0.5A").replace({"x.load.start_factor": 8})
    assert any("8 times as much" in reason for reason in of(fuses(rig, [(SOURCE, CABLE)]), "x").reasons)


@pytest.mark.parametrize(
    ("text", "value_a", "kind", "written"),
    [
        ("2A", 2.0, "UL", "2A"),
        (2, 2.0, "UL", "2A"),
        ("2 A", 2.0, "UL", "2A"),
        ("2A UL 248-14", 2.0, "UL", "2A"),
        ("500mA IEC", 0.5, "IEC", "500mA IEC"),
        ("3.15 A iec 60127", 3.15, "IEC", "3.15A IEC"),
        ("7.5A blade", 7.5, "blade", "7.5A blade"),
        ("1.1A resettable", 1.1, "resettable", "1.1A resettable"),
    ],
)
def test_a_fuse_is_read_and_written(text: object, value_a: float, kind: str, written: str) -> None:
    branch = Branch("x", load="1W", fuse=text)
    assert branch.fuse == (value_a, kind)
    assert branch.to_dict()["fuse"] == written
    assert Branch("x", load="1W", fuse=written) == branch
    assert Trigger("9V", fuse=text).fuse == branch.fuse


@pytest.mark.parametrize("text", ["2V", "glass", "2A slow", "0A", "", True, None.__class__, "-2A", "2A IEC blade", []])
def test_what_is_no_fuse_is_said(text: object) -> None:
    with pytest.raises(InputError) as refused:
        Branch("x", load="1W", fuse=text)
    assert "fuse" in str(refused.value) and "\n" not in str(refused.value)


def test_a_cable_that_goes_with_no_source_is_said() -> None:
    kit = Kit(source=[{"id": "own", "offers": "5V 3A", "captive": True}], cable=[{"id": "c", "kind": "C-C"}])
    with pytest.raises(InputError, match="another cable fixed"):
        pdcheck.fuse(simple(trigger="5V"), kit, cable="c")


def test_the_front_door_and_the_document() -> None:
    found = pdcheck.fuse(simple("1A"), source="5V 3A, 15V 3A", cable="C-C 3A loop=100mOhm")
    document = json.loads(found.to_json())
    assert document["schema"] == "pdcheck/fuse/1"
    assert [each["place"] for each in document["places"]] == ["bus", "x"]
    assert {"place", "flows_a", "wire_a", "values_a", "reasons"} <= set(document["places"][0])
    assert document["places"][1]["values_a"] == [1.6, 2.0]
