"""What a conversation comes to is what a judgement of the same source and cable counts on."""

from __future__ import annotations

from typing import Any

import pytest

from pdcheck.contract.talk.sink_port import PROPER
from pdcheck.parts.rig import Rig
from pdcheck.verdict.judge import judge

# What happens later, or because of the trigger, is not the source's offer.
LATER = {"steps_down", "goto_min", "hard_reset"}


def test_contract_and_verdict(scene: Any) -> None:
    if scene.events or scene.manner != PROPER or LATER & set(scene.behaviour):
        pytest.skip("something happens that a judgement does not look at")
    trigger, source, cable = scene.parts()
    talk = scene.play()
    found = judge(Rig(trigger=trigger, branch=[{"name": "lamp", "load": {"current": "10mA"}}]), source, cable)
    broken = [finding.rule for finding in found.findings if finding.level in ("stop", "fail")]
    contract = found.case.contract
    if talk.result == "failed":
        assert broken == ["source-behaviour"]
    elif talk.result == "off":
        assert broken == ["contract-off"]
        assert talk.contract is not None
        assert contract.request_words == talk.contract.request_words
    else:
        assert talk.contract is not None
        assert not broken
        assert contract.kind == talk.contract.kind
        assert (contract.voltage_v, contract.current_a) == (talk.contract.voltage_v, talk.contract.current_a)
        assert contract.position == talk.contract.position
        assert contract.request_words == talk.contract.request_words
