"""Conversations written by the standard's words alone: where nobody does anything wrong, nobody is accused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pdcheck.asking.audit import audit as audited
from pdcheck.intake.sniff import read_input
from pdcheck.verdict.audit.auditing import AuditResult, audit
from tests.contract.written.clean import dressed, written
from tests.contract.written.faults import Fault
from tests.contract.written.line import Row
from tests.contract.written.planted import PLANTED, planted


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


@pytest.mark.parametrize(
    ("at", "cut", "levels"), [(0, 12, ["note"]), (-1, -5, ["note"]), (-1, -6, ["note"]), (4, -4, ["fail"])]
)
def test_a_torn_line_is_a_note_at_either_end(at: int, cut: int, levels: list[str], tmp_path: Path) -> None:
    log = [row.text(6) for row in written(2, attaches=1, length=1)]
    log[at] = log[at][-cut:] if cut > 0 else log[at][:cut]
    path = tmp_path / "torn.log"
    path.write_text("\n".join(log) + "\n")
    found = [each.finding for each in audited(path).remarks if each.finding.rule == "torn-line"]
    assert [each.level for each in found] == levels
    assert ("inside a packet" in found[0].text) == (levels == ["note"])


@pytest.mark.parametrize("fault", PLANTED, ids=[fault.name for fault in PLANTED])
@pytest.mark.parametrize("shows", ["all", "no GoodCRC", "milliseconds"])
def test_a_fault_is_named_alone(fault: Fault, shows: str) -> None:
    if fault.name in UNSEEN[shows]:
        return
    for seed in range(2):
        rows = planted(fault, seed)
        if shows == "no GoodCRC":
            rows = [row for row in rows if not row.good_crc]
        remarks = judged("\n".join(row.text(3 if shows == "milliseconds" else 6) for row in rows) + "\n").remarks
        found = [each.finding.text for each in remarks if (each.finding.level == "note") == fault.note]
        graver = [each.finding.text for each in remarks if each.finding.level != "note"]
        assert len(graver) == (not fault.note), (seed, graver)
        assert any(re.search(fault.says, text) for text in found), (seed, found)


# What such a log cannot show.
UNSEEN = {
    "all": (),
    "no GoodCRC": (
        "no GoodCRC", "GoodCRC of another message", "GoodCRC late", "role of GoodCRC", "cable mute",
    ),
    "milliseconds": ("GoodCRC late", "tried again soon"),
}  # fmt: skip
