"""What the modelled ports say, written as a log and as a waveform, is audited: clean, or just what they do wrong."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.intake.sniff import read_input
from pdcheck.verdict.audit.auditing import AuditResult
from tests.contract.audited import audit

# Scenes with a side that does not keep to the standard, and the rules above a note that are to find it.
WRONG = {
    "PPS not renewed": {"pps-silent"},
    "PPS, trigger hangs": {"pps-silent", "answer-missing"},
    "EPR entry unanswered": {"answer-missing"},
    "EPR keep-alive unanswered": {"answer-missing"},
    "EPR not kept alive": {"epr-silent"},
    "second port, by reset": {"hard-reset"},
    "rejected once": {"request-refused"},
    "rejected always": {"request-refused"},
    "GotoMin not supported": {"goto-min"},
    "GotoMin refused in Revision 2.0": {"goto-min"},
    "no answer to a request": {"answer-missing"},
    "no PS_RDY": {"ready-missing"},
    "PS_RDY late": {"ready-missing"},
    "Accept left out once": {"answer-order"},
    "hard reset": {"hard-reset"},
    "source falls silent": {"goodcrc-missing"},
    "nothing to ask for": {"offer-order"},
    "no 5 V on the list": {"answer-missing", "offer-order"},
    "list out of order": {"offer-order"},
}


def faults(judged: AuditResult) -> set[str]:
    return {remark.finding.rule for remark in judged.remarks if remark.finding.level != "note"}


@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_a_log_of_the_modelled_ports(scene: Any, seed: int | None) -> None:
    talk = scene.play(seed)
    text = talk.log()
    if not text.strip():
        assert talk.result == "type-c"
        return
    intake = read_input(text)
    judged = audit(intake.told, intake.resolution_s, cable_ma=5000 if "captive" in scene.cable else None)
    assert faults(judged) == WRONG.get(scene.name, set())
    contract = judged.log.end.contract
    if scene.result == "contract":
        assert talk.contract is not None
        assert contract is not None
        assert contract.voltage_mv == round(talk.contract.voltage_v * 1000)
        if "GotoMin" not in scene.name:
            assert contract.asked.current_ma == round(talk.contract.current_a * 1000)
        assert contract.asked.reading.word == talk.contract.request_words[0]
        assert judged.log.end.epr == talk.contract.epr or scene.name.startswith("EPR withdrawn")


@pytest.mark.parametrize("name", ["fixed", "EPR AVS", "second port", "hard reset", "PPS steps"])
def test_a_waveform_of_the_modelled_ports(scenes: dict[str, Any], name: str, tmp_path: Any) -> None:
    talk = scenes[name].play()
    path = tmp_path / "line.vcd"
    path.write_text(talk.vcd())
    intake = read_input(str(path))
    judged = audit(intake.told, intake.resolution_s, intake.lost)
    assert faults(judged) == WRONG.get(name, set())
    plain = read_input(talk.log())
    assert [told.message.raw for told in intake.told] == [told.message.raw for told in plain.told]
