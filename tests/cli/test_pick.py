"""``pdcheck pick`` in text: the answer first, every offer with its reason, what was counted with."""

import pytest

WALL = "5V 3A, 9V 3A, 15V 3A; PPS 3.3-16V 3A"
BOX = "buck-boost:6-36V:5A:92%"


def test_the_answer_stands_first(pdcheck):
    outcome = pdcheck("pick", "--source", WALL, "--output", "12V@2A", "--converter", BOX)
    assert outcome.code == 0
    assert outcome.out.startswith("Set the trigger to 15 V: offer 3")
    assert "request: 3004B12C" in outcome.out
    for said in ("below the 6 V", "offers 3 A", "taken as 3 A", "125 mΩ"):
        assert said in " ".join(outcome.out.split())


def test_pps_is_programmed(pdcheck):
    outcome = pdcheck("pick", "--source", WALL, "--output", "12V@2A", "--cable", "C-C loop=100mOhm")
    assert outcome.out.startswith("Program 12.2 V")


def test_nothing_will_do(pdcheck):
    outcome = pdcheck("pick", "--source", "5V 3A", "--output", "12V@2A")
    assert outcome.code == 1 and outcome.out.startswith("Nothing")


def test_without_pd(pdcheck):
    outcome = pdcheck("pick", "--source", "5V 3A, 9V 3A", "--output", "5V@0.4A", "--cable", "A-C")
    assert outcome.code == 0 and "Nothing to set" in outcome.out
    document = pdcheck("pick", "--json", "--source", "5V 3A, 9V 3A", "--output", "5V@0.4A", "--cable", "A-C").json
    assert document["choice"] == {
        "position": None,
        "kind": "type-c",
        "voltage_mv": 5000,
        "current_ma": 500,
        "request_word": None,
        "request_words": [],
    }


@pytest.mark.parametrize("source", ["a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"])
def test_a_capture_for_a_source(pdcheck, source):
    document = pdcheck("pick", "--json", "--source", source, "--output", "12V@1A", "--converter", BOX).json
    assert document["choice"]["kind"] == "fixed" and len(document["ranking"]) == 6


def test_a_doubtful_capture_is_not_passed_over_in_silence(pdcheck):
    bad = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c7"
    outcome = pdcheck("pick", "--source", bad, "--output", "12V@1A", "--converter", BOX)
    assert "CRC" in outcome.out + outcome.err
    document = pdcheck("pick", "--json", "--source", bad, "--output", "12V@1A", "--converter", BOX).json
    assert any("CRC" in text for text in document["assumed"])


@pytest.mark.parametrize("cable", ["C-C", "EPR", "A-C"])
@pytest.mark.parametrize("output", ["5V@0.4A", "12V@1A", "24V@4A"])
def test_the_document_is_what_its_schema_says(pdcheck, cable, output):
    jsonschema = pytest.importorskip("jsonschema")
    schema = pdcheck("schema", "pick").json
    offers = "5V 3A, battery 6-9V 12W, 9V 3A, 20V 5A, 28V 5A; PPS 3.3-21V 5A; AVS 15-28V 140W"
    outcome = pdcheck("pick", "--json", "--source", offers, "--output", output, "--cable", cable)
    jsonschema.validate(outcome.json, schema)
