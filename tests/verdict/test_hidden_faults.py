"""Benches with hidden faults, solved apart from the package: each is named first and alone, and true in size."""

from __future__ import annotations

import random
import sys
from typing import Any, NamedTuple

import pytest

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.bringup.measured import Comparison, compare
from pdcheck.verdict.bringup.next_reading import advised
from pdcheck.verdict.bringup.sheet import Filled
from pdcheck.verdict.bringup.steps import BringUp, bring_up
from pdcheck.verdict.bringup.words import Path
from pdcheck.verdict.judge import judge
from tests.outside.hidden_benches import BENCH, PEN, Fault, Steps
from tests.outside.hidden_sheets import WAYS, Sheet, sheet
from tests.verdict.bench import typed

NAMES = {"bus-draw": "bus-draw", "source": "source-sags", "supply": "supply-resistance",
         "wire": "wire-resistance", "lead": "lead-resistance", "efficiency": "efficiency", "idle": "idle",
         "load": "load", "output": "output-setting", "fallback": "trigger-fallback", "meter": "meter-factor",
         "burden": "meter-burden", "factor": "slip", "sign": "slip", "swapped": "slip"}  # fmt: skip
CLEAR = 36.0
"""How far (chi-squared) from any sound bench the digits must show a fault: two deviations more than names it."""


def planned(rig: dict[str, Any], kit: dict[str, Any]) -> tuple[Steps, BringUp | None]:
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
    return steps, None if plan.halted else plan


def filled(made: Sheet) -> Filled:
    listed = typed(made.own, "\n".join(f"{name} {text}" for name, text in made.typed.items()))
    return Filled({key: text for key, text in made.head.items() if text}, listed.readings)


def named(found: Comparison) -> list[tuple[str, str]]:
    return [(each.kind, each.subject) for each in found.causes if each.level != "note" and each.kind != "verdict"]


def right(fault: Fault, kind: str, subject: str) -> bool:
    return kind == NAMES[fault.kind] and (fault.kind in ("burden", "meter") or subject == fault.subject)


def sheets(
    kinds: tuple[str, ...], count: int, start: int, ways: tuple[str, ...] = WAYS, whole: bool = False
) -> list[Sheet]:
    """So many sheets with faults of these kinds that their digits show."""
    found: list[Sheet] = []
    seed = start
    while len(found) < count:
        seed += 1
        made = sheet(seed, kinds, planned, ways, whole)
        if made is not None and (not set(kinds) & set(BENCH) or made.clear >= CLEAR):
            found.append(made)
    return found


class Judged(NamedTuple):
    """What became of a sheet: all faults named first, nothing else beside them, how many are inside their bounds.

    Where another figure alone would explain the readings too, it is enough that the faults are told as possible.
    """

    first: bool
    alone: bool
    inside: int
    bounds: int


def judged(made: Sheet) -> Judged:
    found = compare(made.own, filled(made))
    names, count = named(found), len(made.faults)
    first = len(names) >= count and all(any(right(each, *name) for name in names[:count]) for each in made.faults)
    if made.alike and not first:
        told = [[each.partition(" ")[::2] for each in other.causes] for other in found.others]
        first = any(all(any(right(each, *name) for name in names) for each in made.faults) for names in told)
    hits = [
        cause.bounds.min <= fault.size <= cause.bounds.max
        for fault in made.faults
        for cause in found.causes
        if cause.bounds is not None and right(fault, cause.kind, cause.subject)
    ]
    return Judged(first, first and len(names) == count, sum(hits), len(hits))


@pytest.mark.parametrize("kind", [*BENCH, *PEN])
def test_a_hidden_fault_is_named_first_and_alone(kind: str) -> None:
    for made in sheets((kind,), 2, 10_000):
        assert judged(made).alone, (made.faults, named(compare(made.own, filled(made))))


@pytest.mark.parametrize("way", WAYS)
def test_nothing_is_named_where_nothing_is_wrong(way: str) -> None:
    for made in sheets((), 6, 20_000, (way,)):
        assert named(compare(made.own, filled(made))) == []


