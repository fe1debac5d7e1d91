"""The ``need`` command: what it states can be bought, put into a kit and checked."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from pdcheck.cli import run

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"


def need(name: str, capsys: pytest.CaptureFixture[str], code: int = 0) -> dict[str, Any]:
    assert run(["need", str(DEMO / f"{name}.toml"), "--json"]) == code
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert document["schema"] == "pdcheck/need/3"
    return document


@pytest.mark.parametrize("name", ["pier-box", "field-sensor"])
@pytest.mark.parametrize("which", [None, "as_set", "in_hand"])
def test_a_kit_of_what_is_stated_passes_check_and_one_of_less_does_not(
    name: str, which: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = need(name, capsys)
    stated = told if which is None else told[which]
    kit = tmp_path / "kit.toml"

    def code(label: str, loop_ohm: float) -> int:
        cable = stated["cable"]
        kind = 'kind = "EPR"' if cable["epr"] else f'kind = "C-C"\nrating = "{cable["current_ma"]}mA"'
        kit.write_text(f'[[source]]\nid = "s"\noffers = "{label}"\n[[cable]]\nid = "c"\n{kind}\nloop = {loop_ohm}\n')
        found = run(["check", str(DEMO / f"{name}.toml"), "--kit", str(kit), "--brief"])
        out = capsys.readouterr().out
        return 0 if which == "in_hand" and "runs" in out.split() else 1 if which == "in_hand" else found

    label, loop = stated["source"]["label"], stated["cable"]["loop_ohm"]
    assert code(label, loop) == 0
    assert code(label, 1.01 * loop) == 1


def test_all_parts_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    told = need("pier-box", capsys)
    assert (told["possible"], told["pps"], told["epr"]) == (True, False, False)
    assert told["cable"]["cable_class"] == "3A"
    assert [each["awg"] for each in told["cable"]["lengths"]] == [28, 24, 22, 20]
    assert [(each["branch"], each["part"]) for each in told["wires"]] == [
        ("mount", "wire"),
        ("mount", "lead"),
        ("dew-heater", "wire"),
    ]
    assert {each["setting"] for each in told["settings"]} >= {"5 V", "9 V", "15 V", "20 V", "48 V", "highest"}
    assert {each["fallback"] for each in told["fallbacks"]} == {"next-lower", "5V", "none"}
    assert told["best_fallback"] == "5V"


def test_text_says_what_to_buy(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["need", str(DEMO / "field-sensor.toml")]) == 0
    out = capsys.readouterr().out
    assert "46 W" in out
    assert "3A" in out


def test_what_nothing_satisfies_is_said_with_the_reason(capsys: pytest.CaptureFixture[str]) -> None:
    told = need("pedalboard", capsys, code=1)
    assert (told["possible"], told["pdp_w"], told["cable"]) == (False, None, None)
    assert any("12 V is not on offer" in reason for reason in told["reasons"])
    assert {each["setting"]: each["pdp_w"] for each in told["settings"]}["15 V"] == 28


def test_one_line_for_what_cannot_be_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["need", "nothing.toml"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
