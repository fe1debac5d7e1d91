"""The ``runtime`` command: text, JSON, narrow terminals, one line for what cannot be answered, hours in the matrix."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from pdcheck.cli import run

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"
BOX, KIT = str(DEMO / "pier-box.toml"), str(DEMO / "kit.toml")
BANK = "20,000mAh / 74Wh, rated capacity 12000mAh 5V 3A; output 5V 3A, 9V 3A, 15V 3A"


def test_text_and_json_agree(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["runtime", BOX, "--source", BANK]) == 0
    text = capsys.readouterr().out
    assert run(["runtime", BOX, "--source", BANK, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    hours = found["hours"]
    assert found["schema"] == "pdcheck/runtime/2"
    assert hours["min"] <= hours["typ"] <= hours["max"]
    assert text.startswith(f"your charger with an unknown cable: {int(hours['min'] * 100) / 100:g} h at least, about ")
    assert found["sleeps"] is False and found["cells_wh"]["typ"] == 74.0
    assert {each["part"] for each in found["shares"]} >= {"source", "cable", "mount/load", "mount/idle"}
    for each in found["shares"]:
        name = "inside the power bank" if each["part"] == "source" else each["part"]
        assert f"\n  {name} " in text
    assert found["changes"][0]["change"] in text


def test_without_energy_one_line_says_what_to_state(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["runtime", BOX, "--kit", KIT, "--source", "wall-45"]) == 2
    out, error = capsys.readouterr()
    assert out == "" and error.count("\n") == 1
    assert 'wall-45 does not say how much energy it holds; expected energy = "74Wh"' in error


def test_sources_without_energy_are_named_beside_the_others(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(f'[[source]]\nid = "wall"\noffers = "5V 3A, 15V 3A"\n[[source]]\nid = "bank"\noffers = "{BANK}"\n')
    assert run(["runtime", BOX, "--kit", str(kit)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert 'wall does not say how much energy it holds: for a power bank state energy = "74Wh"' in text
    assert run(["runtime", BOX, "--kit", str(kit), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["without"] == ["wall"]


def test_a_rig_that_fails_says_so_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["runtime", BOX, "--source", "74Wh 5V 3A"]) == 1
    text = capsys.readouterr().out
    assert text.startswith("your charger with an unknown cable: FAILS. What does run lasts ")
    assert "mount: stays off: it needs 6 V" in text


def test_a_narrow_terminal_holds_it(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "50")
    assert run(["runtime", BOX, "--source", BANK]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 50


def test_the_matrix_has_hours_where_they_are_asked_for(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(f'[[source]]\nid = "wall"\noffers = "5V 3A, 15V 3A"\n[[source]]\nid = "bank"\noffers = "{BANK}"\n')
    asked = ["matrix", BOX, "--kit", str(kit)]
    run(asked)
    assert "lasts" not in capsys.readouterr().out
    run([*asked, "--hours"])
    text = capsys.readouterr().out
    assert "max load  lasts" in text
    run([*asked, "--csv"])
    assert "hours" not in capsys.readouterr().out
    run([*asked, "--hours", "--csv"])
    wall, bank = csv.DictReader(io.StringIO(capsys.readouterr().out))
    assert wall["hours_min"] == "" and 1.0 < float(bank["hours_min"]) < float(bank["hours_max"])
    run([*asked, "--sort", "hours", "--json"])
    cells = json.loads(capsys.readouterr().out)["cells"]
    assert [each["source"] for each in cells] == ["bank", "wall"]
    assert cells[0]["hours"]["min"] == float(bank["hours_min"]) and "hours" not in cells[1]


def test_decode_tells_what_a_label_says_of_energy(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["decode", BANK]) == 0
    text = capsys.readouterr().out
    assert "energy: 74 Wh; 20000 mAh in its cells; rated to give 12000 mAh at 5 V" in text
    assert run(["decode", "20000mAh 74Wh", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["offers"], found["holds"]["energy_wh"]) == ([], 74.0)


def test_kit_add_keeps_it(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    kit = str(tmp_path / "kit.toml")
    assert run(["kit", "add", kit, "--source", "bank", BANK]) == 0
    capsys.readouterr()
    assert run(["kit", "show", kit, "bank"]) == 0
    text = capsys.readouterr().out
    assert "energy: 74 Wh" in text and "rated output: 12000 mAh at 5 V" in text
    assert run(["runtime", BOX, "--kit", kit, "--source", "bank"]) == 0


@pytest.mark.parametrize(("energy", "sections"), [("", 0), ('energy = "74Wh"\n', 1)])
def test_the_page_has_a_section_where_the_source_says_what_it_holds(
    energy: str, sections: int, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    kit, page = tmp_path / "kit.toml", tmp_path / "page.html"
    kit.write_text(f'[[source]]\nid = "bank"\noffers = "5V 3A, 9V 3A, 15V 3A"\n{energy}')
    assert run(["report", BOX, "--kit", str(kit), "-o", str(page)]) == 0
    capsys.readouterr()
    assert run(["runtime", BOX, "--kit", str(kit)]) == (0 if sections else 2)
    text = capsys.readouterr().out
    html = page.read_text()
    assert html.count("How long does the power bank last?") == sections
    if sections:
        assert text.split(": ", 1)[1].split(".\n")[0] in html


def test_check_tells_the_hours_of_a_power_bank(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["runtime", BOX, "--source", BANK, "--json"]) == 0
    hours = json.loads(capsys.readouterr().out)["hours"]
    assert run(["check", BOX, "--source", BANK, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["hours"] == hours
    assert run(["check", BOX, "--source", BANK]) == 0
    assert f"  lasts {int(hours['min'] * 100) / 100:g} h at least, about " in capsys.readouterr().out
    assert run(["check", BOX, "--kit", KIT, "--source", "wall-45", "--cable", "thin-2m", "--json"]) == 0
    assert "hours" not in json.loads(capsys.readouterr().out)
