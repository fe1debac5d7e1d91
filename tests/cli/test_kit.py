"""``pdcheck kit`` from the command line: what goes in comes out again, captures stay, refusals leave no trace."""

from __future__ import annotations

import gzip
import io
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pdcheck.cli import run
from pdcheck.parts.kit import Kit
from pdcheck.show.demo import copy_files
from pdcheck.show.schema_files import FOLDER
from tests.intake.test_sysfs import laptop

MESSAGE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
MARKER = "0xFF00A041 0x18600000 0x00000000 0x00010001 0x000A2640"
VDM = "SOP' 4f51 41a000ff 00006018 00000000 01000100 40260a00"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_label_hex_and_a_capture_become_sources(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "desk.log").write_text(f"[0.1] SOP {MESSAGE}\n")
    assert run(["kit", "add", "kit.toml", "--source", "wall", "5V 3A,", "9V 3A"]) == 0
    assert run(["kit", "add", "kit.toml", "--source", "hex", MESSAGE, "--pdp", "33W"]) == 0
    assert run(["kit", "add", "kit.toml", "--source", "desk", "desk.log", "--captured-over", "5a", "--title", "D"]) == 0
    kit = Kit.read("kit.toml")
    assert [len(source.offers) for source in kit.sources] == [2, 6, 6]
    assert kit.source("hex").pdp_w == 33.0
    assert kit.source("desk").capture == "captures/desk.log"
    assert (folder / "captures/desk.log").read_bytes() == (folder / "desk.log").read_bytes()
    (folder / "desk.log").unlink()
    assert len(Kit.read("kit.toml").source("desk").offers) == 6
    assert "its capture is kept in captures/desk.log" in capsys.readouterr().out


