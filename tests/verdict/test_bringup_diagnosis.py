"""One diagnosis of all readings: what it names, what stays possible, what rests on an assumption, in which words."""

from __future__ import annotations

from functools import cache

import pytest

from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.cause import Cause, Implied, cause_of, gauge_like, interval
from pdcheck.verdict.bringup.measured import Comparison, compare
from pdcheck.verdict.bringup.sheet import Filled, Measured, read_measured
from pdcheck.verdict.bringup.steps import BringUp
from tests.verdict.bench import Faults, readings, truth
from tests.verdict.lab import LAMP, PUMP, lab

FINE = {"V": 2, "A": 3}
PLAN = lab(tolerance={"load": 0, "efficiency": 0, "resistance": 0})


@cache
def bench(faults: Faults) -> Filled:
    return readings(PLAN, truth(PLAN.case, faults), FINE)


def diagnosed(faults: Faults = Faults(), plan: BringUp = PLAN, **typed: str) -> Comparison:  # noqa: B008
    """The comparison of a bench's readings, some of them written in another way or left blank (``-``)."""
    taken = dict(bench(faults).readings)
    units = {each.name: each for step in plan.steps for each in step.readings}
    for name, text in typed.items():
        reading = units[name.replace("__", ".")]
        taken.pop((reading.path, reading.key), None)
        if text != "-":
            taken[reading.path, reading.key] = read_measured(text, reading.unit)
    return compare(plan, Filled({}, taken))


def names(found: Comparison) -> list[tuple[str, str]]:
    return [(each.kind, each.subject) for each in found.causes if each.level != "note"]


def test_a_stray_load_is_named_and_nobody_else() -> None:
    found = diagnosed(Faults(bus_a=0.12))
    assert names(found) == [("bus-draw", "bus")]
    idle = next(each for each in found.implied if each.kind == "idle")
    ohms = next(each for each in found.implied if (each.kind, each.subject) == ("load", LAMP))
    assert idle.value.min <= 0.5 <= idle.value.max
    assert ohms.value.min <= 30 <= ohms.value.max
    blank = diagnosed(Faults(bus_a=0.12), trigger__bus_a="-")
    assert names(blank) == [("bus-draw", "bus")]


def test_what_was_found_is_taken_off_before_anything_else_is_accused() -> None:
    found = diagnosed(Faults(bus_a=0.12, branch=PUMP, wire_ohm=0.2))
    assert sorted(names(found)) == [("bus-draw", "bus"), ("wire-resistance", PUMP)]
    wire = next(each for each in found.causes if each.kind == "wire-resistance")
    assert wire.bounds is not None
    assert wire.bounds.min <= 0.2433 <= wire.bounds.max


def test_a_cable_and_a_charger_that_sags_need_the_reading_at_the_charger() -> None:
    places = [each for each in bench(Faults()).readings if each[1] == "source_v"]
    blank = {"__".join((*path, key)): "-" for path, key in places}
    found = diagnosed(Faults(supply_ohm=0.2), **blank)
    assert names(found) == [("supply-resistance", "bus")]
    assert [each.causes for each in found.others] == [("source-sags source",)]
    assert found.further is not None
    assert found.further.reading.key == "source_v"
    # Given, it decides.
    decided = diagnosed(Faults(supply_ohm=0.2))
    assert (names(decided), decided.others) == ([("supply-resistance", "bus")], ())
    supply = next(each for each in found.implied if each.kind == "supply")
    assert supply.assumed == "the charger holds its voltage under load"
    assert next(each for each in decided.implied if each.kind == "supply").assumed == ""


@pytest.mark.parametrize(
    ("name", "factor", "said"),
    [
        ("branch.fan.full.bus_a", 1000, "a unit is missing or wrong"),
        ("branch.fan.full.load_v", 0.1, "the decimal point is in the wrong place"),
        ("branch.lamp.full.bus_v", -1, "the sign is wrong"),
    ],
)
def test_a_slip_of_the_pen_is_told_as_one(name: str, factor: float, said: str) -> None:
    *path, key = name.split(".")
    right = bench(Faults()).readings[tuple(path), key].value
    found = diagnosed(**{name.replace(".", "__"): f"{right * factor:.5g}"})
    assert names(found) == [("slip", name)]
    assert said in found.causes[0].text


def test_two_readings_in_each_others_place() -> None:
    right = bench(Faults()).readings
    path = ("branch", PUMP, "full")
    typed = {
        "branch__pump__full__in_v": f"{right[path, 'out_v'].value:.2f}",
        "branch__pump__full__out_v": f"{right[path, 'in_v'].value:.2f}",
    }
    assert names(diagnosed(**typed)) == [("slip", "branch.pump.full.in_v and branch.pump.full.out_v")]


def test_nothing_is_wrong_with_a_sound_bench() -> None:
    found = diagnosed()
    assert (names(found), found.others, found.further, found.fine) == ([], (), None, True)


