"""Benches with hidden faults, solved by SciPy: the diagnosis names them, first and alone, with their true size."""

from __future__ import annotations

import sys
from collections import Counter
from typing import Any

import pytest

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.bringup.measured import Comparison, compare
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


if __name__ == "__main__":
    each = int(sys.argv[1])
    chosen = [(kind,) for kind in (*BENCH, *PEN)]
    for title, kinds, number in (("single", chosen, each), ("none", [()], 4 * each)):
        told = rates(kinds, number, start=int(sys.argv[2]) if len(sys.argv) > 2 else 0)
        print(title, told["good"], "of", told["all"], "bounds", told["inside"], "of", told["bounds"])
        for line in told["missed"]:
            print("  ", *line)
