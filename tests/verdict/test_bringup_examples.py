"""Faults that a person would take for another one, on one rig solved with SciPy alone: each by its own name."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from pdcheck.verdict.bringup.measured import Comparison, compare
from pdcheck.verdict.bringup.write_back import changes_for
from tests.outside.one_bench import Bench, copper_ohm, readings
from tests.verdict.bench import typed
from tests.verdict.test_hidden_faults import named, planned

RIG: dict[str, Any] = {
    "title": "Pier",
    "trigger": {"request": 15, "resistance": 0.02, "fallback": "next-lower"},
    "branch": [
        {
            "name": "camera",
            "wire": {"awg": 20, "length": 0.8, "contacts": 0.01},
            "converter": {"kind": "buck-boost", "input": "5V-30V", "output": 12, "efficiency": 0.92, "idle": 0.3},
            "lead": {"awg": 20, "length": 1.0, "contacts": 0.005},
            "load": {"power": 10},
        },
        {
            "name": "focuser",
            "wire": {"awg": 20, "length": 0.6, "contacts": 0.01},
            "converter": {"kind": "buck-boost", "input": "5V-30V", "output": 9, "efficiency": 0.9, "idle": 0.2},
            "lead": {"awg": 20, "length": 0.7, "contacts": 0.005},
            "load": {"power": 7},
        },
        {"name": "lamp", "wire": {"awg": 22, "length": 1.0, "contacts": 0.01}, "load": {"resistance": 68}},
    ],
}
KIT: dict[str, Any] = {
    "source": [{"id": "s", "offers": "5V 3A, 9V 3A, 15V 3A, 20V 3.25A"}],
    "cable": [{"id": "c", "kind": "C-C", "rating": "5A", "loop": 0.12}],
}


def bench(**true: float) -> Bench:
    made = Bench(RIG, KIT, random.Random(3), 0.003, 1.0)
    for name, value in true.items():
        setattr(made, name, value)
    return made


def sheet(made: Bench, blank: tuple[str, ...] = (), **slips: str) -> Comparison:
    """The comparison of a bench's readings without those of some keys, some of them (``a__b``) typed otherwise."""
    steps, plan = planned(RIG, KIT)
    written = readings(made, steps, 4, random.Random(4))
    written |= {name.replace("__", "."): text for name, text in slips.items()}
    kept = {name: text for name, text in written.items() if name not in blank and name.rpartition(".")[2] not in blank}
    return compare(plan, typed(plan, "\n".join(f"{name} {text}" for name, text in kept.items())))


def written_back(found: Comparison, folder: Path) -> set[str]:
    """The kinds of figures that would be written."""
    listed = "".join(
        f'[[branch]]\nname = "{each["name"]}"\nwire = {{ awg = {each["wire"]["awg"]} }}\n'
        + ('converter = { kind = "buck-boost" }\nlead = { awg = 20 }\n' if "converter" in each else "")
        + "load = {}\n"
        for each in RIG["branch"]
    )
    rig, kit = folder / "rig.toml", folder / "kit.toml"
    rig.write_text(f"[trigger]\nrequest = 15\n{listed}")
    kit.write_text('[[cable]]\nid = "c"\nloop = "120mOhm"\n')
    return {each.key for each in changes_for(found, str(rig), str(kit))}


def test_the_sound_rig_has_nothing(tmp_path: Path) -> None:
    found = sheet(bench())
    assert (named(found), written_back(found, tmp_path)) == ([], set())


@pytest.mark.parametrize("blank", [(), ("trigger.bus_a",)], ids=["whole", "its own reading blank"])
def test_a_stray_current_accuses_no_converter_and_no_lamp(blank: tuple[str, ...], tmp_path: Path) -> None:
    found = sheet(bench(stray=0.12), blank)
    assert named(found) == [("bus-draw", "bus")]
    assert written_back(found, tmp_path) == set()


def test_a_source_that_sags_inside_its_band_is_named() -> None:
    assert named(sheet(bench(source=0.25))) == [("source-sags", "source")]


def test_a_source_that_sags_unseen_is_written_into_no_cable(tmp_path: Path) -> None:
    found = sheet(bench(source=0.25), ("source_v",))
    told = {name for other in found.others for name in other.causes} | {" ".join(each) for each in named(found)}
    assert {"source-sags source", "supply-resistance bus"} <= told
    assert "loop" not in written_back(found, tmp_path)


def test_an_ammeter_in_line_is_no_contact() -> None:
    found = named(sheet(bench(burden=0.1)))
    assert [kind for kind, _ in found] == ["meter-burden"]


@pytest.mark.parametrize("factor", [1.03, 0.96])
def test_a_high_range_that_is_off_accuses_no_converter(factor: float) -> None:
    made = bench()
    made.high["A"] = factor
    assert [kind for kind, _ in named(sheet(made))] == ["meter-factor"]


def test_a_larger_load_whose_current_was_not_read_accuses_no_converter() -> None:
    made = bench()
    made.parts["camera"]["load"] = 1.25
    assert named(sheet(made, ("out_a",))) == [("load", "camera")]


def test_milliamperes_without_their_unit_are_a_slip_and_nothing_is_written(tmp_path: Path) -> None:
    steps, _ = planned(RIG, KIT)
    right = readings(bench(), steps, 4, random.Random(4))["branch.focuser.full.bus_a"]
    found = sheet(bench(), branch__focuser__full__bus_a=f"{1000 * float(right):.0f}")
    assert named(found) == [("slip", "branch.focuser.full.bus_a")]
    assert written_back(found, tmp_path) == set()


def test_two_readings_swapped_are_told() -> None:
    steps, _ = planned(RIG, KIT)
    right = readings(bench(), steps, 4, random.Random(4))
    one, other = "branch.camera.full.in_v", "branch.camera.full.out_v"
    swapped = {one.replace(".", "__"): right[other], other.replace(".", "__"): right[one]}
    assert named(sheet(bench(), **swapped)) == [("slip", f"{one} and {other}")]


def test_a_wrong_gauge_is_advised_as_a_gauge() -> None:
    made, wire = bench(), RIG["branch"][0]["wire"]
    made.parts["camera"]["wire"] += copper_ohm({**wire, "awg": 26}) - copper_ohm(wire)
    found = sheet(made)
    assert named(found) == [("wire-resistance", "camera")]
    assert "AWG 26 in place of AWG 20" in found.causes[0].advice
