"""Conversations written by the standard's words alone: where nobody does anything wrong, nobody is accused."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from pdcheck.asking.audit import audit as audited
from pdcheck.intake.sniff import read_input
from pdcheck.verdict.audit.auditing import AUDIT_RULES, AuditResult
from tests.contract.audited import audit
from tests.contract.written import doings
from tests.contract.written.clean import dressed, written
from tests.contract.written.faults import Fault, flip
from tests.contract.written.line import Row, Wire
from tests.contract.written.parties import Session
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


def of_source(row: Row) -> bool:
    """Whether the port that is the source here sends it."""
    return row.sop == "SOP" and bool(row.raw[1] & 1)


def plain_talk(seed: int) -> list[Row]:
    wire = Wire(random.Random(seed))
    talk = Session(wire, kind="plain", cable="3A")
    talk.discover()
    wire.wait(0.03, 0.06)
    talk.begin()
    for doing in (doings.ask_again, doings.sink_caps, doings.source_caps, doings.ask_again):
        talk.idle(0.06, 0.5)
        doing(talk)
    return wire.rows


# What one side does wrong all the time: which rows, which bits of the header the other way, the one thing to be said.
ALWAYS: dict[str, tuple[Callable[[Row], bool], int, str]] = {
    "source says sink": (of_source, 1 << 8, "Source_Capabilities of the source says that it comes from the sink"),
    "sink says source": (
        lambda row: row.sop == "SOP" and not of_source(row) and not row.good_crc, 1 << 8,
        "Request of the sink says that it comes from the source",
    ),
    "sink's GoodCRCs": (
        lambda row: row.good_crc and row.sop == "SOP" and not of_source(row), 1 << 8, "the GoodCRC for Source_Cap",
    ),
    "sink is DFP": (lambda row: row.sop == "SOP" and not of_source(row), 1 << 5, "DFP, which the source is already"),
    "reserved revision": (
        lambda row: row.sop == "SOP" and not of_source(row) and not row.good_crc, 1 << 6,
        "Specification Revision has the reserved code 3",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ALWAYS)
@pytest.mark.parametrize("seed", range(4))
def test_what_is_always_wrong_is_one_finding(name: str, seed: int) -> None:
    chosen, bits, says = ALWAYS[name]
    rows = plain_talk(seed)
    for row in [row for row in rows if chosen(row)]:
        flip(row, bits)
    found = accused(lines(rows))
    assert len(found) == 1, found
    assert says in found[0][2]


@pytest.mark.parametrize("seed", range(4))
def test_power_roles_that_turn_without_a_swap_are_one_finding(seed: int) -> None:
    rows = plain_talk(seed)
    ports = [row for row in rows if row.sop == "SOP"]
    for row in ports[len(ports) // 2 :]:
        flip(row, 1 << 8)
    [found] = accused(lines(rows))
    assert "there was no PR_Swap" in found[2]


# What such a log cannot show.
UNSEEN = {
    "all": (),
    "no GoodCRC": (
        "no GoodCRC", "GoodCRC of another message", "GoodCRC late", "role of GoodCRC", "cable mute", "stray GoodCRC",
    ),
    "milliseconds": ("GoodCRC late", "tried again soon"),
}  # fmt: skip


def test_no_two_rules_cover_each_other() -> None:
    covers = {rule.id: set(rule.covers) for rule in AUDIT_RULES}
    assert all(named in covers or named == "*" for rules in covers.values() for named in rules)
    pairs = [(one, other) for one, rules in covers.items() for other in rules if one in covers.get(other, ())]
    assert pairs == []
    assert sum("*" in rules for rules in covers.values()) <= 2
