"""The steps of a first power-up: in order, with ranges out of the sums, and none beyond what is safe."""

from __future__ import annotations

import pytest

from pdcheck.circuit.corners import corners, with_shares
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.show.demo import demo_kit, demo_rig
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.judge import judge
from tests.verdict.bench import Faults, readings, truth


def plan_of(rig: str, source: str, cable: str) -> BringUp:
    kit = demo_kit()
    return bring_up(judge(demo_rig(rig), kit.source(source), kit.cable(cable)))


def test_the_order_is_that_of_a_careful_bench() -> None:
    plan = plan_of("pier-box", "wall-45", "thin-2m")
    assert [".".join(step.path) for step in plan.steps] == [
        "unpowered",
        "trigger",
        "branch.mount.unloaded",
        "branch.mount.half",
        "branch.mount.full",
        "branch.dew-heater.half",
        "branch.dew-heater.full",
        "together",
    ]
    assert plan.halted == ""
    for step in plan.steps:
        assert step.actions
        assert step.stop
        assert all(each.where and each.outside for each in step.readings)


def test_all_together_is_the_judged_circuit_with_its_outputs_as_set() -> None:
    plan = plan_of("pier-box", "wall-45", "thin-2m")
    judged = corners(plan.case.spec, plan.case.off).nodes
    for reading in plan.steps[-1].readings:
        node = judged[reading.node]
        sums = node.current_a if reading.unit == "A" else node.voltage_v
        assert reading.expected.typ == pytest.approx(sums.typ)
        assert reading.expected.min is not None
        assert reading.expected.max is not None
        assert reading.expected.min <= sums.min
        assert reading.expected.max >= sums.max


def test_one_branch_at_half_load_is_solved_with_the_others_off() -> None:
    plan = plan_of("pier-box", "wall-45", "thin-2m")
    spec = with_shares(plan.case.spec, {"mount": 0.5})
    typical = corners(spec, frozenset({"dew-heater"})).nodes["bus"]
    reading = plan.reading(("branch", "mount", "half"), "bus_a")
    assert reading is not None
    assert reading.expected.typ == pytest.approx(typical.current_a.typ)
    assert reading.expected.typ == pytest.approx(0.6858, abs=2e-3)


@pytest.mark.parametrize(
    ("rig", "source", "cable"),
    [("pier-box", "wall-45", "thin-2m"), ("pedalboard", "old-18", "drawer"), ("field-sensor", "brick-140", "epr-1m")],
)
def test_a_true_rig_reads_inside_everywhere(rig: str, source: str, cable: str) -> None:
    plan = plan_of(rig, source, cable)
    assert plan.halted == ""
    taken = readings(plan, truth(plan.case, Faults()), {"V": 3, "A": 4})
    for step in plan.steps:
        for reading in step.readings:
            value = taken.get(reading.path, reading.key)
            assert value is not None
            if reading.unit in ("V", "A") and reading.key != "before_v":
                assert reading.expected.min is not None
                assert reading.expected.max is not None
                assert reading.expected.min - value.half <= value.value <= reading.expected.max + value.half


def test_an_unsafe_rig_gets_no_further_than_its_trigger() -> None:
    kit = Kit(source=[{"id": "s", "offers": "5V 3A, 20V 3A"}], cable=[{"id": "c", "kind": "C-C"}])
    rig = Rig(
        trigger={"request": "20V"},
        branch=[
            {
                "name": "a",
                "converter": {"kind": "buck", "input": "6V-16V", "output": "5V", "efficiency": 0.9},
                "load": "5W",
            }
        ],
    )
    plan = bring_up(judge(rig, kit.sources[0], kit.cables[0]))
    assert plan.judgement.verdict == "unsafe"
    assert [step.path[0] for step in plan.steps] == ["unpowered", "trigger"]
    assert plan.halted.startswith("do not connect it: ")


def test_a_trigger_that_gives_nothing_is_measured_and_no_more() -> None:
    kit = Kit(source=[{"id": "s", "offers": "5V 3A"}], cable=[{"id": "c", "kind": "C-C"}])
    rig = Rig(trigger={"request": "12V", "fallback": "none"}, branch=[{"name": "a", "load": "5W"}])
    plan = bring_up(judge(rig, kit.sources[0], kit.cables[0]))
    reading = plan.reading(("trigger",), "bus_v")
    assert reading is not None
    assert reading.expected.max == 0.8
    assert "the trigger gives nothing" in plan.halted


def test_where_the_bus_collapses_the_steps_end_before() -> None:
    # A gauge that does not wait for its contract is started on the 5 V that are left.
    kit, rig = demo_kit(), demo_rig("field-sensor").replace({"branch.rain-gauge.converter.start": "5V"})
    plan = bring_up(judge(rig, kit.source("wall-45"), kit.cable("thin-2m")))
    assert plan.halted == "at full load of rain-gauge the voltage collapses"
    assert ".".join(plan.steps[-1].path) != "together"


def test_a_branch_that_cannot_run_is_left_off() -> None:
    plan = plan_of("pedalboard", "tower-100", "short-5a")
    assert "cannot run on this contract" in plan.halted
    joined = {name for step in plan.steps for name in step.branches}
    assert joined.isdisjoint(plan.case.off)


def test_lights_are_on_or_off() -> None:
    plan = plan_of("field-sensor", "brick-140", "epr-1m")
    assert [step.path[2] for step in plan.steps if step.path[:2] == ("branch", "marker")] == ["full"]


def test_an_output_counts_as_set_within_the_usual_error() -> None:
    plan = plan_of("pier-box", "wall-45", "thin-2m")
    for stage in ("unloaded", "half", "full"):
        reading = plan.reading(("branch", "mount", stage), "out_v")
        assert reading is not None
        assert tuple(reading.expected) == pytest.approx((11.76, 12.0, 12.24))
