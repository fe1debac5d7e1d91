"""``pdcheck cable``: random marker words against a second reading, the vectors, descriptions, costs."""

import importlib.util
import json
import random
import zlib
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("independent", Path(__file__).parents[1] / "independent.py")
second = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(second)

VECTORS = json.loads((Path(__file__).parents[2] / "vectors" / "cables.json").read_text(encoding="utf-8"))["cables"]
KEYS = ("construction", "emarker", "pd", "current_ma", "voltage_mv", "epr", "loop_ohm", "vendor_id", "problems")
dice = random.Random(20240505)


def typed(words):
    return " ".join(f"0x{word:08X}" for word in words)


@pytest.mark.parametrize("vector", VECTORS, ids=[vector["name"] for vector in VECTORS])
@pytest.mark.parametrize("dress", ["words", "message", "marked message"])
def test_the_vectors(pdcheck, vector, dress):
    words = [int(word, 16) for word in vector["words"]]
    if dress == "words":
        text = typed(words)
    else:
        header = 0x018F | len(words) << 12
        raw = header.to_bytes(2, "little") + b"".join(word.to_bytes(4, "little") for word in words)
        raw += zlib.crc32(raw).to_bytes(4, "little")
        text = raw.hex(" ") if dress == "message" else f"0.5 SOP' {raw.hex()}"
    outcome = pdcheck("cable", "--json", text)
    assert outcome.code == 0, outcome
    document = outcome.json
    assert document["schema"] == "pdcheck/cable/2"
    assert set(KEYS) <= set(document)
    shared = {key: vector["expected"][key] for key in KEYS if key in vector["expected"]}
    assert {key: document[key] for key in shared} == shared
    assert document["loop_ohm"] is None
    assert bool(document["problems"]) >= bool(vector.get("problems"))


@pytest.mark.parametrize("kind", [3, 4], ids=["passive", "active"])
@pytest.mark.parametrize("old", [True, False], ids=["2.0", "3.x"])
def test_random_markers(pdcheck, kind, old):
    header = 0xFF008041 if old else 0xFF00A841
    for _ in range(150):
        identity = dice.getrandbits(32) & ~(7 << 27) | kind << 27
        word, more = dice.getrandbits(32), dice.getrandbits(32)
        words = [header, identity, dice.getrandbits(32), dice.getrandbits(32), word, *([more] if kind == 4 else [])]
        outcome = pdcheck("cable", "--json", typed(words))
        assert outcome.code == 0
        document = outcome.json
        expected = second.cable(header, identity, word)
        assert {key: document[key] for key in expected} == expected, typed(words)
        assert document["construction"] == ("passive" if kind == 3 else "active")
        assert document["vendor_id"] == identity & 0xFFFF
        assert document["emarker"] is True and document["pd"] is True
        # Words are kept as they came.
        assert [each["word"] for each in document["objects"]] == [f"{each:08X}" for each in words]


def test_random_words_of_any_kind_are_read_without_an_exception(pdcheck):
    for _ in range(200):
        words = [dice.getrandbits(32) | 0x01000000 for _ in range(dice.randrange(1, 7))]
        if dice.random() < 0.5:
            words[0] = 0xFF008001 | dice.getrandbits(15)
        outcome = pdcheck("cable", "--json", typed(words))
        assert outcome.code == 0 and not outcome.err, (typed(words), outcome)
        assert outcome.json["current_ma"] in (0, 3000, 5000)


def test_both_readings_of_the_same_word_are_right_in_their_place(pdcheck):
    # Bits 10..7 set: configurable lanes in Revision 2.0, 50 V with reserved bits in 3.x.
    words = "0x1800EE01 0x00000000 0x000C0100 0x000827B1"
    old = pdcheck("cable", "--json", "--revision", "2.0", words).json
    new = pdcheck("cable", "--json", "--revision", "3.x", words).json
    assert (old["voltage_mv"], new["voltage_mv"]) == (20000, 50000)
    assert old["epr"] is new["epr"] is False
    # Without a VDM header 50 V is believed only with EPR Capable set, and which reading was taken is said.
    guessed = pdcheck("cable", "--json", words).json
    assert (guessed["revision"], guessed["voltage_mv"]) == ("3.x", 20000)
    assert guessed["revision_from"].startswith("assumed")
    assert any("Revision 2.0" in problem["text"] for problem in guessed["problems"])


@pytest.mark.parametrize("answer", [2, 3], ids=["NAK", "BUSY"])
def test_a_cable_that_refuses_to_answer_is_taken_as_unmarked(pdcheck, answer):
    document = pdcheck("cable", "--json", typed([0xFF008001 | answer << 6])).json
    assert (document["construction"], document["emarker"], document["current_ma"]) == ("unmarked", False, 3000)


