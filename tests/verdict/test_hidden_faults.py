"""Benches with hidden faults, solved by SciPy: the diagnosis names them, first and alone, with their true size."""

from __future__ import annotations

import sys
from collections import Counter
from typing import Any

import pytest

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.bringup.measured import Comparison, compare
from pdcheck.verdict.bringup.next_reading import advised
from pdcheck.verdict.bringup.sheet import Filled
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.judge import judge
from tests.outside.hidden_faults import BENCH, PEN, Fault, sheets
from tests.verdict.bench import typed

NAMES = {"bus-draw": "bus-draw", "source": "source-sags", "supply": "supply-resistance",
         "wire": "wire-resistance", "lead": "lead-resistance", "efficiency": "efficiency", "idle": "idle",
         "load": "load", "output": "output-setting", "fallback": "trigger-fallback", "meter": "meter-factor",
         "burden": "meter-burden", "factor": "slip", "sign": "slip", "swapped": "slip"}  # fmt: skip


def planned(rig: dict[str, Any], kit: dict[str, Any]) -> tuple[Any, BringUp]:
    listed = Kit.model_validate(kit)
    plan = bring_up(judge(Rig.model_validate(rig), listed.sources[0], listed.cables[0]))
    steps = [
        (
            ".".join(step.path),
            list(step.branches),
            step.share,
            [(each.name, each.key, each.path[1] if each.key == "input_ohm" else each.node.partition("/")[0])
             for each in step.readings],
        )
        for step in plan.steps
    ]  # fmt: skip
    return steps, plan


def one(seed: int, *kinds: str) -> tuple[Comparison, tuple[Fault, ...]] | None:
    made = sheets(seed, kinds, planned)
    if made is None or made[0].halted:
        return None
    plan, faults, written, _ = made
    return compare(plan, typed(plan, "\n".join(f"{name} {text}" for name, text in written.items()))), faults


def named(found: Comparison) -> list[tuple[str, str]]:
    return [(each.kind, each.subject) for each in found.causes if each.level != "note"]


def right(fault: Fault, kind: str, subject: str) -> bool:
    if fault.kind in ("burden", "meter"):
        return kind == NAMES[fault.kind]
    return (NAMES[fault.kind], fault.subject) == (kind, subject)


def inside(found: Comparison, fault: Fault) -> bool | None:
    cause = next((each for each in found.causes if right(fault, each.kind, each.subject)), None)
    if cause is None or cause.bounds is None:
        return None
    return bool(cause.bounds.min <= fault.size <= cause.bounds.max)


def rates(kinds: list[tuple[str, ...]], each: int, start: int = 0) -> dict[str, Any]:
    count: Counter[str] = Counter()
    missed, bounds = [], []
    for kind in kinds:
        got, seed = 0, start
        while got < each and seed < start + 40 * each:
            seed += 1
            found = one(seed, *kind)
            if found is None:
                continue
            got += 1
            names = named(found[0])
            names = [name for name in names if name[0] != "verdict"]
            count["all"] += 1
            if not kind:
                good = not names
            else:
                good = len(names) >= len(kind) and all(
                    any(right(fault, *name) for name in names[: len(kind)]) for fault in found[1]
                )
            count["good"] += good
            if not good:
                missed.append((kind, seed, found[1], names))
            bounds += [hit for fault in found[1] if (hit := inside(found[0], fault)) is not None]
    return {"good": count["good"], "all": count["all"], "missed": missed, "inside": sum(bounds), "bounds": len(bounds)}


SHEETS = 3


@pytest.mark.parametrize("kind", [*BENCH, *PEN])
def test_a_hidden_fault_is_named_first_and_alone(kind: str) -> None:
    told = rates([(kind,)], SHEETS)
    assert told["all"] == SHEETS
    assert told["good"] == SHEETS, told["missed"]


def test_nothing_is_named_where_nothing_is_wrong() -> None:
    told = rates([()], 12)
    assert told["good"] == told["all"] == 12, told["missed"]


def test_the_true_figure_is_inside_its_bounds_nineteen_times_of_twenty() -> None:
    told = rates([(kind,) for kind in BENCH if kind not in ("fallback", "meter")], SHEETS, start=500)
    assert told["bounds"] >= 25
    assert told["inside"] / told["bounds"] >= 0.85, told


@pytest.mark.parametrize(
    "kinds",
    [("wire", "bus-draw"), ("supply", "efficiency"), ("load", "lead"), ("idle", "factor"), ("source", "output")],
)
def test_two_faults_at_once_are_both_named(kinds: tuple[str, str]) -> None:
    told = rates([kinds], 2)
    assert told["good"] == told["all"] == 2, told["missed"]


def at_the_bench(seed: int, kind: str) -> tuple[float, bool] | None:
    """The readings asked one by one: the part of the sheet that it took, and whether the fault was found."""
    made = sheets(seed, (kind,), planned)
    if made is None or made[0].halted:
        return None
    plan, faults, written, _ = made
    whole = typed(plan, "\n".join(f"{name} {text}" for name, text in written.items())).readings
    taken: dict[Any, Any] = {}
    while True:
        advice = advised(compare(plan, Filled({}, taken)), Filled({}, taken))
        if advice.next is None:
            break
        place = advice.next.reading.path, advice.next.reading.key
        assert place not in taken, "asked for twice"
        taken[place] = whole[place]
    names = [name for name in named(advice.found) if name[0] != "verdict"]
    return len(taken) / len(whole), bool(names) and right(faults[0], *names[0])


@pytest.mark.parametrize("kind", BENCH)
def test_asked_one_by_one_half_the_readings_find_the_fault(kind: str) -> None:
    found = next(each for seed in range(3000, 3100) if (each := at_the_bench(seed, kind)) is not None)
    assert found[1]
    assert found[0] <= 0.5


@pytest.mark.parametrize("kind", ["supply", "source", "efficiency", "load", "burden", "wire"])
def test_the_one_further_reading_tells_two_explanations_apart(kind: str) -> None:
    """Half a sheet leaves two explanations; the reading that is asked for then leaves the true one."""
    decided = 0
    for seed in range(4000, 4040):
        made = sheets(seed, (kind,), planned)
        if made is None or made[0].halted or decided == 2:
            continue
        plan, faults, written, _ = made
        whole = typed(plan, "\n".join(f"{name} {text}" for name, text in written.items())).readings
        left = {
            (path, key): each
            for (path, key), each in whole.items()
            if key not in ("source_v", "out_a") and not (path[0] == "together" or "half" in path)
        }
        first = compare(plan, Filled({}, left))
        if not first.others or first.further is None:
            continue
        place = first.further.reading.path, first.further.reading.key
        then = compare(plan, Filled({}, {**left, place: whole[place]}))
        told = {each.causes for each in then.others}
        names = [name for name in named(then) if name[0] != "verdict"]
        assert right(faults[0], *names[0]), (seed, names)
        assert first.others[0].causes not in told or tuple(f"{a} {b}" for a, b in names[:1]) == first.others[0].causes
        decided += 1


if __name__ == "__main__":
    each = int(sys.argv[1])
    chosen = [(kind,) for kind in (*BENCH, *PEN)]
    for title, kinds, number in (("single", chosen, each), ("none", [()], 4 * each)):
        told = rates(kinds, number, start=int(sys.argv[2]) if len(sys.argv) > 2 else 0)
        print(title, told["good"], "of", told["all"], "bounds", told["inside"], "of", told["bounds"])
        for line in told["missed"]:
            print("  ", *line)
