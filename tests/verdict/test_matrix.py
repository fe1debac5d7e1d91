"""Many cells judged together give the verdict, rule and watts of the single case."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.circuit.corners import OperatingTriple
from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.case import Case
from pdcheck.verdict.finding import BEST_FIRST, LEVELS
from pdcheck.verdict.greatest import greatest_load
from pdcheck.verdict.judge import judge, pairs_of
from pdcheck.verdict.matrix import matrix
from pdcheck.verdict.matrix.cells import RigCells
from pdcheck.verdict.matrix.matrix import Build, build, judge_matrix, sort_cells
from pdcheck.verdict.matrix.sorting import SORT_KEYS
from pdcheck.verdict.rules.every import RIG_RULES


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig), st.from_type(Kit))
def test_cells_equal_single(rig: Rig, kit: Kit) -> None:
    pairs = list(pairs_of(kit))
    for (source, cable), found in zip(pairs, RigCells(rig).outcomes(pairs), strict=True):
        alone = judge(rig, source, cable)
        assert found.verdict == alone.verdict
        deciding = alone.findings[0] if alone.findings and alone.findings[0].level != "note" else None
        assert found.rule == (deciding.rule if deciding else None)
        most_w = 0.0 if alone.verdict == "unsafe" else greatest_load(alone.case).load_w
        assert math.isclose(found.max_w, most_w, rel_tol=1e-3, abs_tol=1e-9)


class NoCircuit(Case):
    """A case that has no circuit to look at."""

    @property
    def point(self) -> OperatingTriple | None:  # type: ignore[override]
        raise AssertionError("a rule looks at the circuit, against its scope")


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig), st.from_type(Kit))
def test_rules_keep_to_their_scope_and_level(rig: Rig, kit: Kit) -> None:
    for source, cable in pairs_of(kit):
        for rule in RIG_RULES:
            case = Case(rig, source, cable) if rule.scope == "circuit" else NoCircuit(rig, source, cable)
            for finding in rule.findings(case):
                assert LEVELS.index(finding.level) >= LEVELS.index(rule.level)


def random_builds(cells: int) -> list[Build]:
    kit = Kit.model_validate(
        {
            "source": [
                {"id": f"s{at}", "offers": f"5V 3A, 9V 3A, 15V {1 + at / 100:.2f}A"} for at in range(cells // 2)
            ],
            "cable": [{"id": "c0", "kind": "C-C", "loop": "0.1ohm"}, {"id": "c1", "kind": "C-C"}],
        }
    )
    rigs = (
        Rig.model_validate({"trigger": {"request": volts}, "branch": [{"name": "lamp", "load": {"power": watts}}]})
        for volts, watts in (("15V", 20.0), ("9V", 30.0))
    )
    return [build(f"rig{at}", rig, kit) for at, rig in enumerate(rigs)]


def test_cells_come_in_order_whatever_the_processes() -> None:
    builds = random_builds(60)
    told: list[int] = []
    cells = judge_matrix(builds, processes=1, advance=told.append)
    assert sum(told) == len(cells) == 120
    assert [(cell.rig, cell.source, cell.cable) for cell in cells] == [
        (each.name, source.id, cable.id) for each in builds for source, cable in each.pairs
    ]
    assert judge_matrix(builds, processes=2) == cells


def test_cells_judged_in_parts_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    builds = random_builds(60)
    whole = judge_matrix(builds)
    monkeypatch.setattr(matrix, "_TOGETHER", 7)
    parts = judge_matrix(builds)
    assert [cell[:5] for cell in parts] == [cell[:5] for cell in whole]
    assert all(math.isclose(a.max_w, b.max_w, rel_tol=1e-4) for a, b in zip(parts, whole, strict=True))


def test_sorting() -> None:
    cells = judge_matrix(random_builds(20))
    for key in SORT_KEYS:
        assert set(sort_cells(cells, key)) == set(cells)
    assert [BEST_FIRST.index(cell.verdict) for cell in sort_cells(cells, "verdict")] == sorted(
        BEST_FIRST.index(cell.verdict) for cell in cells
    )
    most = [cell.max_w for cell in sort_cells(cells, "max_w")]
    assert most == sorted(most, reverse=True)


def test_unknown_ids_and_fixed_cables() -> None:
    kit = Kit.model_validate(
        {
            "source": [{"id": "own", "offers": "5V 3A", "captive": True}, {"id": "free", "offers": "5V 3A"}],
            "cable": [{"id": "c", "kind": "C-C"}],
        }
    )
    rig = Rig.model_validate({"trigger": {"request": "5V"}, "branch": [{"name": "lamp", "load": {"power": 5}}]})
    assert [(s.id, c.id) for s, c in build("r", rig, kit).pairs] == [("own", "own-cable"), ("free", "c")]
    assert [(s.id, c.id) for s, c in build("r", rig, kit, cables=["own-cable"]).pairs] == [("own", "own-cable")]
    for sources, cables in ((["nobody"], []), ([], ["nothing"])):
        with pytest.raises(InputError):
            build("r", rig, kit, sources, cables)
