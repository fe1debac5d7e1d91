"""Conversations written by the standard's words alone: where nobody does anything wrong, nobody is accused."""

from __future__ import annotations

import pytest

from pdcheck.intake.sniff import read_input
from pdcheck.verdict.audit.auditing import AuditResult, audit
from tests.contract.written.clean import dressed, written
from tests.contract.written.line import Row


def judged(text: str) -> AuditResult:
    intake = read_input(text)
    return audit(intake.told, intake.resolution_s, intake.lost, gaps=intake.gaps)


def accused(text: str) -> list[tuple[int | None, str, str]]:
    """What is found that is more than a note; that a Hard Reset came is no accusation where one did."""
    found = [each for each in judged(text).remarks if each.finding.level != "note"]
    return [(each.number, each.finding.rule, each.finding.text) for each in found if each.finding.rule != "hard-reset"]


@pytest.mark.parametrize("block", range(8))
def test_nobody_is_accused_where_all_is_right(block: int) -> None:
    for seed in range(block * 50, block * 50 + 50):
        log = dressed(written(seed), seed + 1)
        assert accused(log.text) == [], seed


def lines(rows: list[Row]) -> str:
    return "\n".join(row.text(6) for row in rows) + "\n"


@pytest.mark.parametrize("seed", range(1000, 1010))
def test_a_log_may_begin_and_end_anywhere(seed: int) -> None:
    rows = written(seed, attaches=1, length=4)
    for cut in range(0, len(rows) - 1, 3):
        assert accused(lines(rows[cut:])) == [], cut
        assert accused(lines(rows[: len(rows) - cut])) == [], cut
