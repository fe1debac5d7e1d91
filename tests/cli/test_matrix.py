"""The ``matrix`` command: table, CSV and JSON agree, filters and sorting, exit codes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from pdcheck.cli import run

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"
RIGS = [str(DEMO / f"{name}.toml") for name in ("pier-box", "field-sensor", "pedalboard")]
KIT = ["--kit", str(DEMO / "kit.toml")]


def cells(arguments: list[str], capsys: pytest.CaptureFixture[str], code: int = 1) -> list[dict[str, Any]]:
    assert run(["matrix", *arguments, "--json"]) == code
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "pdcheck/matrix/3"
    assert sum(document["counts"].values()) == len(document["cells"])
    found: list[dict[str, Any]] = document["cells"]
    return found


def test_json_holds_every_cell_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    found = cells([*RIGS, *KIT], capsys)
    assert len(found) == 3 * 31
    assert set(found[0]) == {"rig", "source", "cable", "verdict", "rule", "max_w", "not_judged"}
    assert [cell["rig"] for cell in found] == ["pier-box"] * 31 + ["field-sensor"] * 31 + ["pedalboard"] * 31
    by_place = {(cell["rig"], cell["source"], cell["cable"]): cell for cell in found}
    assert by_place["pier-box", "board-27", "board-27-cable"]["rule"] == "load-weak"
    assert by_place["pier-box", "wall-45", "thin-2m"]["not_judged"] == 2
    assert by_place["pier-box", "wall-45", "thin-2m"]["rule"] is None
    assert all((cell["max_w"] > 0) == (cell["verdict"] in ("runs", "limited")) or cell["max_w"] > 0 for cell in found)


def test_csv_is_the_json_in_lines(capsys: pytest.CaptureFixture[str]) -> None:
    found = cells([*RIGS, *KIT, "--sort", "max_w"], capsys)
    assert run(["matrix", *RIGS, *KIT, "--sort", "max_w", "--csv"]) == 1
    lines = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    told = [
        {**line, "rule": line["rule"] or None, "max_w": float(line["max_w"]), "not_judged": int(line["not_judged"])}
        for line in lines
    ]
    assert told == found


def test_filters(capsys: pytest.CaptureFixture[str]) -> None:
    found = cells([*RIGS, *KIT, "--only", "runs", "--source", "wall-45", "--rig", "pier-box"], capsys, code=0)
    assert {(cell["rig"], cell["source"], cell["verdict"]) for cell in found} == {("pier-box", "wall-45", "runs")}
    one = cells([*RIGS, *KIT, "--cable", "a-to-c", "--cable", "thin-2m"], capsys)
    assert {cell["cable"] for cell in one} == {"a-to-c", "thin-2m"}
    assert cells([*RIGS, *KIT, "--source", "wall-45", "--only", "unsafe"], capsys, code=0) == []


def test_sort_and_reverse(capsys: pytest.CaptureFixture[str]) -> None:
    best_first = ("runs", "limited", "fails", "unsafe")
    up = [best_first.index(cell["verdict"]) for cell in cells([*RIGS, *KIT, "--sort", "verdict"], capsys)]
    assert up == sorted(up)
    down = cells([*RIGS, *KIT, "--sort", "verdict", "--reverse"], capsys)
    assert [best_first.index(cell["verdict"]) for cell in down] == up[::-1]


def test_text_says_how_many(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["matrix", RIGS[0], *KIT]) == 1
    out = capsys.readouterr().out
    assert "31 cells: 20 runs, 11 fails" in out


def test_two_rigs_of_one_name_go_by_their_paths(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = tmp_path / "pier-box.toml"
    other.write_bytes((DEMO / "pier-box.toml").read_bytes())
    found = cells([RIGS[0], str(other), *KIT, "--source", "wall-45", "--cable", "thin-2m"], capsys, code=0)
    assert [cell["rig"] for cell in found] == [RIGS[0], str(other)]


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        [RIGS[0], "--kit", "nothing.toml"],
        [RIGS[0], *KIT, "--source", "nobody"],
        [RIGS[0], *KIT, "--cable", "nothing"],
        [RIGS[0], *KIT, "--rig", "nothing"],
        [RIGS[0], *KIT, "--only", "maybe"],
        [RIGS[0], *KIT, "--csv", "--json"],
    ],
)
def test_one_line_for_what_cannot_be_read(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["matrix", *arguments]) == 2
    streams = capsys.readouterr()
    assert streams.out == ""
    assert len(streams.err.splitlines()) == 1