def test_standard_input_is_kept_as_well(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Pipe:
        buffer = io.BytesIO(("# bench\n" + f"{MESSAGE}\n" * 20).encode())

    monkeypatch.setattr("sys.stdin", Pipe())
    assert run(["kit", "add", "kit.toml", "--source", "piped", "-"]) == 0
    source = Kit.read("kit.toml").source("piped")
    assert source.capture == "captures/piped.txt"
    assert len(source.offers) == 6


def test_what_a_kit_cannot_read_itself_is_kept_beside_its_words(folder: Path) -> None:
    (folder / "log.hex.gz").write_bytes(gzip.compress(f"{MESSAGE}\n".encode()))
    assert run(["kit", "add", "kit.toml", "--source", "packed", "log.hex.gz"]) == 0
    text = Path("kit.toml").read_text()
    assert "# read from log.hex.gz; kept in captures/packed.hex.gz" in text
    assert 'hex = "0x0801912C 0x0002D12C' in text
    assert (folder / "captures/packed.hex.gz").read_bytes() == (folder / "log.hex.gz").read_bytes()


def test_cables_come_from_words_descriptions_and_captures(folder: Path) -> None:
    (folder / "marker.txt").write_text(VDM + "\n")
    assert run(["kit", "add", "kit.toml", "--cable", "thin", "C-C 3A 2m loop=240mOhm"]) == 0
    assert run(["kit", "add", "kit.toml", "--cable", "epr", *MARKER.split()]) == 0
    assert run(["kit", "add", "kit.toml", "--cable", "log", "marker.txt"]) == 0
    kit = Kit.read("kit.toml")
    assert kit.cable("thin").loop is not None
    assert kit.cable("epr").is_epr
    assert kit.cable("log").is_epr
    assert (folder / "captures/log.txt").exists()


def test_a_name_in_use_needs_replace_and_leaves_no_trace(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "a.log").write_text(MESSAGE)
    (folder / "b.log").write_text(MESSAGE + "\n")
    assert run(["kit", "add", "kit.toml", "--source", "desk", "a.log"]) == 0
    before = Path("kit.toml").read_text()
    capsys.readouterr()
    assert run(["kit", "add", "kit.toml", "--source", "desk", "b.log"]) == 2
    assert "expected --replace" in capsys.readouterr().err
    assert Path("kit.toml").read_text() == before
    assert [each.name for each in (folder / "captures").iterdir()] == ["desk.log"]
    assert run(["kit", "add", "kit.toml", "--source", "desk", "b.log", "--replace"]) == 0
    assert Kit.read("kit.toml").source("desk").capture == "captures/desk-2.log"
    assert (folder / "captures/desk.log").read_text() == MESSAGE


def test_a_part_that_does_not_fit_is_refused_and_its_capture_taken_back(folder: Path) -> None:
    (folder / "a.log").write_text(MESSAGE)
    Path("kit.toml").write_text('[[source]]\nid = "x"\noffers = "5V 1A"\n')
    assert run(["kit", "add", "kit.toml", "--source", "a/b", "a.log"]) == 2
    assert not list((folder / "captures").iterdir())
    assert Kit.read("kit.toml").source("x")


def test_remove_and_list_and_show(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["demo", "--copy", "."])
    before = Path("kit.toml").read_text()
    capsys.readouterr()
    assert run(["kit", "remove", "kit.toml", "old-18"]) == 0
    assert run(["kit", "remove", "kit.toml", "--cable", "drawer"]) == 0
    after = Path("kit.toml").read_text()
    gone = [line for line in before.splitlines() if line not in after.splitlines()]
    assert any("old-18" in line for line in gone)
    assert after.startswith(before.splitlines()[0])
    capsys.readouterr()
    assert run(["kit", "list", "kit.toml", "--json"]) == 0
    listed: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert [each["id"] for each in listed["cables"]] == ["thin-2m", "short-5a", "epr-1m", "a-to-c"]
    assert run(["kit", "show", "kit.toml", "wall-45"]) == 0
    assert "printed power: 45 W" in capsys.readouterr().out
    assert run(["kit", "show", "kit.toml", "wall-46"]) == 2
    assert "expected wall-45" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["add", "kit.toml", "5V 3A"], "say which it is: --source ID or --cable ID"),
        (["add", "kit.toml", "--source", "a", "--cable", "b", "5V 3A"], "say which it is"),
        (["add", "kit.toml", "--source", "a"], "Missing argument"),
        (["add", "kit.toml", "--cable", "a", "C-C", "--pdp", "9W"], "are of a source"),
        (["add", "kit.toml", "--source", "a", "7Q"], "no hex"),
        (["add", "none/kit.toml", "--source", "a", "5V 3A"], "no such folder"),
        (["lits", "kit.toml"], "did you mean list"),
        (["remove", "kit.toml", "a"], "no such file"),
    ],
)
def test_mistakes_are_told(folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], told: str) -> None:
    assert run(["kit", *arguments]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert len(error.splitlines()) == 1
    assert not Path("kit.toml").exists()


def test_the_systems_tables_become_a_source_and_a_cable(folder: Path) -> None:
    laptop(folder / "sys")
    assert run(["kit", "add", "kit.toml", "--source", "seen", "--from", "sysfs", "sys"]) == 0
    assert run(["kit", "add", "kit.toml", "--cable", "seen", "--from", "sysfs", "sys"]) == 0
    kit = Kit.read("kit.toml")
    assert len(kit.source("seen").offers) > 1
    assert kit.cable("seen").emarker
    assert Path("kit.toml").read_text().count("# read from sys") == 2


def test_the_attached_document_validates(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    laptop(folder / "sys")
    for arguments in (["--list"], []):
        assert run(["decode", "--from", "sysfs", "sys", *arguments, "--json"]) == 0
        document = json.loads(capsys.readouterr().out)
        name = document["schema"].split("/")[1]
        schema = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
        Draft202012Validator(schema).validate(document)


def test_a_waveform_is_kept_and_its_offers_and_marker_read(folder: Path) -> None:
    copy_files(".")
    rig, pair = "field-sensor.toml", ["--kit", "kit.toml", "--source", "brick-140", "--cable", "epr-1m"]
    run(["talk", rig, *pair, "--vcd", "caught.vcd", "--json"])
    assert run(["kit", "add", "mine.toml", "--source", "seen", "caught.vcd", "--captured-over", "EPR"]) == 0
    assert run(["kit", "add", "mine.toml", "--cable", "seen", "caught.vcd"]) == 0
    kit = Kit.read("mine.toml")
    assert [offer.max_mv for offer in kit.source("seen").offers][:4] == [5000, 9000, 15000, 20000]
    assert kit.cable("seen").is_epr
    assert (folder / "captures/seen.vcd").read_bytes() == (folder / "caught.vcd").read_bytes()


def test_a_power_alone_stands_for_what_the_rules_ask_and_says_so(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["kit", "add", "kit.toml", "--source", "spare", "USB-C 65W charger"]) == 0
    spare = Kit.read("kit.toml").source("spare")
    # PD R3.2 V1.1, Tables 10.2 and 10.12: 5, 9 and 15 V at 3 A, 20 V at 65 W / 20 V.
    assert [(each.max_mv, each.current_ma) for each in spare.offers] == [
        (5000, 3000), (9000, 3000), (15000, 3000), (20000, 3250),
    ]  # fmt: skip
    assert spare.pdp_w == 65.0 and spare.by_rules
    assert "# what the power rules ask of 65 W" in Path("kit.toml").read_text()
    run(["check", "--output", "9V@1A", "--source", "spare", "--cable", "C-C 3A", "--notes"])
    assert "only its power is stated" in capsys.readouterr().out
    assert run(["kit", "add", "kit.toml", "--source", "none", "0W"]) == 2


@pytest.mark.parametrize(
    ("jacket", "amps", "volts", "epr"),
    [
        ("USB-C 100W 20V/5A 2m MAX", 5.0, 20.0, False),
        ("E-MARKED 240W 48V 5A", 5.0, 50.0, True),
        ("USB4 Gen3 40Gbps 240W PD3.1 0.8m", 5.0, 50.0, True),
        ("60W 3A 1m USB 2.0 480Mbps", 3.0, 20.0, False),
        ("Type-C to Type-C charging cable 20V/3A", 3.0, 20.0, False),
        ("AWM STYLE 20276 80C 30V VW-1 28AWG/2C+24AWG/2C 1m", 3.0, 20.0, False),
    ],
)
def test_what_is_printed_on_a_jacket(folder: Path, jacket: str, amps: float, volts: float, epr: bool) -> None:
    assert run(["kit", "add", "kit.toml", "--cable", "c", jacket]) == 0
    cable = Kit.read("kit.toml").cables[0]
    assert (cable.current_a, cable.is_epr) == (amps, epr) and cable.voltage_v in (volts, 48.0)
    if "AWG" in jacket:
        # The thicker pair carries the power: AWG 24 is 84.2 mOhm/m [ASTM B258], out and back over 1 m.
        assert cable.loop is not None and cable.loop.typ == pytest.approx(2 * 0.0842, rel=0.01)


def test_two_readings_are_a_loop(folder: Path) -> None:
    for id, said in (("a", "C-C 3A 5.12V/4.80V@2A"), ("b", "5.12V - 4.80V @ 2A"), ("c", "60W 5.12>4.80V@2000mA")):
        assert run(["kit", "add", "kit.toml", "--cable", id, said]) == 0
    assert [each.loop and round(each.loop.typ, 6) for each in Kit.read("kit.toml").cables] == [0.16] * 3
    assert run(["kit", "add", "kit.toml", "--cable", "d", "4.80V/5.12V@2A"]) == 2


def test_what_is_not_said_anew_stays(folder: Path) -> None:
    assert run(["kit", "add", "kit.toml", "--source", "a", "5V 3A, 9V 3A", "--title", "White", "--pdp", "27W"]) == 0
    assert run(["kit", "add", "kit.toml", "--source", "a", MESSAGE, "--replace"]) == 0
    found = Kit.read("kit.toml").source("a")
    assert (found.title, found.pdp_w, len(found.offers)) == ("White", 27.0, 6)
    assert run(["kit", "add", "kit.toml", "--source", "a", "--title", "Black", "--replace"]) == 0
    found = Kit.read("kit.toml").source("a")
    assert (found.title, len(found.offers)) == ("Black", 6)
    assert run(["kit", "add", "kit.toml", "--cable", "c", "C-C 3A 2m loop=240mOhm", "--title", "Thin"]) == 0
    assert run(["kit", "add", "kit.toml", "--cable", "c", "5.12V/4.80V@2A", "--replace"]) == 0
    cable = Kit.read("kit.toml").cables[0]
    assert (cable.title, cable.length_m, cable.loop and round(cable.loop.typ, 6)) == ("Thin", 2.0, 0.16)
    assert run(["kit", "add", "kit.toml", "--source", "nobody", "--replace"]) == 2
