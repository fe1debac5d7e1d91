"""The matrix around its cells: bounds by node, pairs of a build, tasks and processes, orders of sorting."""

from __future__ import annotations

import os

import pytest

from pdcheck.circuit.point import Bound
from pdcheck.errors import InputError
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.parts.kit import Kit
from pdcheck.parts.limits import Catalogue, LimitRule, PartLimit
from pdcheck.parts.rig import Rig
from pdcheck.parts.trigger import Trigger
from pdcheck.quantities import Triple
from pdcheck.verdict import gravest, greatest
from pdcheck.verdict.bounds import branch_bounds, shared_bounds
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import BEST_FIRST, LEVELS
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.matrix import matrix
from pdcheck.verdict.matrix.cells import Outcome
from pdcheck.verdict.matrix.matrix import Cell, build, judge_matrix, sort_cells
from pdcheck.verdict.matrix.sorting import SORT_KEYS
from pdcheck.verdict.rules import every

KIT = Kit.model_validate(
    {
        "source": [
            {"id": "s0", "offers": "5V 3A, 9V 3A"},
            {"id": "s1", "offers": "5V 3A, 9V 2A, 15V 2A"},
            {"id": "own", "offers": "5V 3A", "captive": True},
        ],
        "cable": [{"id": "c0", "kind": "C-C", "loop": "0.1ohm"}, {"id": "c1", "kind": "A-C", "loop": "0.1ohm"}],
    }
)
LAMP = {"name": "lamp", "load": {"power": 5.0}}


def rig_of(*branches, request="9V", **trigger):
    return Rig.model_validate({"trigger": {"request": request} | trigger, "branch": list(branches) or [LAMP]})


def test_every_limit_of_a_branch_at_its_node():
    full = {
        "kind": "buck",
        "input": [7, 30],
        "input_limit": 2,
        "input_power": 25,
        "output": 5,
        "dropout": 1.5,
        "output_limit": 3,
        "power_limit": 14,
    }
    wire = {"awg": 20, "length": 1}
    rig = rig_of(
        {
            "name": "a",
            "converter": full,
            "wire": wire,
            "lead": wire | {"awg": 24},
            "load": {"power": 5, "voltage": [4.5, 6]},
        },
        {"name": "b", "load": {"led": {"count": 2, "vf": 3.0, "current": 0.1, "headroom": 0.5}}},
        LAMP,
        {"name": "d", "converter": {"kind": "buck", "output": 5}, "load": {"power": 5}},
    )
    first = rig.branches[0]
    assert first.wire is not None and first.lead is not None
    assert branch_bounds(rig) == [
        Bound("a/in", "current", "at_most", first.wire.ampacity_a()),
        Bound("a/in", "voltage", "at_least", 7.0),
        Bound("a/in", "current", "at_most", 2.0),
        Bound("a/in", "power", "at_most", 25.0),
        Bound("a/out", "current", "at_most", 3.0),
        Bound("a/out", "power", "at_most", 14.0),
        Bound("a/load", "current", "at_most", first.lead.ampacity_a()),
        Bound("a/load", "voltage", "at_least", 4.5),
        Bound("b/load", "voltage", "at_least", 6.5),
        Bound("d/in", "voltage", "at_least", 5.0),
    ]


@pytest.mark.parametrize(
    ("offered", "cable", "rated", "most"),
    [
        ("2A", "5A", "3A", 2.0),
        ("5A", "3A", "5A", 3.0),
        ("5A", "5A", "4A", 4.0),
        ("5A", "5A", None, 5.0),
        ("6A", "6A", None, 5.0),
    ],
)
def test_the_least_of_all_that_bounds_the_source(offered, cable, rated, most):
    kit = Kit.model_validate(
        {
            "source": [{"id": "s", "offers": f"5V 3A, 9V {offered}"}],
            "cable": [{"id": "c", "kind": "C-C", "rating": cable, "loop": "0.1ohm"}],
        }
    )
    [bound] = shared_bounds(Case(rig_of(rating=rated), kit.sources[0], kit.cables[0]))
    assert bound == Bound("source", "current", "at_most", most)