def test_the_true_figure_is_inside_its_bounds_nineteen_times_of_twenty() -> None:
    kinds = [kind for kind in BENCH if kind not in ("fallback", "meter")]
    told = [judged(made) for kind in kinds for made in sheets((kind,), 2, 30_000)]
    assert sum(each.bounds for each in told) >= 20
    assert sum(each.inside for each in told) / sum(each.bounds for each in told) >= 0.85


@pytest.mark.parametrize(
    "kinds",
    [("wire", "bus-draw"), ("supply", "efficiency"), ("load", "lead"), ("idle", "factor"), ("source", "output")],
)
def test_two_faults_at_once_are_both_named(kinds: tuple[str, str]) -> None:
    for made in sheets(kinds, 2, 40_000):
        assert judged(made).first, (made.faults, named(compare(made.own, filled(made))))


def at_the_bench(made: Sheet) -> tuple[float, bool]:
    """The readings asked one by one: the part of the sheet that it took, and whether the fault was found."""
    whole = filled(made)
    taken: dict[tuple[Path, str], Any] = {}
    while True:
        now = Filled(whole.head, taken)
        advice = advised(compare(made.own, now), now)
        if advice.next is None:
            break
        place = advice.next.reading.path, advice.next.reading.key
        assert place not in taken, "asked for twice"
        taken[place] = whole.readings[place]
    names = named(advice.found)
    return len(taken) / len(whole.readings), bool(names) and right(made.faults[0], *names[0])


@pytest.mark.parametrize("kind", [kind for kind in BENCH if kind != "load-unread"])
def test_asked_one_by_one_half_the_readings_find_the_fault(kind: str) -> None:
    # A voltmeter that reads the bus out of every offer's range is a reason to stop, whatever else would tell.
    made = next(each for each in sheets((kind,), 4, 50_000, ("gain",), whole=True) if each.faults[0].subject != "V")
    part, found = at_the_bench(made)
    assert found, made.faults
    assert part <= 0.5


@pytest.mark.parametrize("kind", ["supply", "source", "efficiency", "load"])
def test_the_one_further_reading_tells_two_explanations_apart(kind: str) -> None:
    """Half a sheet leaves two explanations; the reading that is asked for then leaves one of them."""
    for seed in range(60_000, 60_200):
        made = sheet(seed, (kind,), planned, ("gain", "range"), True)
        if made is None or made.clear < CLEAR:
            continue
        whole = filled(made)
        left = {
            (path, key): each
            for (path, key), each in whole.readings.items()
            if key not in ("source_v", "out_a", "in_a") and not (path[0] == "together" or "half" in path)
        }
        first = compare(made.own, Filled(whole.head, left))
        if not first.others or first.further is None:
            continue
        place = first.further.reading.path, first.further.reading.key
        then = compare(made.own, Filled(whole.head, {**left, place: whole.readings[place]}))
        possible = {each.causes for each in then.others} | {tuple(f"{a} {b}" for a, b in named(then))}
        before = tuple(f"{a} {b}" for a, b in named(first))
        assert not {before, first.others[0].causes} <= possible, (seed, before, possible)
        assert right(made.faults[0], *named(then)[0]), (seed, named(then))
        return
    pytest.fail("no sheet was undecided")


if __name__ == "__main__":
    count, start = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else random.randrange(10**9)
    for title, chosen in (("single", [(kind,) for kind in (*BENCH, *PEN)]), ("sound", [()])):
        told = [
            (made, judged(made))
            for index, kinds in enumerate(chosen)
            for made in sheets(kinds, count if kinds else 4 * count, start + 1000 * index)
        ]
        good = sum(each.alone if made.faults else not named(compare(made.own, filled(made))) for made, each in told)
        inside, bounds = sum(each.inside for _, each in told), sum(each.bounds for _, each in told)
        print(f"{title}: {good} of {len(told)}, inside the bounds {inside} of {bounds}, from seed {start}")
        for made, each in told:
            if made.faults and not each.alone:
                print("  ", made.way, made.digits, made.faults, named(compare(made.own, filled(made))))
