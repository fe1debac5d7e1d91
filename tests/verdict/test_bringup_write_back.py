"""What goes back into kit and rig: each change whole, what has no place in the files, and the files themselves."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from pdcheck.verdict.bringup.cause import Cause, Implied
from pdcheck.verdict.bringup.found import Other
from pdcheck.verdict.bringup.measured import Comparison, compare
from pdcheck.verdict.bringup.sheet import Filled
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.bringup.write_back import Change, changes_for, difference, kept_back, write
from pdcheck.verdict.judge import judge
from tests.verdict.bench import typed

RIG = """\
title = "Lab"
[trigger]
request = "15V"
resistance = "50mOhm"
[[branch]]
name = "lamp"
wire = { awg = 20, length = "1m", contacts = "5mOhm" }
load = "30ohm"
[[branch]]
name = "pump" # the second one
wire = { awg = 20, length = "0.5m" }
converter = { kind = "buck", input = "6V-30V", output = "12V", output_limit = "3A", efficiency = 0.9, idle = "0.5W" }
lead = { awg = 20, length = "1m", contacts = "5mOhm" }
load = { power = "12W" }
[[branch]]
name = "fan"
load = { current = "0.5A" }
"""
KIT = """\
[[source]]
id = "other"
offers = "5V 3A"
[[source]]
id = "s"
offers = "5V 3A, 9V 3A, 15V 3A"
[[cable]]
id = "spare"
kind = "C-C"
[[cable]]
id = "c"
kind = "C-C"
rating = "3A"
loop = "100mOhm"
"""
OWN = "measured at bring-up"
COPPER = "measured at bring-up, the copper taken off"
CABLE = "measured at bring-up, the trigger's own part taken off"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@cache
def plan_of(rig: str, kit: str | None, cable: str) -> BringUp:
    built = Rig.from_toml(rig)
    listed = built.kit if kit is None else Kit.from_toml(kit)
    source = listed.source("s")
    return bring_up(judge(built, source, source.cable or listed.cable(cable)))


def found(written: str = "", rig: str = RIG, kit: str | None = KIT, cable: str = "c") -> Comparison:
    Path("rig.toml").write_text(rig)
    if kit is not None:
        Path("kit.toml").write_text(kit)
    plan = plan_of(rig, kit, cable)
    return compare(plan, typed(plan, written) if written else Filled({}, {}))


def changes(*figures: Implied, rig: str = RIG, kit: str | None = KIT, cable: str = "c") -> list[Change]:
    here = replace(found(rig=rig, kit=kit, cable=cable), implied=figures)
    return changes_for(here, "rig.toml", None if kit is None else "kit.toml")


def figure(kind: str, subject: str, value: tuple, unit: str, stated: tuple) -> Implied:
    return Implied(kind, subject, Triple(*value), unit, Triple(*stated))


def supply(low: float, typical: float, high: float) -> Implied:
    return figure("supply", "bus", (low, typical, high), "ohm", (0.15, 0.15, 0.15))


LOOP = {"min": "245mOhm", "typ": "250mOhm", "max": "255mOhm"}


def test_a_cable_gets_its_loop_with_the_uncertainty_and_the_trigger_taken_off() -> None:
    assert changes(supply(0.295, 0.3, 0.305)) == [
        Change("kit.toml", ("cable", 1), "loop", '"100mOhm"', LOOP, (), CABLE)
    ]
    # Outwards where it is rounded: the range that is written holds the range that was measured.
    (change,) = changes(supply(0.2954, 0.3004, 0.3064))
    assert change.new == {"min": "245mOhm", "typ": "250mOhm", "max": "257mOhm"}
    (change,) = changes(supply(0.25, 0.35, 0.45))
    assert change.new == {"min": "200mOhm", "typ": "300mOhm", "max": "400mOhm"}
    assert (change.name, change.written) == ("cable.2.loop", '{ min = "200mOhm", typ = "300mOhm", max = "400mOhm" }')


def test_a_cable_that_was_known_stays_where_it_is_as_stated() -> None:
    assert changes(supply(0.14, 0.151, 0.16)) == []
    assert changes(supply(0.10, 0.12, 0.14)) == []  # two standard deviations are chance
    assert len(changes(supply(0.10, 0.11, 0.12))) == 1
    (first,) = changes(supply(0.14, 0.151, 0.16), cable="spare")
    assert (first.table, first.old) == (("cable", 0), "")


def test_a_cable_has_no_less_than_no_resistance() -> None:
    assert changes(supply(0.02, 0.03, 0.04)) == []  # less than the trigger alone
    ranged = RIG.replace('resistance = "50mOhm"', 'resistance = { min = "20mOhm", typ = "50mOhm", max = "90mOhm" }')
    (change,) = changes(supply(0.295, 0.3, 0.305), rig=ranged)
    assert change.new == {"min": "200mOhm", "typ": "250mOhm", "max": "290mOhm"}


@pytest.mark.parametrize(
    ("stood", "old", "drop"),
    [
        ('readings = { source = "15V", sink = "14.9V", at = "1A" }', '{ source = "15V", sink = "14.9V", at = "1A" }',
         ("readings",)),
        ('awg = 22\nlength = "1m"', "22", ("awg",)),
        ('awg = 22\nlength = "1m"\ncontacts = "40mOhm"', "22", ("awg", "contacts")),
        ('length = "1m"', "", ()),
    ],
)  # fmt: skip
def test_what_said_the_same_in_another_way_goes(stood: str, old: str, drop: tuple) -> None:
    kit = KIT.replace('loop = "100mOhm"', stood)
    assert changes(supply(0.5953, 0.6, 0.6047), kit=kit) == [
        Change(
            "kit.toml", ("cable", 1), "loop", old, {"min": "545mOhm", "typ": "550mOhm", "max": "555mOhm"}, drop, CABLE
        )
    ]
    write(changes(supply(0.5953, 0.6, 0.6047), kit=kit))
    assert Kit.read("kit.toml").cable("c").loop == pytest.approx((0.545, 0.55, 0.555))


def test_a_cable_is_found_where_it_stands() -> None:
    fixed = KIT.replace('15V 3A"\n', '15V 3A"\ncable = { rating = "3A", loop = "100mOhm" }\n')
    (change,) = changes(supply(0.295, 0.3, 0.305), kit=fixed)
    assert (change.table, change.old, change.new, change.name) == (
        ("source", 1, "cable"), '"100mOhm"', LOOP, "source.2.cable.loop",
    )  # fmt: skip
    inside = RIG + KIT.replace("[[", "[[kit.")
    (change,) = changes(supply(0.295, 0.3, 0.305), rig=inside, kit=None)
    assert (change.file, change.table, change.new) == ("rig.toml", ("kit", "cable", 1), LOOP)
    inside = RIG + fixed.replace("[[", "[[kit.")
    (change,) = changes(supply(0.295, 0.3, 0.305), rig=inside, kit=None)
    assert (change.file, change.table) == ("rig.toml", ("kit", "source", 1, "cable"))


def test_a_cable_that_stands_nowhere_gets_nothing() -> None:
    here = replace(found(), implied=(supply(0.295, 0.3, 0.305),))
    for text in ("", KIT.replace('"c"', '"gone"'), "this is no TOML ["):
        Path("kit.toml").write_text(text)
        assert changes_for(here, "rig.toml", "kit.toml") == []


def wire(kind: str, subject: str, low: float, typical: float, high: float, stated: float = 0.05) -> Implied:
    return figure(kind, subject, (low, typical, high), "ohm", (stated, stated, stated))


def test_a_contact_gets_what_is_beyond_the_copper() -> None:
    # AWG 20, 1 m there and back: 66.6 mΩ; half of it over half a metre.
    assert changes(wire("wire", "lamp", 0.159, 0.1666, 0.174)) == [
        Change("rig.toml", ("branch", 0, "wire"), "contacts", '"5mOhm"', "100mOhm", (), COPPER)
    ]
    assert changes(wire("wire", "pump", 0.13, 0.13331, 0.137)) == [
        Change("rig.toml", ("branch", 1, "wire"), "contacts", "", "100mOhm", (), COPPER)
    ]
    (change,) = changes(wire("lead", "pump", 0.15, 0.1766, 0.2))
    assert (change.name, change.old, change.new) == ("branch.2.lead.contacts", '"5mOhm"', "110mOhm")


def test_less_than_the_copper_is_no_contact() -> None:
    assert changes(wire("wire", "lamp", 0.05, 0.06, 0.065, stated=0.0716)) == []
    (change,) = changes(wire("wire", "lamp", 0.066, 0.0667, 0.067, stated=0.0716))
    assert change.new == "0.1mOhm"


def test_a_wire_that_the_rig_does_not_name_gets_nothing() -> None:
    assert changes(wire("wire", "fan", 0.15, 0.16, 0.17, stated=0.0)) == []
    assert changes(wire("lead", "lamp", 0.15, 0.16, 0.17, stated=0.0)) == []
    assert changes(wire("wire", "lamp", 0.04, 0.16, 0.17)) == []


def test_a_converter_gets_its_efficiency_and_idle_power() -> None:
    assert changes(
        figure("efficiency", "pump", (0.79, 0.8004, 0.81), "%", (0.9, 0.9, 0.9)),
        figure("idle", "pump", (0.79, 0.8004, 0.81), "W", (0.5, 0.5, 0.5)),
    ) == [
        Change("rig.toml", ("branch", 1, "converter"), "efficiency", "0.9", "80%", (), OWN),
        Change("rig.toml", ("branch", 1, "converter"), "idle", '"0.5W"', "0.8W", (), OWN),
    ]
    for low, high in ((0.95, 0.96), (0.45, 0.60)):
        assert len(changes(figure("efficiency", "pump", (low, low, high), "%", (0.9, 0.9, 0.9)))) == 1
    assert changes(figure("efficiency", "pump", (0.89, 0.9, 0.91), "%", (0.9, 0.9, 0.9))) == []
    assert len(changes(figure("idle", "pump", (0.39, 0.4, 0.41), "W", (0.5, 0.5, 0.5)))) == 1
    assert changes(figure("idle", "pump", (0.49, 0.5, 0.51), "W", (0.5, 0.5, 0.5))) == []
    bare = RIG.replace(', idle = "0.5W"', "")
    (change,) = changes(figure("idle", "pump", (0.79, 0.8, 0.81), "W", (0.0, 0.0, 0.0)), rig=bare)
    assert change.old == ""


def test_a_figure_without_any_uncertainty_is_written_as_it_is() -> None:
    (change,) = changes(figure("idle", "pump", (0.8004, 0.8004, 0.8004), "W", (0.5, 0.5, 0.5)))
    assert change.new == "0.8004W"


def test_one_point_is_no_new_table_of_efficiencies() -> None:
    table = "{ input = [9, 15], output = [0.5, 1.0], values = [[0.8, 0.9], [0.7, 0.8]] }"
    rig = RIG.replace("efficiency = 0.9", f"efficiency = {table}")
    assert changes(figure("efficiency", "pump", (0.6, 0.6, 0.6), "%", (0.8, 0.8, 0.8)), rig=rig) == []


def test_a_load_gets_its_figure_in_its_own_unit_and_form() -> None:
    assert changes(
        figure("load", "lamp", (24.9, 25.0, 25.1), "ohm", (30.0, 30.0, 30.0)),
        figure("load", "pump", (14.9, 15.04, 15.1), "W", (12.0, 12.0, 12.0)),
        figure("load", "fan", (0.39, 0.4, 0.41), "A", (0.5, 0.5, 0.5)),
    ) == [
        Change("rig.toml", ("branch", 0), "load", '"30ohm"', "25ohm", (), OWN),
        Change("rig.toml", ("branch", 1, "load"), "power", '"12W"', "15.04W", (), OWN),
        Change("rig.toml", ("branch", 2, "load"), "current", '"0.5A"', "0.4A", (), OWN),
    ]
    assert changes(figure("load", "fan", (0.49, 0.5, 0.51), "A", (0.5, 0.5, 0.5))) == []
    tables = RIG.replace('load = "30ohm"', 'load = { resistance = "30ohm" }')
    (change,) = changes(figure("load", "lamp", (34.0, 35.0, 36.0), "ohm", (30.0, 30.0, 30.0)), rig=tables)
    assert (change.name, change.old, change.new) == ("branch.1.load.resistance", '"30ohm"', "35ohm")


@pytest.mark.parametrize("now", ["", "load = {}\n", "load = { power = '5W' }\n"])
def test_a_load_that_is_not_in_the_file_any_more_is_told_as_not_there(now: str) -> None:
    here = replace(found(), implied=(figure("load", "fan", (0.39, 0.4, 0.41), "A", (0.5, 0.5, 0.5)),))
    Path("rig.toml").write_text(RIG.replace('load = { current = "0.5A" }\n', now))
    made = changes_for(here, "rig.toml", "kit.toml")
    assert made == [Change("rig.toml", ("branch", 2, "load"), "current", "", "0.4A", (), OWN)]


def test_what_is_there_already_is_no_change() -> None:
    assert changes(figure("load", "fan", (0.499, 0.5, 0.501), "A", (0.4, 0.4, 0.4))) == []
    assert changes(figure("idle", "pump", (0.499, 0.5, 0.501), "W", (0.4, 0.4, 0.4))) == []


def test_a_rig_that_cannot_be_read_any_more_gets_nothing() -> None:
    here = replace(
        found(),
        implied=(
            wire("wire", "lamp", 0.159, 0.1666, 0.174),
            figure("idle", "pump", (0.79, 0.8, 0.81), "W", (0.5, 0.5, 0.5)),
            figure("load", "fan", (0.39, 0.4, 0.41), "A", (0.5, 0.5, 0.5)),
        ),
    )
    for text in ("this is no TOML [", 'title = "Lab"\n', RIG.replace("name =", "nom =")):
        Path("rig.toml").write_text(text)
        assert changes_for(here, "rig.toml", "kit.toml") == []


HIGH = RIG.replace('"15V"', '"20V"')


@pytest.mark.parametrize(
    ("rig", "volts", "told"),
    [
        (HIGH, "5.06", [""]),
        (HIGH.replace("[trigger]", '[trigger]\nfallback = "next-lower"'), "5.06", ['"next-lower"']),
        (HIGH.replace("[trigger]", '[trigger]\nfallback = "5V"'), "5.06", []),
        (HIGH, "9.02", []),
        (HIGH, "15.0", []),
        (RIG, "5.06", []),  # 15 V is on offer: nothing in the file says that a trigger falls back all the same
    ],
)
def test_a_fall_back_to_five_volts_has_a_word_in_the_file(rig: str, volts: str, told: list[str]) -> None:
    made = changes_for(found(f"trigger.bus_v {volts}", rig=rig), "rig.toml", "kit.toml")
    assert made == [
        Change("rig.toml", ("trigger",), "fallback", old, "5V", (), "what the trigger did at bring-up") for old in told
    ]


def test_figures_come_in_order_with_the_fall_back_last() -> None:
    here = replace(
        found("trigger.bus_v 5.06", rig=HIGH),
        implied=(supply(0.295, 0.3, 0.305), figure("load", "fan", (0.39, 0.4, 0.41), "A", (0.5, 0.5, 0.5))),
    )
    names = [each.name for each in changes_for(here, "rig.toml", "kit.toml")]
    assert names == ["cable.2.loop", "branch.3.load.current", "trigger.fallback"]


def test_files_are_written_each_once_and_all_else_stays() -> None:
    made = changes(
        supply(0.295, 0.3, 0.305),
        wire("lead", "pump", 0.15, 0.1766, 0.2),
        figure("load", "lamp", (24.9, 25.0, 25.1), "ohm", (30.0, 30.0, 30.0)),
    )
    assert write(made) == ["kit.toml", "rig.toml"]
    lead = f"# bring-up: contacts: {COPPER}\nlead"
    rig = RIG.replace(
        'lead = { awg = 20, length = "1m", contacts = "5', f'{lead} = {{ awg = 20, length = "1m", contacts = "110'
    )
    load = f'# bring-up: load: {OWN}\nload = "25ohm"'
    assert Path("rig.toml").read_text() == rig.replace('load = "30ohm"', load)
    loop = '{ min = "245mOhm", typ = "250mOhm", max = "255mOhm" }'
    assert Path("kit.toml").read_text() == KIT.replace('loop = "100mOhm"', f"# bring-up: loop: {CABLE}\nloop = {loop}")
    assert write([]) == []


def test_what_would_spoil_a_file_is_refused_and_the_file_stays() -> None:
    found()
    for name, before in (("rig.toml", RIG), ("kit.toml", KIT)):
        table = ("branch", 0) if name == "rig.toml" else ("cable", 1)
        with pytest.raises(InputError) as error:
            write([Change(name, table, "lenght", "", "1m", (), "")])
        assert error.value.where.startswith(name)
        assert Path(name).read_text() == before


def test_a_kit_elsewhere_finds_its_captures_beside_itself() -> None:
    Path("there").mkdir()
    Path("there/log.txt").write_text("a1612c9101082cd1020013c10300dcb00400a5400600" + 8 * "0")
    Path("there/kit.toml").write_text(KIT.replace('offers = "5V 3A"', 'capture = "log.txt"'))
    made = [Change("there/kit.toml", ("cable", 1), "loop", '"100mOhm"', "90mOhm", (), CABLE)]
    assert write(made) == ["there/kit.toml"]
    assert Kit.read("there/kit.toml").cable("c").loop == pytest.approx((0.09, 0.09, 0.09))


def test_a_comment_of_an_older_sheet_makes_room() -> None:
    for when, ohms in (("2026-01-02", 25.0), ("2026-01-03", 24.0)):
        before = Path("rig.toml").read_text() if Path("rig.toml").exists() and when == "2026-01-03" else RIG
        here = replace(found(), implied=(figure("load", "lamp", (ohms - 0.1, ohms, ohms + 0.1), "ohm", (30, 30, 30)),))
        Path("rig.toml").write_text(before)
        made = changes_for(here, "rig.toml", "kit.toml", when)
        assert difference(made).count("\n+load") == 1
        write(made)
    comments = [line for line in Path("rig.toml").read_text().splitlines() if line.startswith("# bring-up")]
    assert comments[-1] == "# bring-up: load: measured at bring-up, 2026-01-03"


def test_what_rests_on_an_assumption_or_is_undecided_is_kept_back() -> None:
    each = supply(0.295, 0.3, 0.305)._replace(assumed="the charger holds its voltage under load")
    here = replace(found(), implied=(each,))
    assert changes_for(here, "rig.toml", "kit.toml") == []
    assert [f"{name}: {why}" for name, why in kept_back(here).items()] == [
        "supply bus: it holds only if the charger holds its voltage under load"
    ]
    cause = Cause("supply-resistance", "warn", "bus", "", "")
    undecided = replace(
        found(), implied=(supply(0.295, 0.3, 0.305),), causes=(cause,), others=(Other(("source-sags source",), ""),)
    )
    assert changes_for(undecided, "rig.toml", "kit.toml") == []
    slip = replace(found(), implied=(supply(0.295, 0.3, 0.305),), causes=(cause._replace(kind="slip"),))
    assert changes_for(slip, "rig.toml", "kit.toml") == []
    assert kept_back(slip) == {"": "a reading of this sheet is wrong: correct it first"}


def test_the_ohmmeter_of_the_same_sheet_is_not_contradicted() -> None:
    each = figure("load", "lamp", (43.0, 44.0, 45.0), "ohm", (30.0, 30.0, 30.0))
    for ohms, why in (("30.2", ["load lamp: the ohmmeter shows another resistance"]), ("43.0", [])):
        here = replace(found(f"unpowered.lamp.input_ohm {ohms}"), implied=(each,), causes=())
        assert [f"{name}: {why}" for name, why in kept_back(here).items()] == why
        assert len(changes_for(here, "rig.toml", "kit.toml")) == 1 - len(why)
