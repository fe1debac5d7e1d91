"""Cables: descriptions, contradictions, readings, marker words; what is assumed is said."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.errors import InputError
from pdcheck.facts.copper import awg_ohm_per_m
from pdcheck.parts.cable import Cable, captive_cable
from pdcheck.quantities import Triple

# description: construction, marker, PD, current, voltage, EPR
DESCRIBED = [
    ("C-C 5A 1m", "passive", True, True, 5.0, 20.0, False),
    ("C-C, 5 A, 1 m", "passive", True, True, 5.0, 20.0, False),
    ("USB-C to USB-C 100W", "passive", True, True, 5.0, 20.0, False),
    ("C-C 3A", "unmarked", False, True, 3.0, 20.0, False),
    ("C-C 60W", "unmarked", False, True, 3.0, 20.0, False),
    ("C-C 3A marked", "passive", True, True, 3.0, 20.0, False),
    ("C-C", "unmarked", False, True, 3.0, 20.0, False),
    ("unmarked", "unmarked", False, True, 3.0, 20.0, False),
    ("EPR", "passive", True, True, 5.0, 50.0, True),
    ("C-C EPR 1m", "passive", True, True, 5.0, 50.0, True),
    ("C-C 240W", "passive", True, True, 5.0, 50.0, True),
    ("active 5A", "active", True, True, 5.0, 20.0, False),
    ("A-C", "legacy", False, False, 3.0, 5.0, False),
    ("USB-A to USB-C 1m", "legacy", False, False, 3.0, 5.0, False),
    ("a to c", "legacy", False, False, 3.0, 5.0, False),
    ("captive 3A", "captive", False, True, 3.0, 20.0, False),
    ("captive 5A", "captive", False, True, 5.0, 20.0, False),
]


@pytest.mark.parametrize(("text", "construction", "emarker", "pd", "current", "voltage", "epr"), DESCRIBED)
def test_description(
    text: str, construction: str, emarker: bool, pd: bool, current: float, voltage: float, epr: bool
) -> None:
    cable = Cable(text)
    assert (cable.construction, cable.emarker, cable.pd) == (construction, emarker, pd)
    assert (cable.current_a, cable.voltage_v, cable.epr, cable.is_epr) == (current, voltage, epr, epr)
    assert cable.problems == ()


def test_what_nobody_said_is_said_to_be_assumed() -> None:
    assert Cable("C-C").assumed == ("no e-marker data: taken as 3 A",)
    assert Cable("C-C marked").assumed == ("marker without a rating: taken as 3 A",)
    assert Cable("captive").assumed == ("fixed cable without a rating: taken as 3 A",)
    assert Cable("C-C 5A").assumed == ()


CONTRADICTORY = [
    ("C-C 5A marker=false", 3.0, "5 A stated without an e-marker: carries 3 A"),
    ("unmarked 5A", 3.0, "5 A stated without an e-marker: carries 3 A"),
    ("EPR no-marker", 3.0, "EPR stated without an e-marker: carries 3 A"),
    ("EPR 3A", 3.0, "so this is none"),
    ("C-C 4A", 3.0, "taken as 3 A"),
    ("C-C 3.01A", 3.0, "3.01 A stated"),
    ("C-C 6A", 5.0, "no contract exceeds 5 A"),
    ("C-C 5A 50V", 5.0, "without EPR: good for 20 V"),
    ("A-C 5A", 3.0, "carries 3 A"),
    ("A-C 20V", 3.0, "no wire for PD"),
]


@pytest.mark.parametrize(("text", "current", "problem"), CONTRADICTORY)
def test_a_contradiction_is_a_problem_and_the_lesser_figure_counts(text: str, current: float, problem: str) -> None:
    cable = Cable(text)
    assert cable.current_a == current
    assert not cable.epr
    assert any(problem in each for each in cable.problems)


@pytest.mark.parametrize(
    "text",
    ["", "   ", "rubber", "C-C C-C", "C-C A-C", "C-C 5A 3A", "loop=5V", "C-C loop=", "lenght=1m", "5", "words=00"],
)
def test_nonsense_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        Cable(text)


def test_a_mistyped_key_is_suggested() -> None:
    with pytest.raises(InputError, match="lenght"):
        Cable("C-C lenght=1m")
    try:
        Cable("C-C lenght=1m")
    except InputError as error:
        assert error.expected.startswith("length ")


@given(st.text(max_size=80))
def test_any_text_is_a_cable_or_an_input_error(text: str) -> None:
    try:
        Cable(text)
    except InputError as error:
        assert "\n" not in str(error)


def test_loop_is_stated_measured_or_worked_out() -> None:
    assert Cable("C-C 3A loop=180mOhm").loop == Triple.exact(0.18)
    read = Cable(id="x", kind="C-C", rating="3A", readings={"source": "5.12V", "sink": "4.80V", "at": "2A"})
    assert read.loop == Triple.exact(0.16)
    gauge = Cable("C-C 22AWG 2m")
    assert gauge.loop is not None
    assert gauge.loop.typ == pytest.approx(4 * awg_ohm_per_m(22))
    assert "contacts" in gauge.assumed[-1]
    table = Cable(id="x", kind="C-C", loop={"min": "0.1ohm", "typ": "120mOhm", "max": 0.15})
    assert table.loop_ohm() == (Triple(0.1, 0.12, 0.15), False)


def test_length_alone_says_nothing_of_the_loop() -> None:
    assert Cable("C-C 3A 2m").loop is None


def test_unknown_loop_is_taken_at_the_limit_of_the_standard_and_said_so() -> None:
    # Type-C 4.4.1: 500 mV + 250 mV at the rated current
    assert Cable("C-C 3A").loop_ohm() == (Triple(0.0, 0.125, 0.25), True)
    assert Cable("C-C 5A").loop_ohm()[0].max == pytest.approx(0.15)
    assert Cable("unmarked 5A").loop_ohm()[0].max == pytest.approx(0.25)


MISTAKES = [
    ({"kind": "C-C", "loop": "0.1ohm", "readings": {"source": 5, "sink": 4, "at": 1}}, "both give the loop"),
    ({"kind": "C-C", "awg": 24}, "without a length"),
    ({"kind": "C-C", "readings": {"source": 4, "sink": 5, "at": 1}}, "above the source's"),
    ({"kind": "C-C", "readings": {"source": 5, "sink": 4, "at": 0}}, "zero"),
    ({"kind": "C-C", "loop": {"min": 0.3, "typ": 0.2, "max": 0.1}}, "do not rise"),
    ({"kind": "C-C", "rating": "-3A"}, "negative"),
    ({"kind": "C-C", "rating": "0A"}, "zero"),
    ({"kind": "C-C", "rating": "1000W"}, "out of range"),
    ({"kind": "C-C", "current_a": 5.0}, "unknown key 'current_a'"),
    ({"kind": "D-D"}, "not a kind of cable"),
    ({"kind": "C-C", "marker": "maybe"}, "'maybe' does not fit"),
    ({"kind": "unmarked", "marker": True}, "unmarked, and marker = true"),
    ({"words": "zz"}, ""),
    ({"words": ""}, ""),
    ({"construction": "passive", "loop": "nan"}, "cannot be read"),
]


@pytest.mark.parametrize(("said", "reason"), MISTAKES)
def test_mistakes(said: dict[str, object], reason: str) -> None:
    with pytest.raises(InputError) as caught:
        Cable.model_validate({"id": "x", **said})
    assert reason in str(caught.value)


EPR_WORDS = "0xFF00A041 0x18600000 0x00000000 0x00010001 0x000A2640"


def test_marker_words() -> None:
    cable = Cable(id="x", words=EPR_WORDS)
    assert (cable.construction, cable.emarker, cable.current_a, cable.voltage_v) == ("passive", True, 5.0, 50.0)
    assert cable.is_epr
    assert cable.words is not None and cable.words[-1] == 0x000A2640
    assert cable.assumed == ()


def test_marker_words_against_a_printed_rating() -> None:
    three = Cable(id="x", words="0xFF00A041 0x18600000 0x00000000 0x00010001 0x00082020", rating="5A")
    assert three.current_a == 3.0
    assert any("the e-marker counts" in problem for problem in three.problems)


def test_marker_words_without_their_header_say_which_reading_was_taken() -> None:
    cable = Cable(id="x", words="0x18600000 0x00000000 0x00010001 0x000A2640")
    assert cable.assumed[0].startswith("marker read as Revision 3.x")
    old = Cable(id="x", words="0x18600000 0x00000000 0x00010001 0x000A2640", revision="2.0")
    assert not old.epr
    assert old.voltage_v == 20.0


def test_a_whole_message_is_read_for_its_words() -> None:
    words = [0xFF00A041, 0x18600000, 0, 0x00010001, 0x000A2640]
    header = 15 | 2 << 6 | 1 << 8 | len(words) << 12
    message = header.to_bytes(2, "little") + b"".join(word.to_bytes(4, "little") for word in words)
    assert Cable(id="x", words=message.hex(" ")).is_epr


def test_a_cable_survives_being_dumped_and_read() -> None:
    for text, *_ in DESCRIBED:
        cable = Cable(text)
        assert Cable.model_validate(cable.model_dump()) == cable
        assert Cable.model_validate_json(cable.model_dump_json()) == cable


def test_a_fixed_cable_of_which_nothing_is_known_carries_what_its_source_offers() -> None:
    assert captive_cable("x", 5.0, True).is_epr
    assert captive_cable("x", 2.0, False).current_a == 3.0
