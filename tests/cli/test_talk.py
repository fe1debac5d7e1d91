"""The ``talk`` and ``settings`` commands: their forms, what they write, and one line for what cannot be read."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from pdcheck.cli import run
from pdcheck.contract.talk.pages import page

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "pdcheck" / "data"
RIG = ["talk", str(DEMO / "pier-box.toml"), "--kit", str(DEMO / "kit.toml")]
ONE = [*RIG, "--source", "wall-45", "--cable", "thin-2m"]


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str], code: int = 0) -> str:
    assert run(arguments) == code
    return capsys.readouterr().out


def test_json_holds_all_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(printed([*ONE, "--json"], capsys))
    assert (found["schema"], found["source"], found["cable"]) == ("pdcheck/talk/2", "wall-45", "thin-2m")
    assert found["result"] == "contract"
    assert found["contract"]["request_word"] == "3004B12C"
    assert [each["type"] for each in found["messages"]][::2] == ["Source_Capabilities", "Request", "Accept", "PS_RDY"]
    assert {each["type"] for each in found["messages"][1::2]} == {"GoodCRC"}
    assert found["messages"][2]["words"] == ["3004B12C"]
    assert found["messages"][0]["good_crc_s"] == found["messages"][1]["time_s"]
    assert found["voltage"][0]["start_s"] == 0
    assert found["voltage"][-1]["end_s"] == found["until_s"] == 20.0
    assert [each["voltage_v"] for each in found["spans"]] == [5.0, 15.0]
    assert found["states"][-1]["state"] in ("PE_SNK_Ready", "PE_SRC_Ready")
    json.dumps(found, allow_nan=False)


def test_the_end_agrees_with_check(capsys: pytest.CaptureFixture[str]) -> None:
    for source, cable in (
        ("wall-45", "thin-2m"),
        ("tower-100", "drawer"),
        ("brick-140", "epr-1m"),
        ("old-18", "a-to-c"),
    ):
        pair = ["--source", source, "--cable", cable, "--json"]
        run(["check", *RIG[1:], *pair])
        checked = json.loads(capsys.readouterr().out)
        talked = json.loads(printed([*RIG, *pair], capsys))
        assert talked["contract"] == checked["contract"]
        last = talked["spans"][-1]["branches"]
        nodes = {node["node"]: node for node in checked["nodes"]}
        for view in last:
            if view["load_v"] is not None:
                assert view["load_v"] == nodes[f"{view['branch']}/load"]["voltage_v"]


def test_text_shows_times_words_and_branches(capsys: pytest.CaptureFixture[str]) -> None:
    shown = printed(ONE, capsys)
    assert "a1 41 2c 91 01 00" in shown
    assert re.search(r"0\.412500  source  Source_Capabilities #0: 5 V 3 A", shown)
    assert "VBUS 15 V within 14.25..15.75 V" in shown
    assert "dew-heater" in shown
    assert "PE_SNK_Ready" not in shown
    assert "PE_SNK_Ready (PS_RDY)" in printed([*ONE, "--states"], capsys)


def test_keep_alives_are_shown_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rig = tmp_path / "rig.toml"
    rig.write_text((DEMO / "pier-box.toml").read_text().replace('request = "15V"', 'request = "28V"'))
    arguments = ["talk", str(rig), *RIG[2:], "--source", "brick-140", "--cable", "epr-1m"]
    shown = printed(arguments, capsys)
    assert shown.count("EPR_KeepAlive_Ack") == 1
    assert re.search(r"the 2 lines above \d\d times more", shown)


def test_log_and_vcd_are_read_back(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    log, vcd = tmp_path / "talk.log", tmp_path / "talk.vcd"
    run([*ONE, "--log", str(log), "--vcd", str(vcd), "--json"])
    sent = [each["raw"] for each in json.loads(capsys.readouterr().out)["messages"]]
    for path in (log, vcd):
        heard = json.loads(printed(["decode", str(path), "--json"], capsys))
        assert [each["raw"] for each in heard["messages"]] == sent
        assert all(each["crc"]["ok"] for each in heard["messages"])
        assert not heard["problems"]
    assert printed([*ONE, "--log", "-"], capsys) == log.read_text()
    assert printed([*ONE, "--vcd", "-"], capsys) == vcd.read_text()


def test_a_log_has_its_resets(capsys: pytest.CaptureFixture[str]) -> None:
    shown = printed([*RIG, "--source", "wall-45", "--cable", "a-to-c", "--log", "-"], capsys)
    assert re.fullmatch(r"(\d\.\d{6} Hard_Reset\n){3}", shown)


def test_no_contract_is_exit_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    shown = printed([*ONE, "--event", "sink silent at 0.1s"], capsys, 1)
    assert "! the sink does not answer any more" in shown


def test_a_seed_changes_the_times_and_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    plain, drawn = (json.loads(printed([*ONE, "--json", *more], capsys)) for more in ([], ["--seed", "7"]))
    assert [each["raw"] for each in plain["messages"]] == [each["raw"] for each in drawn["messages"]]
    assert [each["time_s"] for each in plain["messages"]] != [each["time_s"] for each in drawn["messages"]]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--source", "nobody"], "the kit has no source 'nobody'"),
        (["--source", "wall-45"], "which cable of the kit?"),
        (["--cable", "drawer"], "which source of the kit?"),
        (["--source", "board-27", "--cable", "drawer"], "has its cable fixed to it"),
        ([*ONE[4:], "--event", "earthquake at 3s"], "is no event"),
        ([*ONE[4:], "--event", "second port"], "is no event"),
        ([*ONE[4:], "--event", "second port at 3V"], "second port at 3V"),
        ([*ONE[4:], "--until", "-3s"], "--until"),
        ([*ONE[4:], "--until", "0s"], "no time to talk for"),
        ([*ONE[4:], "--until", "9000s"], "no time to talk for"),
        ([*ONE[4:], "--give-back", "red"], "--give-back"),
        ([*ONE[4:], "--log", "-", "--vcd", "-"], "two outputs of one name"),
        ([*ONE[4:], "--log", "/no/such/folder/x.log"], "no such folder"),
    ],
)
def test_one_line_for_what_cannot_be_read(more: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*RIG, *more]) == 2
    complaint = capsys.readouterr().err
    assert said in complaint
    assert complaint.count("\n") == 1


def test_the_page_of_states_is_the_tables() -> None:
    shown = (ROOT / "docs" / "states.md").read_text(encoding="utf-8")
    assert shown == page(), "run: python -m pdcheck.contract.talk.pages > docs/states.md"


def test_settings_in_one_table(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["settings", "--source", "5V 3A, 9V 3A, 15V 3A", "--cable", "C-C"]
    found = json.loads(printed([*arguments, "--json"], capsys))
    given = {each["setting"]: each["contract"] for each in found["settings"]}
    assert [given[f"{volts} V"]["voltage_v"] for volts in (5, 9, 12, 15, 20)] == [5.0, 9.0, 9.0, 15.0, 15.0]
    assert given["highest"]["voltage_v"] == given["power"]["voltage_v"] == 15.0
    assert "28 V" not in given
    shown = printed([*arguments, "12V", "--fallback", "none"], capsys)
    assert "output off" in shown
    assert run([*arguments, "twelve"]) == 2
    assert "SETTING" in capsys.readouterr().err