def test_words_by_name(pdcheck):
    names = zip("12345", ["FF00A841", "1860EE01", "00000000", "00020100", "100A2643"], strict=True)
    document = pdcheck("cable", "--json", "\n".join(f"VDO{at}: 0x{word}" for at, word in names)).json
    assert (document["current_ma"], document["epr"]) == (5000, True)


def test_words_without_leading_zeros(pdcheck):
    words = [0xFF00A841, 0x1860EE01, 0, 0x20100, 0x100A2643]
    document = pdcheck("cable", "--json", str([hex(word) for word in words])).json
    assert (document["current_ma"], document["epr"]) == (5000, True)


# Description; construction, e-marker, PD, mA, mV, EPR, loop in milliohm.
DESCRIBED = [
    ("C-C", "unmarked", False, True, 3000, 20000, False, None),
    ("C-C 3A", "unmarked", False, True, 3000, 20000, False, None),
    ("C-C 5A 1m", "passive", True, True, 5000, 20000, False, None),
    ("usb-c to usb-c, 100 W", "passive", True, True, 5000, 20000, False, None),
    ("EPR", "passive", True, True, 5000, 50000, True, None),
    ("C-C EPR 1m", "passive", True, True, 5000, 50000, True, None),
    ("C-C 240W", "passive", True, True, 5000, 50000, True, None),
    ("A-C", "legacy", False, False, 3000, 5000, False, None),
    ("A to C 1m", "legacy", False, False, 3000, 5000, False, None),
    ("captive 3A", "captive", False, True, 3000, 20000, False, None),
    ("C-C loop=180mOhm", "unmarked", False, True, 3000, 20000, False, 180.0),
    ("C-C 5A loop=120mΩ", "passive", True, True, 5000, 20000, False, 120.0),
    ("C-C active 5A", "active", True, True, 5000, 20000, False, None),
]


@pytest.mark.parametrize("row", DESCRIBED, ids=[row[0] for row in DESCRIBED])
def test_descriptions(pdcheck, row):
    text, construction, emarker, pd, current, voltage, epr, loop = row
    document = pdcheck("cable", "--json", *text.split()).json
    found = tuple(document[key] for key in ("construction", "emarker", "pd", "current_ma", "voltage_mv", "epr"))
    assert found == (construction, emarker, pd, current, voltage, epr)
    expected = None if loop is None else dict.fromkeys(("min", "typ", "max"), loop / 1000)
    assert document["loop_ohm"] == (expected if expected is None else pytest.approx(expected))


# At 3 A: 180 mOhm drop 0.54 V and burn 1.62 W. Unmeasured, a 3 A cable is taken at 250 mOhm at worst and half of it.
@pytest.mark.parametrize(
    ("text", "at", "drop", "loss"),
    [
        ("C-C loop=180mOhm", "3A", (0.54, 0.54, 0.54), (1.62, 1.62, 1.62)),
        ("C-C", "3A", (0, 0.375, 0.75), (0, 1.125, 2.25)),
        ("C-C 5A", "5 A", (0, 0.375, 0.75), (0, 1.875, 3.75)),
        ("EPR", "500mA", (0, 0.0375, 0.075), (0, 0.01875, 0.0375)),
    ],
)
def test_what_it_costs(pdcheck, text, at, drop, loss):
    document = pdcheck("cable", "--json", text, "--at", at).json
    assert [document["drop_v"][key] for key in ("min", "typ", "max")] == pytest.approx(drop)
    assert [document["loss_w"][key] for key in ("min", "typ", "max")] == pytest.approx(loss)


@pytest.mark.parametrize(
    ("text", "at", "code"), [("C-C", "3A", 0), ("C-C", "3.01A", 1), ("C-C 5A", "5A", 0), ("C-C 5A", "5.01A", 1)]
)
def test_more_than_it_carries(pdcheck, text, at, code):
    outcome = pdcheck("cable", "--json", text, "--at", at)
    assert outcome.code == code
    assert bool(outcome.json["problems"]) == bool(code)


@pytest.mark.parametrize("text", ["C-C loop=3A", "D-C", "C-C 1m 2m", "C-C lop=1mOhm", "0x1234", "C-C 5A EPR lots"])
def test_what_is_no_cable(refused, text):
    refused("cable", text)


def test_words_from_a_file_or_standard_input(pdcheck, tmp_path):
    text = "0xFF00A841\n0x1860EE01\n0x00000000\n0x00020100\n0x100A2643\n"
    path = tmp_path / "marker.txt"
    path.write_text(text)
    for outcome in (pdcheck("cable", "--json", path), pdcheck("cable", "--json", "-", stdin=text)):
        assert outcome.code == 0 and outcome.json["epr"] is True
