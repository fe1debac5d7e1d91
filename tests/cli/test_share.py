"""The ``share`` command: text that fits, JSON that a program reads, exit codes, errors in one line; ports elsewhere."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pdcheck.cli import run

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"
PIER, SENSOR = (str(DEMO / f"{name}.toml") for name in ("pier-box", "field-sensor"))
LABEL = "C1 100W, C2 65W, C1+C2 65W+45W"
CABLE = ["--cable", "C-C 5A 1m loop=120mOhm"]


def test_orders_and_results_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["share", PIER, SENSOR, "--source", LABEL, *CABLE, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "pdcheck/share/2"
    assert len(document["orders"]) == 4
    assert {tuple(each["order"]) for each in document["orders"]} == {
        ("pier-box", "field-sensor"),
        ("field-sensor", "pier-box"),
    }
    for order in document["orders"]:
        assert [result["rig"] for result in order["results"]] == order["order"]
        assert all(len(result["steps"]) == len(result["changes"]) + 1 for result in order["results"])
    assert sorted(each["port"] for each in document["best"]) == ["C1", "C2"]


@pytest.mark.parametrize("columns", ["60", "100"])
def test_the_text_fits(columns: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert run(["share", PIER, SENSOR, "--source", LABEL, *CABLE]) == 0
    out = capsys.readouterr().out
    assert "in whatever order" in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= int(columns)


def test_what_is_not_said_is_exit_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["share", PIER, SENSOR, "--source", "C1 100W, C2 100W, C1+C2 100W", *CABLE]) == 1
    out = capsys.readouterr().out
    assert "Not judged" in out
    assert "100 W in all" in out


def test_the_kit_beside_a_rig_is_found(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kit = '[[source]]\nid = "desk"\noffers = "C1 100W, C2 65W, C1+C2 65W+45W"\n'
    (tmp_path / "kit.toml").write_text(kit + '[[cable]]\nid = "c"\nkind = "C-C"\nrating = "5A"\nloop = "120mOhm"\n')
    (tmp_path / "pier.toml").write_text(Path(PIER).read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("pdcheck.asking.given.kits_found", [])
    assert run(["share", SENSOR, "pier.toml", "--source", "desk", "--cable", "c"]) == 0
    by_id = capsys.readouterr()
    assert "kit.toml" in by_id.err
    assert run(["share", SENSOR, "pier.toml", "--source", LABEL, *CABLE]) == 0
    assert by_id.out.split()[1:] == capsys.readouterr().out.split()[1:]


ERRORS = [
    (["share", PIER, "--source", "5V 3A, 9V 3A", *CABLE], "no ports that are known"),
    (["share", PIER, SENSOR, PIER, "--source", LABEL, *CABLE], "3 rigs"),
    (["share", PIER, SENSOR, "--source", LABEL, *CABLE * 3], "3 cables for 2 rigs"),
    (["share", PIER, "--source", "C1+C2 65W", *CABLE], "together"),
    (["share", PIER, "--source", "C1 999W, C2 30W", *CABLE], "999 W"),
]


@pytest.mark.parametrize(("arguments", "what"), ERRORS, ids=[what for _, what in ERRORS])
def test_an_error_is_one_line(arguments: list[str], what: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 2
    said = capsys.readouterr()
    assert what in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""


def test_ports_through_kit_decode_and_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kit = str(tmp_path / "kit.toml")
    assert run(["kit", "add", kit, "--source", "desk", "C1 65W, C2 30W, C1+C2: 45W+18W"]) == 0
    assert run(["kit", "show", kit, "desk", "--json"]) == 0
    document = json.loads(capsys.readouterr().out.partition("\n")[2])
    [source] = document["sources"]
    assert run(["decode", "C1 65W, C2 30W, C1+C2: 45W+18W", "--json"]) == 0
    decoded = json.loads(capsys.readouterr().out)
    assert source["ports"] == decoded["ports"]
    assert [given["power_w"] for given in decoded["ports"]["together"][0]["given"]] == [45, 18]
    assert [each["voltage_mv"] for each in decoded["offers"]] == [5000, 9000, 15000, 20000]
    assert run(["kit", "show", kit, "desk"]) == 0
    assert "C1 45 W, C2 18 W" in capsys.readouterr().out
    for named, volts in (("desk", 15.0), ("desk:C2", 15.0), ("desk:c1", 15.0)):
        run(["check", PIER, "--kit", kit, "--source", named, *CABLE, "--json"])
        result = json.loads(capsys.readouterr().out)
        result = result.get("results", [result])[0]
        assert result["contract"]["voltage_v"] == volts
        notes = [each["text"] for each in result["findings"] if each["rule"] == "source-shares"]
        assert len(notes) == 1
        assert ("C2" if named == "desk:C2" else "C1") in notes[0].partition(" alone")[0]
    assert run(["check", PIER, "--kit", kit, "--source", "desk:C9", *CABLE]) == 2
    assert "one of C1, C2" in capsys.readouterr().err