@pytest.fixture
def made_up():
    """A rule that no part has; it is in no catalogue afterwards."""
    rule = LimitRule("made-up", "fail", "Too much", COMMON_PRACTICE, "Less.", "{value} of {limit}", about="trigger")
    Catalogue.rules.remove(rule)
    return rule


@pytest.mark.parametrize(
    ("node", "quantity", "sense", "figure"),
    [
        ("bus", "power", "at_most", 22.0),
        ("source", "power", "at_most", 20.0),
        ("bus", "current", "at_most", 1.1),
        ("bus", "voltage", "at_least", 14.0),
        ("source", "current", "at_most", 0.9),
    ],
)
def test_a_limit_of_what_is_shared_counts_whatever_it_is_of(made_up, monkeypatch, node, quantity, sense, figure):
    """``envelope`` asks limit by limit, the matrix all circuits at once: another limit of a shared part is in both."""
    kit = Kit.model_validate(
        {
            "source": [{"id": "s", "offers": "5V 3A, 9V 3A, 15V 3A"}, {"id": "t", "offers": "5V 3A, 9V 1A"}],
            "cable": [{"id": f"c{ohm}", "kind": "C-C", "loop": f"{ohm}mohm"} for ohm in (50, 200, 310)],
        }
    )
    rig = rig_of(LAMP, {"name": "heat", "load": {"resistance": 36}}, request="15V")
    limits = (*rig.trigger.limits(), PartLimit(made_up, node, quantity, sense, figure, "trigger", "trigger"))
    monkeypatch.setattr(Trigger, "limits", lambda self: iter(limits))
    monkeypatch.setitem(gravest._PLACES, made_up.id, (LEVELS.index("fail"), 0))
    monkeypatch.setattr(greatest, "_GRAVE_RULES", (*greatest._GRAVE_RULES, every._of_limit(made_up)))
    cells = judge_matrix([build("r", rig, kit)])
    for cell in cells:
        case = Case(rig, kit.source(cell.source), kit.cable(cell.cable))
        assert cell.max_w == pytest.approx(greatest_load(case).load_w, rel=1e-5, abs=1e-6)
    assert len({round(cell.max_w, 4) for cell in cells}) > 1


def pairs_of_build(*chosen):
    return [(source.id, cable.id) for source, cable in build("r", rig_of(), KIT, *chosen).pairs]


def test_the_pairs_of_a_build():
    everything = [("s0", "c0"), ("s0", "c1"), ("s1", "c0"), ("s1", "c1"), ("own", "own-cable")]
    assert pairs_of_build() == everything
    assert pairs_of_build(["s1", "s0"]) == everything[:4]
    assert pairs_of_build([], ["c1"]) == [("s0", "c1"), ("s1", "c1")]
    assert pairs_of_build(["own", "s0"], ["own-cable", "c1"]) == [("s0", "c1"), ("own", "own-cable")]
    made = build("named", rig_of(), KIT)
    assert (made.name, made.rig) == ("named", rig_of())


@pytest.mark.parametrize(("chosen", "told"), [((["s0", "x"],), "x"), (([], ["c0", "y"]), "y")])
def test_an_id_that_is_not_in_the_kit(chosen, told):
    with pytest.raises(InputError) as refused:
        build("r", rig_of(), KIT, *chosen)
    assert f"'{told}'" in refused.value.what and refused.value.expected


def test_tasks_of_a_few_pairs_each_in_order(monkeypatch):
    builds = [
        build("one", rig_of(), KIT),
        build("two", rig_of(request="15V"), KIT),
        build("none", rig_of(), KIT, ["own"], ["c0"]),
    ]
    whole = judge_matrix(builds)
    assert [tuple(cell[:5]) for cell in whole] == [
        ("one", "s0", "c0", "runs", None),
        ("one", "s0", "c1", "fails", "source-current"),
        ("one", "s1", "c0", "runs", None),
        ("one", "s1", "c1", "fails", "source-current"),
        ("one", "own", "own-cable", "limited", "contract-fallback"),
        ("two", "s0", "c0", "limited", "contract-fallback"),
        ("two", "s0", "c1", "fails", "source-current"),
        ("two", "s1", "c0", "runs", None),
        ("two", "s1", "c1", "fails", "source-current"),
        ("two", "own", "own-cable", "limited", "contract-fallback"),
    ]
    told = []
    monkeypatch.setattr(matrix, "_TOGETHER", 2)
    assert [cell[:5] for cell in judge_matrix(builds, processes=1, advance=told.append)] == [cell[:5] for cell in whole]
    assert told == [2, 2, 1, 2, 2, 1]
    assert judge_matrix([]) == []


