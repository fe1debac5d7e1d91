"""``pdcheck demo``: the whole job on invented data, for a newcomer; and its files, to try."""

import pytest

from pdcheck.facts.cautions import CAUTIONS


def test_the_text_tells_the_whole_job(pdcheck):
    outcome = pdcheck("demo")
    assert outcome.code == 0 and outcome.err == ""
    flat = " ".join(outcome.out.split())
    for part in (
        "What the sources offer",
        "What the cables carry",
        "voltage to set",
        "Next",
        "Cautions",
        "pdcheck check",
    ):
        assert part in flat
    for source in ("board-27", "wall-45", "desk-65", "tower-100", "old-18", "bank-60", "brick-140"):
        assert source in flat
    for verdict in ("runs", "fails"):
        assert verdict in flat
    for caution in CAUTIONS:
        assert " ".join(caution.text.split()) in flat


def test_json(pdcheck):
    document = pdcheck("demo", "--json").json
    assert document["schema"] == "pdcheck/demo/3"
    assert len(document["sources"]) == 7 and len(document["rigs"]) == 3
    verdicts = {each["verdict"] for rig in document["rigs"] for each in rig["results"]}
    assert {"runs", "fails"} <= verdicts


def test_the_commands_that_it_names_work(pdcheck, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert pdcheck("demo", "--copy", "try").code == 0
    outcome = pdcheck(
        "check", "try/pier-box.toml", "--kit", "try/kit.toml", "--source", "wall-45", "--cable", "thin-2m"
    )
    assert outcome.code in (0, 1) and outcome.out
    assert pdcheck("decode", "5V 3A, 9V 3A").code == 0


def test_files_that_are_there_are_left_alone(pdcheck, refused, tmp_path):
    target = tmp_path / "try"
    assert pdcheck("demo", "--copy", target).code == 0
    (target / "kit.toml").write_text("mine")
    assert "kit.toml" in refused("demo", "--copy", target)
    assert (target / "kit.toml").read_text() == "mine"


@pytest.mark.parametrize("folder", ["file", "file/below"])
def test_a_folder_that_cannot_be(refused, tmp_path, folder):
    (tmp_path / "file").write_text("x")
    refused("demo", "--copy", tmp_path / folder)
