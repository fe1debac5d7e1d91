"""The ``draw`` command: text at every width, files, and one line for what cannot be drawn."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from pdcheck.cli import run
from pdcheck.show.cells import shown_width

DEMO = Path(__file__).parents[2] / "pdcheck" / "data"
PIER_BOX = ["draw", str(DEMO / "pier-box.toml"), "--kit", str(DEMO / "kit.toml")]
ONE = [*PIER_BOX, "--source", "wall-45", "--cable", "thin-2m"]


@pytest.mark.parametrize("columns", [40, 60, 80, 110])
@pytest.mark.parametrize("rig", ["pier-box", "pedalboard", "field-sensor"])
def test_no_line_is_wider_than_the_terminal(
    columns: int, rig: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    run(
        ["draw", str(DEMO / f"{rig}.toml"), "--kit", str(DEMO / "kit.toml"), "--source", "wall-45", "--cable", "drawer"]
    )
    lines = capsys.readouterr().out.splitlines()
    assert lines
    assert max(map(shown_width, lines)) <= columns


def test_every_part_stands_on_the_way(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(ONE) == 0
    lines = capsys.readouterr().out.splitlines()
    order = [line.replace("|", "").replace("+--", "").split()[0] for line in lines if line.strip(" |")][2:]
    kinds = [
        word for word in order if word in ("charger", "cable", "trigger", "bus", "wire", "converter", "lead", "load")
    ]
    assert kinds == ["charger", "cable", "trigger", "bus", "wire", "converter", "lead", "load", "wire", "load"]


def test_the_verdict_is_the_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    failing = ["draw", str(DEMO / "pedalboard.toml"), "--kit", str(DEMO / "kit.toml"), "--source", "wall-45"]
    assert run([*failing, "--cable", "thin-2m"]) == 1
    assert "[FAIL]" in capsys.readouterr().out


def test_without_a_pair_the_best_is_drawn(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*PIER_BOX, "--json"]) == 0
    best = json.loads(capsys.readouterr().out)
    run(["matrix", *PIER_BOX[1:], "--json"])
    cells = json.loads(capsys.readouterr().out)["cells"]
    order = ("runs", "limited", "fails", "unsafe")
    expected = min(cells, key=lambda cell: (order.index(cell["verdict"]), -cell["max_w"]))
    assert (best["source"], best["cable"]) == (expected["source"], expected["cable"])


def test_figures_are_those_of_check(capsys: pytest.CaptureFixture[str]) -> None:
    run([*ONE, "--json"])
    drawn = json.loads(capsys.readouterr().out)
    run(["check", *ONE[1:], "--json"])
    checked = json.loads(capsys.readouterr().out)
    nodes = {each["node"]: each for each in checked["nodes"]}
    bus = next(part for part in drawn["trunk"] if part["part"] == "bus")
    assert bus["voltage_v"] == nodes["bus"]["voltage_v"]
    parts = {part["part"]: part for branch in drawn["branches"] for part in branch["parts"]}
    assert parts["mount/load"]["voltage_v"] == nodes["mount/load"]["voltage_v"]
    losses = {each["part"]: each["loss_w"] for each in checked["losses"]}
    assert parts["mount/converter"]["loss_w"] == losses["mount/converter"]


@pytest.mark.parametrize("which", ["parts", "voltage", "watts"])
@pytest.mark.parametrize("more", [[], ["--narrow"]])
def test_files(which: str, more: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    svg, png = tmp_path / "a.svg", tmp_path / "a.png"
    assert run([*ONE, "--picture", which, *more, "--svg", str(svg), "--png", str(png)]) == 0
    root = ElementTree.fromstring(svg.read_bytes())
    assert root.attrib["role"] == "img"
    assert png.read_bytes().startswith(b"\x89PNG")
    assert capsys.readouterr().out == ""


def test_without_what_paints_a_png_is_refused_in_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.backends.backend_agg", None)
    assert run([*ONE, "--png", "never.png"]) == 2
    assert "pip install 'pdcheck[png]'" in capsys.readouterr().err
    assert not Path("never.png").exists()


@pytest.mark.parametrize("command", ["draw", "transient", "report"])
def test_what_cannot_be_painted_is_refused_before_anything_is_judged(
    command: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.backends.backend_agg", None)
    # Not even the rig is read: there is none.
    assert run([command, "no-such-rig.toml", "--png", "never.png"]) == 2
    assert "pip install 'pdcheck[png]'" in capsys.readouterr().err


def test_the_page_needs_nothing_that_paints(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    code = (
        "import sys; from pdcheck.cli import run; "
        f"run({['report', *ONE[1:], '-o', str(page)]!r}); assert 'matplotlib' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
    assert page.read_text(encoding="utf-8").count("<svg") > 10


def test_svg_on_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*ONE, "--svg", "-"]) == 0
    ElementTree.fromstring(capsys.readouterr().out.encode())


@pytest.mark.parametrize(
    ("more", "complaint"),
    [
        (["--picture", "voltage", "--branch", "mont", "--svg", "-"], "no branch named 'mont'"),
        (["--source", "wall-46"], "the kit has no source 'wall-46'"),
        (["--picture", "smoke", "--svg", "-"], "is not one of"),
    ],
)
def test_what_cannot_be_drawn_is_one_line(more: list[str], complaint: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*PIER_BOX, *more]) == 2
    told = capsys.readouterr().err
    assert complaint in told
    assert told.count("\n") == 1