def test_how_many_processes(monkeypatch):
    asked = []

    def outcomes(builds, tasks, processes):
        asked.append(processes)
        yield from ((at, [Outcome("runs", None, 1.0)] * (end - start)) for at, (_, start, end) in enumerate(tasks))

    monkeypatch.setattr(matrix, "_outcomes", outcomes)
    monkeypatch.setattr(matrix, "_cores", lambda: 3)
    monkeypatch.setattr(matrix, "_TOGETHER", 4)
    few, many = build("few", rig_of(), KIT, ["s0", "s1"]), build("many", rig_of(), KIT, ["s0", "s1"])
    judge_matrix([few])
    judge_matrix([few, many])
    judge_matrix([few, many, few, many])
    judge_matrix([few, many], processes=1)
    judge_matrix([few, many], processes=2)
    judge_matrix([few, many], processes=8)
    # One on the limit; no more of them than there is work.
    assert asked == [1, 2, 3, 1, 2, 2]


def test_a_rig_is_kept_while_its_tasks_come(monkeypatch):
    made = []

    class Kept(matrix.RigCells):
        def __init__(self, rig, shared):
            made.append((rig, shared))
            super().__init__(rig, shared)

    monkeypatch.setattr(matrix, "RigCells", Kept)
    builds = [build("one", rig_of(), KIT), build("two", rig_of(request="15V"), KIT)]
    judged = matrix._judging(builds)
    sizes = [len(judged(task)) for task in ((0, 0, 2), (0, 2, 4), (1, 0, 1), (0, 4, 9))]
    assert sizes == [2, 2, 1, 1]
    assert [rig for rig, _ in made] == [builds[0].rig, builds[1].rig, builds[0].rig]
    assert all(shared is made[0][1] for _, shared in made)


def test_a_process_of_its_own_works_as_this_one_does(monkeypatch):
    monkeypatch.setattr(matrix, "_judged", None)
    builds = [build("one", rig_of(), KIT)]
    matrix._begin(builds)
    at, outcomes = matrix._work((7, (0, 0, 2)))
    assert at == 7 and outcomes == matrix._judging(builds)((0, 0, 2))


def test_cores(monkeypatch):
    monkeypatch.setattr(os, "sched_getaffinity", lambda process: {0, 1, 5} if process == 0 else set(), raising=False)
    assert matrix._cores() == 3
    monkeypatch.delattr(os, "sched_getaffinity")
    monkeypatch.setattr(os, "cpu_count", lambda: 6)
    assert matrix._cores() == 6
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert matrix._cores() == 1


ROWS = [
    Cell("b", "t", "c", "fails", "source-current", 9.0, hours=Triple(4.0, 6.0, 9.0)),
    Cell("a", "s", "d", "runs", None, 5.0),
    Cell("a", "s", "c", "runs", None, 12.0),
    Cell("b", "s", "b", "unsafe", "cable-voltage", 0.0, hours=Triple(5.0, 5.5, 6.0)),
    Cell("c", "u", "a", "limited", "contract-fallback", 9.0),
]


@pytest.mark.parametrize(
    ("key", "order"),
    [
        ("verdict", [2, 1, 4, 0, 3]),
        ("max_w", [2, 0, 4, 1, 3]),
        ("hours", [3, 0, 1, 2, 4]),
        ("rule", [1, 2, 3, 4, 0]),
        ("source", [1, 2, 3, 0, 4]),
        ("cable", [4, 3, 0, 2, 1]),
        ("rig", [1, 2, 0, 3, 4]),
    ],
)
def test_every_order(key, order):
    assert [ROWS.index(cell) for cell in sort_cells(ROWS, key)] == order
    assert BEST_FIRST == ("runs", "limited", "fails", "unsafe")
    assert set(SORT_KEYS) == {"verdict", "max_w", "hours", "rule", "source", "cable", "rig"}