def test_readings_that_no_few_faults_explain_scatter_by_the_meters_error() -> None:
    taken = dict(bench(Faults()).readings)
    for at, place in enumerate(sorted(taken)):
        each = taken[place]
        if place[1] in ("polarity", "input_ohm"):
            continue
        taken[place] = Measured(each.value * (1 + (0.004, -0.004, 0.002, -0.003)[at % 4]), each.half)
    assert names(compare(PLAN, Filled({}, taken))) == []


def test_the_burden_of_an_ammeter_is_no_contact() -> None:
    taken = {}
    for place, each in bench(Faults()).readings.items():
        taken[place] = each
    # 0.2 ohm in line behind the voltmeter: what is behind it gets less, by what flows there.
    amps = {path: each.value for (path, key), each in taken.items() if key == "bus_a"}
    for (path, key), each in list(taken.items()):
        step = path if path in amps else path[:1]
        if key in ("in_v", "load_v") and step in amps and not (key == "load_v" and PUMP in path):
            taken[path, key] = each._replace(value=round(each.value - 0.2 * amps[step], 2))
    for (path, key), each in list(taken.items()):  # the pump holds its power
        if key in ("bus_a", "in_a") and PUMP in path:
            lower = 1 + 0.2 * amps.get(path, amps.get(path[:1], 0)) / 14.6
            taken[path, key] = each._replace(value=round(each.value * lower, 3))
    found = names(compare(PLAN, Filled({}, taken)))
    assert found[0][0] == "meter-burden"
    assert "wire-resistance" not in [kind for kind, _ in found]


STATED = Triple(0.1, 0.11, 0.12)


def figure(kind: str, value: tuple, unit: str, stated: Triple = STATED, **more) -> Implied:
    return Implied(kind, PUMP, Triple(*value), unit, stated, **more)


@pytest.mark.parametrize(
    ("kind", "unit", "stated", "value", "level"),
    [
        ("wire", "ohm", 0.25, 0.27, "warn"),
        ("wire", "ohm", 0.25, 0.2699, "note"),
        ("idle", "W", 0.0, 0.1, "warn"),
        ("idle", "W", 0.0, 0.0999, "note"),
        ("load", "W", 20.0, 21.0, "warn"),
        ("load", "W", 20.0, 20.99, "note"),
        ("load", "ohm", 20.0, 19.0, "warn"),
        ("load", "ohm", 20.0, 19.01, "note"),
        ("bus-draw", "A", 0.0, 0.02, "warn"),
        ("bus-draw", "A", 0.0, 0.0199, "note"),
        ("efficiency", "%", 0.75, 0.73, "warn"),
        ("efficiency", "%", 0.75, 0.7301, "note"),
        ("output", "V", 12.0, 12.1, "stop"),
        ("output", "V", 12.0, 11.9, "warn"),
    ],
)
def test_what_is_on_the_limit_has_a_name_and_less_is_a_note(
    kind: str, unit: str, stated: float, value: float, level: str
) -> None:
    assert cause_of(figure(kind, (value, value, value), unit, Triple.exact(stated)), PLAN.case).level == level


def test_a_figure_is_told_with_its_bounds_and_what_it_rests_on() -> None:
    told = cause_of(figure("wire", (0.19, 0.2, 0.21), "ohm", assumed="the ammeter drops nothing"), PLAN.case)
    assert told == Cause(
        "wire-resistance",
        "warn",
        PUMP,
        "the wire with its contacts is 200 ± 10 mΩ; the calculation used 100 mΩ to 120 mΩ: 90 mΩ more "
        "(if the ammeter drops nothing)",
        "A contact: press, clean or solder it again and measure once more; the warm one is the bad one.",
        told.implied,
        Triple(0.19, 0.2, 0.21),
        "ohm",
    )


def test_a_wire_as_thin_as_a_usual_gauge_may_be_that_gauge() -> None:
    # ASTM B258: AWG 26 has 133.9 mΩ a metre at 20 degrees C [from memory], so 0.5 m there and back 133.9 mΩ.
    told = cause_of(figure("wire", (0.140, 0.144, 0.148), "ohm"), PLAN.case)
    assert "AWG 26 in place of AWG 20" in told.advice
    assert "along the copper alone" in told.advice
    assert gauge_like(Wire("20AWG 0.5m 10mOhm"), Triple(0.05, 0.0505, 0.051), 1.0) == ""
    assert gauge_like(Wire("0.75mm2 1m"), Triple(0.076, 0.078, 0.08), 1.0) == "0.5 mm²"


def test_a_reading_of_no_use_says_nothing() -> None:
    assert interval(figure("efficiency", (0.795, 0.8, 0.805), "%")) == "80.0 ± 0.5 %"
    assert compare(PLAN, Filled({}, {})).implied == ()
