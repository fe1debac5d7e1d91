"""``pdcheck check``: the document, which pairs are judged, exit codes, text."""

from pathlib import Path

import pytest

DATA = Path(__file__).parents[2] / "pdcheck" / "data"
KIT, RIG = DATA / "kit.toml", DATA / "pier-box.toml"
PAIR = ("--source", "wall-45", "--cable", "thin-2m")

ONE = """
[trigger]
request = "9V"
rating = "5A"
[[branch]]
name = "fan"
load = { current = "%s" }
[[source]]
id = "s"
offers = "5V 3A, 9V 3A"
[[cable]]
id = "c"
kind = "C-C"
rating = "5A"
loop = "100mOhm"
"""


def test_the_document_of_one_pair(pdcheck):
    outcome = pdcheck("check", "--json", RIG, "--kit", KIT, *PAIR)
    document = outcome.json
    assert document["schema"] == "pdcheck/check/3"
    assert {"verdict", "contract", "nodes", "findings"} <= set(document)
    assert document["verdict"] in ("runs", "limited", "fails", "unsafe")
    assert [node["node"] for node in document["nodes"]] == [
        "source", "bus", "mount/in", "mount/out", "mount/load", "dew-heater/in", "dew-heater/out", "dew-heater/load",
    ] or [node["node"] for node in document["nodes"]] == [
        "source", "bus", "mount/in", "mount/out", "mount/load", "dew-heater/in", "dew-heater/load",
    ]  # fmt: skip
    for node in document["nodes"]:
        for key in ("voltage_v", "current_a"):
            triple = node[key]
            assert list(triple) == ["min", "typ", "max"] and triple["min"] <= triple["typ"] <= triple["max"]
            assert all(isinstance(value, float) for value in triple.values())
    for finding in document["findings"]:
        assert {"rule", "level", "subject", "value", "limit", "unit", "origin", "text", "advice"} == set(finding)
    assert outcome.code == (0 if document["verdict"] in ("runs", "limited") else 1)
    assert "results" not in document


def test_every_pair_of_the_kit_without_source_or_cable(pdcheck):
    outcome = pdcheck("check", "--json", RIG, "--kit", KIT)
    results = outcome.json["results"]
    # Seven sources, one of them with its cable fixed to it; five cables.
    assert len({(each["source"], each["cable"]) for each in results}) == len(results) == 6 * 5 + 1
    works = [each["verdict"] in ("runs", "limited") for each in results]
    assert outcome.code == (0 if all(works) else 1)
    assert "verdict" not in outcome.json


@pytest.mark.parametrize(
    ("option", "count"), [(("--source", "wall-45"), 5), (("--cable", "thin-2m"), 6), (("--source", "board-27"), 1)]
)
def test_some_of_the_pairs(pdcheck, option, count):
    document = pdcheck("check", "--json", RIG, "--kit", KIT, *option).json
    assert len(document.get("results", [document])) == count


@pytest.mark.parametrize(("amps", "verdict", "code"), [("1A", "runs", 0), ("2.5A", "limited", 0), ("3.5A", "fails", 1)])
def test_a_kit_inside_the_rig_file(pdcheck, tmp_path, amps, verdict, code):
    path = tmp_path / "rig.toml"
    path.write_text(ONE % amps)
    outcome = pdcheck("check", "--json", path)
    assert (outcome.code, outcome.json["verdict"]) == (code, verdict)
    text = pdcheck("check", path)
    assert text.code == code and verdict.upper() in text.out


def test_exit_1_where_one_pair_of_several_fails(pdcheck, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(ONE % "2.9A" + '[[source]]\nid = "weak"\noffers = "5V 3A, 9V 2A"\n')
    outcome = pdcheck("check", "--json", path)
    assert outcome.code == 1
    assert [each["verdict"] for each in outcome.json["results"]] == ["limited", "fails"]


def test_a_contract_that_gives_nothing(pdcheck, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text((ONE % "1A").replace('"9V"\n', '"12V"\nfallback = "none"\n'))
    document = pdcheck("check", "--json", path).json
    assert document["verdict"] == "fails" and document["nodes"] == []
    contract = document["contract"]
    # 5 V, object 1, for 0 A, with Capability Mismatch: a source that hears nothing resets the line.
    assert (contract["outcome"], contract["position"], contract["request_words"]) == ("off", None, ["14000000"])


def test_a_bus_that_collapses_has_a_finding_and_no_exception(pdcheck, tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text((ONE % "1A").replace('{ current = "1A" }', '"500W"'))
    outcome = pdcheck("check", "--json", path)
    assert outcome.code == 1
    assert "bus-collapse" in [finding["rule"] for finding in outcome.json["findings"]]


@pytest.mark.parametrize(
    "load",
    [
        '"1uW"',
        '"1e9W"',
        '{ current = "1uA" }',
        '{ current = "1e6A" }',
        '{ resistance = "1uohm" }',
        '{ resistance = "1e9ohm" }',
    ],
)
def test_extreme_loads_are_judged(pdcheck, tmp_path, load):
    path = tmp_path / "rig.toml"
    path.write_text((ONE % "1A").replace('{ current = "1A" }', load))
    outcome = pdcheck("check", "--json", path)
    assert outcome.code in (0, 1, 2)
    if outcome.code == 2:
        assert outcome.err.count("\n") == 1
    else:
        assert outcome.json["verdict"]


def test_an_id_that_is_not_in_the_kit(refused):
    line = refused("check", RIG, "--kit", KIT, "--source", "wall-54")
    assert "wall-54" in line and "wall-45" in line
    line = refused("check", RIG, "--kit", KIT, "--cable", "thin")
    assert "thin-2m" in line
    assert "fixed" in refused("check", RIG, "--kit", KIT, "--source", "board-27", "--cable", "thin-2m")


def test_the_text_tells_verdict_contract_nodes_and_what_to_do(pdcheck):
    outcome = pdcheck("check", RIG, "--kit", KIT, *PAIR)
    for part in (
        "wall-45 with thin-2m: RUNS, if what is listed below holds.",
        "contract: 15 V",
        "mount/load",
        "dew-heater  ",
    ):
        assert part in outcome.out
    assert outcome.err == ""


def test_what_fails_does_so_whatever_was_not_judged(pdcheck):
    asked = ("check", RIG, "--kit", KIT, "--source", "wall-45", "--cable", "a-to-c")
    outcome = pdcheck(*asked)
    assert outcome.code == 1
    told = " ".join(outcome.out.split())
    assert told.startswith(
        "wall-45 with a-to-c: FAILS. It does not do the job. It may be worse still unless what is listed below"
    )
    missing = pdcheck(*asked, "--json").json["not_judged"]
    assert missing and all(f"if {each['text']} (" in told for each in missing)


def test_json_is_the_same_from_the_text_of_any_locale(pdcheck, monkeypatch):
    first = pdcheck("check", "--json", RIG, "--kit", KIT, *PAIR).out
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    assert pdcheck("check", "--json", RIG, "--kit", KIT, *PAIR).out == first
