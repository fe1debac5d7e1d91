"""The greatest load against brute force: rigs rebuilt with other loads, each judged from the start."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.corners import NetworkSpec
from pdcheck.circuit.from_rig import design_voltage
from pdcheck.errors import InputError
from pdcheck.parts.cable import Cable
from pdcheck.parts.limits import Catalogue
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.pack import PackLoad
from pdcheck.parts.loads.power import PowerLoad
from pdcheck.parts.loads.resistance import ResistanceLoad
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import GRAVE
from pdcheck.verdict.greatest import Greatest, first_failure, greatest_load, worst_spec
from pdcheck.verdict.judge import judge


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda value: round(value, 6))


def optional(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), strategy)


wires = optional(
    st.fixed_dictionaries(
        {"awg": st.integers(16, 26), "length": number(0.1, 3.0), "contacts": st.sampled_from((0.0, 0.02))}
    )
)
loads = st.one_of(
    st.fixed_dictionaries({"power": number(1, 30)}, optional={"voltage": st.just([4.0, 25.0])}),
    st.fixed_dictionaries({"current": number(0.05, 2.0)}),
    st.fixed_dictionaries({"resistance": number(8, 200)}),
    st.fixed_dictionaries(
        {
            "pack": st.fixed_dictionaries(
                {"cells": st.integers(1, 4), "end": st.just(4.2), "current": number(0.05, 1.5)},
                optional={"efficiency": number(0.8, 0.97), "headroom": number(0, 1)},
            )
        }
    ),
    st.fixed_dictionaries(
        {
            "led": st.fixed_dictionaries(
                {"count": st.integers(1, 3), "vf": number(2, 3.5), "current": number(0.02, 0.5)},
                optional={"driver": st.just("resistor"), "resistor": number(5, 100)},
            ).map(lambda led: {key: led[key] for key in led if key != "resistor" or led.get("driver") == "resistor"})
        }
    ),
)
converters = optional(
    st.fixed_dictionaries(
        {
            "kind": st.sampled_from(("buck", "boost", "buck-boost")),
            "output": st.sampled_from((3.3, 5.0, 12.0, 24.0)),
            "efficiency": st.one_of(
                number(0.75, 0.97),
                st.just({"input": [5, 12, 24], "output": [0.2, 3], "values": [[0.8, 0.85], [0.9, 0.94], [0.88, 0.92]]}),
            ),
            "idle": st.sampled_from((0.0, 0.2)),
        },
        optional={
            "input": st.sampled_from(("4.5V-28V", "6V-36V", "3V-60V")),
            "input_limit": number(0.5, 5),
            "output_limit": number(0.3, 5),
            "power_limit": number(5, 60),
            "dropout": number(0, 1),
        },
    )
)
tolerances = st.fixed_dictionaries(
    {},
    optional={
        "resistance": number(0, 0.1),
        "efficiency": number(0, 0.03),
        "load": number(0, 0.1),
        "copper": st.just({"min": "0C", "typ": "20C", "max": "60C"}),
    },
)


@st.composite
def rig_data(draw: st.DrawFn) -> dict[str, Any]:
    branches = []
    for index in range(draw(st.integers(1, 2))):
        parts = {"wire": draw(wires), "converter": draw(converters), "lead": draw(wires), "load": draw(loads)}
        branches.append({"name": f"b{index}"} | {key: part for key, part in parts.items() if part is not None})
    trigger = {"request": draw(st.sampled_from(("5V", "9V", "15V", "20V", "pps 12V 3A", "highest")))}
    if draw(st.booleans()):
        trigger |= {"rating": "3A", "resistance": "25mOhm"}
    return {"trigger": trigger, "branch": branches, "tolerance": draw(tolerances)}


sources = st.sampled_from(
    ("5V 3A, 9V 3A", "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A", "5V 3A, 9V 3A, 15V 3A, 20V 5A", "5V 2A, 12V 1.5A")
).map(lambda label: Source(id="s", offers=label))
cables = st.one_of(
    st.just(Cable(id="c", kind="C-C")),
    number(0.02, 0.4).map(lambda ohm: Cable(id="c", kind="C-C", rating="5A", loop=ohm)),
)

# What is about the load that is there bounds no other in its place.
AS_STATED = {each.id for each in Catalogue.rules if each.as_stated}
FIVE_AMPERES = Cable(id="c", kind="C-C", rating="5A", loop="200mOhm")


def rescaled(case: Case, factor: float, only: str | None = None) -> Rig:
    """The rig with its loads, or those of one branch, asking for that many times as much."""
    rig, design_v = case.rig, design_voltage(case.rig, case.contract.voltage_v)
    branches = [
        branch.model_copy(update={"load": _times(branch.load, factor, _supply_v(branch, design_v))})
        if only in (None, branch.name)
        else branch
        for branch in rig.branches
    ]
    return rig.model_copy(update={"branches": tuple(branches)})


def _supply_v(branch: Branch, design_v: float) -> float:
    """What the resistor of a string is chosen for [V]."""
    return design_v if branch.converter is None else branch.converter.output_v


def _times(load: Load, factor: float, design_v: float) -> Load:
    if isinstance(load, PowerLoad):
        return load.model_copy(update={"power_w": load.power_w * factor})
    if isinstance(load, CurrentLoad):
        return load.model_copy(update={"current_a": load.current_a * factor})
    if isinstance(load, ResistanceLoad):
        return load.model_copy(update={"resistance_ohm": load.resistance_ohm / factor})
    if isinstance(load, PackLoad):
        more = load.pack.model_copy(update={"current_a": load.pack.current_a * factor})
        return load.model_copy(update={"pack": more})
    assert isinstance(load, LedLoad)
    led = load.led
    if led.driver == "driver":
        scaled = led.model_copy(update={"current_a": led.current_a * factor})
    else:
        scaled = led.model_copy(update={"resistor_ohm": led.resistor_on(design_v) / factor})
    return load.model_copy(update={"led": scaled})


@settings(max_examples=80, deadline=None)
@given(rig_data(), sources, cables, st.sampled_from((None, "b0")))
def test_judge_passes_below_and_fails_above(
    data: dict[str, Any], source: Source, cable: Cable, branch: str | None
) -> None:
    rig = Rig.model_validate(data)
    case = Case(rig, source, cable)
    found = greatest_load(case, branch)

    def works(factor: float) -> bool:
        found = judge(rescaled(case, factor, branch), source, cable).findings
        return all(each.level not in GRAVE or each.rule in AS_STATED for each in found)

    if found.scale == 0.0:
        assert found.load_w == 0.0
        assert not any(works(factor) for factor in (1e-5, 1e-3, 0.1, 1.0, 3.0))
        return
    assert all(works(found.scale * share) for share in (0.998, 0.5, 0.1, 0.01))
    if found.first is None:
        # A string that its resistor and all before it can no longer harm, however little of a resistor is left.
        assert all(works(share) for share in (1e2, 1e4, 1e6))
        return
    assert not any(works(found.scale * share) for share in (1.002, 1.5, 4.0))


@settings(max_examples=40, deadline=None)
@given(st.lists(number(0.5, 20), min_size=1, max_size=3), sources, cables, number(0, 0.1))
def test_watts_are_those_of_the_loads(powers: list[float], source: Source, cable: Cable, tolerance: float) -> None:
    branches = [{"name": f"b{index}", "load": {"power": power}} for index, power in enumerate(powers)]
    rig = Rig(trigger={"request": "highest"}, branch=branches, tolerance={"load": tolerance})
    found = greatest_load(Case(rig, source, cable))
    assert math.isclose(found.load_w, found.scale * sum(powers), rel_tol=1e-9)


def lamp(**more: Any) -> Case:
    rig = Rig(trigger={"request": "20V"}, branch=[{"name": "lamp", "load": "10W"} | more])
    return Case(rig, Source(id="s", offers="5V 3A, 20V 3A", tolerance=0), FIVE_AMPERES)


def test_closed_forms() -> None:
    # 3 A from 20 V through 0.2 ohm leave 19.4 V.
    assert math.isclose(greatest_load(lamp()).load_w, 58.2, rel_tol=2e-5)
    # A converter of 90 % and 0.5 W idle on the same 58.2 W; its lead of 0.1 ohm at 12 V.
    wire = {"mm2": 1.0, "length": 1e-6, "contacts": 0.1}
    case = lamp(converter={"kind": "buck", "output": 12, "efficiency": 0.9, "idle": 0.5}, lead=wire)
    amps = (58.2 - 0.5) * 0.9 / 12
    found = greatest_load(case)
    assert math.isclose(found.load_w, amps * (12 - 0.1 * amps), rel_tol=2e-5)
    assert found.first is not None
    assert found.first.rule == "source-current"


def test_one_branch_with_the_others_as_stated() -> None:
    rig = Rig(
        trigger={"request": "20V"},
        branch=[{"name": "lamp", "load": "10W"}, {"name": "fan", "load": {"current": "1A"}}],
    )
    case = Case(rig, Source(id="s", offers="5V 3A, 20V 3A", tolerance=0), FIVE_AMPERES)
    assert math.isclose(greatest_load(case, "lamp").load_w, 2 * 19.4, rel_tol=2e-5)
    with pytest.raises(InputError) as error:
        greatest_load(case, "nobody")
    assert (error.value.what, error.value.expected) == ("no branch named 'nobody'", "one of lamp, fan")


def test_nothing_where_it_must_not_be_connected() -> None:
    case = lamp(converter={"kind": "buck", "output": 12, "efficiency": 0.9, "input": "6V-18V"})
    found = greatest_load(case)
    assert found.load_w == 0.0
    assert found.first is not None
    assert found.first.rule == "converter-input-high"


def test_the_worst_corner() -> None:
    spec = NetworkSpec(
        Triple(8.5, 9.0, 9.5),
        (),
        series=(("cable", Triple(0.1, 0.2, 0.3)), ("trigger", Triple.exact(0.05))),
        resistance=Triple(0.9, 1.0, 1.2),
        efficiency=Triple(0.97, 1.0, 1.03),
        load=Triple(0.95, 1.0, 1.05),
        copper=Triple(-10, 20, 60),
    )
    exact = Triple.exact
    # A range holds its own tolerance, which the tolerance of resistances is taken off beforehand.
    assert worst_spec(spec) == NetworkSpec(
        exact(8.5),
        (),
        series=(("cable", exact(0.3 / 1.2)), ("trigger", exact(0.05))),
        resistance=exact(1.2),
        efficiency=exact(0.97),
        load=exact(1.05),
        copper=exact(60),
    )


def test_what_fails_at_any_load_and_what_at_none() -> None:
    lost = lamp(converter={"kind": "buck", "output": 12, "efficiency": 0.9, "input": "6V-18V"})
    failure = first_failure(lost)
    assert failure is not None and failure.rule == "converter-input-high" and failure.level == "stop"
    assert greatest_load(lost)[:2] == (0.0, 0.0)
    assert first_failure(lamp()) is None


def test_the_scale_is_exact_to_one_in_a_hundred_thousand() -> None:
    scale = 58.2 / 10
    found = greatest_load(lamp())
    assert scale * (1 - 1e-5) <= found.scale <= scale * (1 + 1e-9)
    # A rig that fails as it stands: the scale is below one.
    heavy = greatest_load(lamp(load="100W"))
    assert 0.582 * (1 - 1e-5) <= heavy.scale <= 0.582 * (1 + 1e-9)
    assert isinstance(heavy, Greatest) and heavy.first is not None and heavy.first.value is not None
    # Told with the figures of a load that is a thousandth greater.
    assert math.isclose(heavy.first.value, 3.0, rel_tol=2e-3) and heavy.first.value > 3.0
