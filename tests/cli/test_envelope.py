"""The ``envelope`` command: its three forms, and one line for what cannot be read."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from pdcheck.cli import run

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"
PIER_BOX = ["envelope", str(DEMO / "pier-box.toml"), "--kit", str(DEMO / "kit.toml")]
ONE = [*PIER_BOX, "--source", "wall-45", "--cable", "thin-2m"]


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert run(arguments) == 0
    return capsys.readouterr().out


def test_json_holds_the_shape(capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(printed([*ONE, "--json"], capsys))
    assert (found["schema"], found["source"], found["cable"]) == ("pdcheck/envelope/3", "wall-45", "thin-2m")
    first = found["contracts"][0]
    assert first["contract"]["voltage_v"] == 15.0
    mount = first["branches"][0]
    assert mount["branch"] == "mount"
    [point] = mount["points"]
    assert set(point) >= {"output_v", "current_a", "power_w", "load_w", "limited_by"}
    assert point["power_w"]["min"] == mount["greatest_w"] <= point["power_w"]["typ"] <= point["power_w"]["max"]
    assert [each["contract"]["kind"] for each in found["contracts"]] == ["fixed", "fixed", "fixed", "type-c"]


def test_csv_is_the_json_in_lines(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = [*ONE, "--branch", "mount", "--voltages", "5V..24V"]
    found = json.loads(printed([*arguments, "--json"], capsys))
    lines = list(csv.DictReader(io.StringIO(printed([*arguments, "--csv"], capsys))))
    points = [point for each in found["contracts"] for point in each["branches"][0]["points"]]
    assert [float(line["output_v"]) for line in lines] == [point["output_v"] for point in points]
    assert [float(line["current_min_a"]) for line in lines] == [point["current_a"]["min"] for point in points]
    assert [line["limited_by"] for line in lines] == [point["limited_by"] for point in points]


def test_text_names_output_and_limit(capsys: pytest.CaptureFixture[str]) -> None:
    shown = printed(ONE, capsys)
    assert "mount 12 V" in shown
    assert "source" in shown
    assert "before any contract" in shown


def test_every_pair_without_ids(capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(printed([*PIER_BOX, "--source", "desk-65", "--json"], capsys))
    assert [each["cable"] for each in found["results"]] == ["drawer", "thin-2m", "short-5a", "epr-1m", "a-to-c"]
    assert "contracts" not in found


@pytest.mark.parametrize(
    "more",
    [
        ["--branch", "nobody"],
        ["--voltages", "24V..5V"],
        ["--voltages", "twelve"],
        ["--voltages", ""],
        ["--voltages", "0V,5V"],
        ["--csv", "--json"],
    ],
)
def test_bad_input_is_one_line(more: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*ONE, *more]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
