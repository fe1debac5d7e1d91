"""Random, cut and shuffled conversations: the audit never raises, keeps its word in JSON, and a kit is never harmed."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pdcheck.bits.message import build_message
from pdcheck.cli import run
from pdcheck.intake.sniff import read_input
from pdcheck.parts.kit import Kit
from pdcheck.verdict.audit.auditing import AUDIT_RULES
from tests.contract.audited import audit

SOPS = st.sampled_from(["SOP", "SOP", "SOP", "SOP'", "SOP''"])
WORDS = st.lists(
    st.integers(0, 2**32 - 1) | st.sampled_from([0x0801912C, 0x0002D12C, 0x1304B12C, 0xC0DC213C]), max_size=7
)


@st.composite
def random_lines(draw: st.DrawFn) -> str:
    """A log of messages that mean nothing, but have headers and CRCs as messages have."""
    lines: list[str] = []
    now = 0.0
    for _ in range(draw(st.integers(1, 25))):
        now += draw(st.floats(0, 20))
        if draw(st.integers(0, 9)) == 0:
            lines.append(f"{now:.6f} {draw(st.sampled_from(['Hard_Reset', 'Cable_Reset']))}")
            continue
        words = draw(WORDS)
        header = draw(st.integers(0, 0x0FFF)) | len(words) << 12
        if words and draw(st.integers(0, 5)) == 0:
            header |= 0x8000
            words[0] |= 0x8000  # chunked, so that the length is the header's
        raw = build_message(header, words)
        lines.append(f"{now:.6f} {draw(SOPS)} {raw.hex()}")
    return "\n".join(lines)


@settings(max_examples=200, deadline=None)
@given(random_lines(), st.sampled_from([None, 1e-6, 1e-3, 1.0]))
def test_random_messages_never_raise(text: str, resolution_s: float | None) -> None:
    intake = read_input(text)
    judged = audit(intake.told, resolution_s, intake.lost)
    judged.to_json()
    assert str(judged)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10**6))
def test_cut_and_shuffled_conversations_never_raise(scenes: dict[str, Any], seed: int) -> None:
    chance = random.Random(seed)
    lines = chance.choice(list(scenes.values())).play(seed).log().splitlines()
    if not lines:
        return
    begin = chance.randrange(len(lines))
    kept = [line for line in lines[begin:] if chance.random() > 0.1]
    if chance.random() < 0.3:
        chance.shuffle(kept)
    if not kept:
        return
    intake = read_input("\n".join(kept))
    judged = audit(intake.told, intake.resolution_s)
    judged.to_json()
    str(judged)


def test_a_log_that_begins_in_the_middle_is_not_blamed_for_it(scenes: dict[str, Any]) -> None:
    lines = scenes["PPS renewed"].play().log().splitlines()
    for begin in range(0, len(lines), 2):
        intake = read_input("\n".join(lines[begin:]))
        judged = audit(intake.told, intake.resolution_s)
        assert not [remark for remark in judged.remarks if remark.finding.level != "note"], begin


@pytest.fixture
def log(scenes: dict[str, Any], tmp_path: Path) -> Path:
    path = tmp_path / "talk.log"
    path.write_text(scenes["EPR"].play().log())
    return path


KIT = """# my chargers
[[source]]
id = "wall"   # the white one
offers = "5V 3A"

[[cable]]
id = "thin"
kind = "C-C"
"""


def test_offers_are_kept(log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(KIT)
    assert run(["audit", str(log), "--keep", str(kit), "--as", "big"]) == 0
    text = kit.read_text()
    assert all(line in text for line in KIT.splitlines())
    source = Kit.read(kit).source("big")
    assert source.captured_over == "EPR"
    wanted = [(offer.position, offer.word) for offer in audit(read_input(str(log)).told).offers if not offer.is_gap]
    assert [(offer.position, offer.word) for offer in source.offers if not offer.is_gap] == wanted
    assert run(["audit", str(log), "--keep", str(kit), "--as", "big"]) == 2
    assert run(["audit", str(log), "--keep", str(kit), "--as", "wall"]) == 2
    assert kit.read_text() == text
    assert run(["audit", str(log), "--keep", str(kit), "--as", "wall", "--replace"]) == 0
    assert len(Kit.read(kit).source("wall").offers) > 1
    assert "# my chargers" in kit.read_text()
    assert sorted(path.name for path in tmp_path.iterdir() if path.suffix != ".log") == ["kit.toml"]
    capsys.readouterr()


def test_the_command_line(log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["audit", str(log), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "pdcheck/audit/2"
    assert document["contract"]["voltage_mv"] == 28000
    assert document["findings"] == []
    assert document["message_count"] == len(log.read_text().splitlines())
    assert all(set(line) == {"index", "time_s", "sender", "type", "text"} for line in document["timeline"])
    assert run(["audit", str(log)]) == 0
    out = capsys.readouterr().out
    assert "contract: 28 V 5 A (object" in out
    assert "times more" in out
    for arguments in (
        ["5V 3A, 9V 3A"],
        [str(tmp_path / "none.log")],
        [str(log), "--keep", "kit.toml"],
        [str(log), "--as", "x"],
        [str(log), "--replace"],
        [str(log), "--cable", "rope"],
        ["zz"],
    ):
        assert run(["audit", *arguments]) == 2, arguments
        assert capsys.readouterr().err.count("\n") == 1


def test_a_fault_ends_in_one(scenes: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.log"
    path.write_text(scenes["no PS_RDY"].play().log())
    assert run(["audit", str(path), "--json"]) == 1
    finding = json.loads(capsys.readouterr().out)["findings"][0]
    assert set(finding) == {
        "rule", "level", "subject", "index", "time_s", "value", "limit", "unit", "origin", "text", "advice",
    }  # fmt: skip
    assert finding["rule"] == "ready-missing"


def test_the_document_lists_every_rule() -> None:
    text = (Path(__file__).parents[2] / "docs" / "audit.md").read_text(encoding="utf-8")
    for rule in AUDIT_RULES:
        assert f"| `{rule.id}` | {rule.level}" in text
