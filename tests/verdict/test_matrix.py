"""Many cells judged together give the verdict, rule and watts of the single case."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.parts.kit import Kit
from pdcheck.parts.rig import Rig
from pdcheck.verdict.cells import RigCells
from pdcheck.verdict.greatest import greatest_load_w
from pdcheck.verdict.judge import judge, pairs_of


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.from_type(Rig), st.from_type(Kit))
def test_cells_equal_single(rig: Rig, kit: Kit) -> None:
    pairs = list(pairs_of(kit))
    for (source, cable), found in zip(pairs, RigCells(rig).outcomes(pairs), strict=True):
        alone = judge(rig, source, cable)
        assert found.verdict == alone.verdict
        deciding = alone.findings[0] if alone.findings and alone.findings[0].level != "note" else None
        assert found.rule == (deciding.rule if deciding else None)
        most_w = 0.0 if alone.verdict == "unsafe" else greatest_load_w(alone.case)
        assert math.isclose(found.max_w, most_w, rel_tol=1e-3, abs_tol=1e-9)
