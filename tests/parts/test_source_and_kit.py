"""Sources from labels, words and captures; kits and their pairs."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pdcheck.bits.offers import Offer, fixed
from pdcheck.errors import InputError
from pdcheck.parts.kit import Kit
from pdcheck.parts.source import Source

# A capture from a real charger, published in a public article on reading PD with a bus receiver chip (2023-02-22).
CAPTURE = "a1612c9101082cd1020013c10300dcb00400a54006003c21dcc048c6e7c6"
CAPTURED = [("fixed", 5000), ("fixed", 9000), ("fixed", 12000), ("fixed", 15000), ("fixed", 20000), ("pps", 11000)]


def kinds(source: Source) -> list[tuple[str, int]]:
    return [(offer.kind, offer.max_mv) for offer in source.offers]


def test_offers_from_every_input() -> None:
    assert kinds(Source(id="x", hex=CAPTURE)) == CAPTURED
    assert kinds(Source(id="x", offers=CAPTURE)) == CAPTURED
    words = (0x0801912C, 0x0002D12C)
    expected = [("fixed", 5000), ("fixed", 9000)]
    assert kinds(Source(id="x", offers="5V 3A, 9V 3A")) == expected
    assert kinds(Source(id="x", offers=["5V 3A", "9V 3A"])) == expected
    assert kinds(Source(id="x", offers=words)) == expected
    assert kinds(Source(id="x", hex="0x0801912C 0x0002D12C")) == expected
    assert kinds(Source(id="x", offers=(fixed(5000, 3000, 1), Offer.from_word(0x0002D12C, 2)))) == expected


def test_a_capture_is_sought_beside_the_kit(tmp_path: Path) -> None:
    (tmp_path / "charger.log").write_text(CAPTURE)
    kit = Kit.model_validate({"source": [{"id": "x", "capture": "charger.log"}]}, context={"folder": tmp_path})
    assert kinds(kit.sources[0]) == CAPTURED
    assert kit.sources[0].capture == "charger.log"
    assert Kit.model_validate(kit.model_dump()) == kit


def test_a_capture_with_a_bad_crc_is_doubtful() -> None:
    source = Source(id="x", hex=CAPTURE[:-2] + "c7")
    assert kinds(source) == CAPTURED
    assert source.problems == ("the message that brought these offers has a bad CRC",)


def test_a_printed_power_is_kept() -> None:
    assert Source(id="x", offers="5V 3A, 9V 3A 27W").pdp_w == 27.0
    assert Source(id="x", offers="5V 3A, 9V 3A 27W", pdp="30W").pdp_w == 30.0


def test_captured_over() -> None:
    assert Source(id="x", offers="5V 3A", captured_over="5 A").captured_over == "5A"
    assert Source(id="x", offers="5V 3A", captured_over="epr").captured_over == "EPR"


def test_a_source_without_pd_says_its_current() -> None:
    source = Source(id="x", typec_current="1.5A")
    assert source.offers == ()
    assert source.typec_current_a == 1.5


MISTAKES = [
    ({}, "nothing says what it offers"),
    ({"offers": "5V 3A", "hex": CAPTURE}, "offers and hex both"),
    ({"offers": ""}, ""),
    ({"offers": "nothing at all"}, ""),
    ({"offers": 5}, "is not a text"),
    ({"hex": "5V 3A"}, ""),
    ({"capture": "no-such-file.log"}, "no-such-file.log"),
    ({"capture": "."}, "is a directory"),
    ({"offers": "5V 3A", "tolerance": 3}, "out of range"),
    ({"offers": "5V 3A", "captured_over": "7A"}, "not a cable to capture over"),
    ({"offers": "5V 3A", "id": "two words"}, "is not a name"),
    ({"offers": "5V 3A", "id": "a/b"}, "is not a name"),
    ({"offers": "5V 3A", "id": ""}, "is not a name"),
    ({"offers": "5V 3A", "title": "\x1b[31m"}, "is not a title"),
    ({"offers": "5V 3A", "title": "x" * 201}, "is not a title"),
]


@pytest.mark.parametrize(("said", "reason"), MISTAKES, ids=lambda x: str(x)[:40])
def test_mistakes(said: dict[str, object], reason: str) -> None:
    with pytest.raises(InputError) as caught:
        Source.model_validate({"id": "x", **said})
    line = str(caught.value)
    assert reason in line
    assert "\x1b" not in line


def test_a_fixed_cable_is_the_only_one_of_its_source() -> None:
    kit = Kit(
        source=[
            {"id": "own", "offers": "5V 3A, 20V 5A", "captive": True},
            {"id": "named", "offers": "5V 3A", "cable": {"rating": "3A", "loop": "170mOhm"}},
            {"id": "plain", "offers": "5V 3A"},
        ],
        cable=[{"id": "a", "kind": "C-C"}, {"id": "b", "kind": "A-C"}],
    )
    pairs = [(source.id, cable.id) for source, cable in kit.pairs()]
    assert pairs == [("own", "own-cable"), ("named", "named-cable"), ("plain", "a"), ("plain", "b")]
    own, named = kit.sources[0].cable, kit.sources[1].cable
    assert own is not None and named is not None
    assert (own.construction, own.current_a) == ("captive", 5.0)
    assert "taken to carry what its source offers" in own.assumed[0]
    assert (named.construction, named.current_a, named.assumed) == ("captive", 3.0, ())


def test_an_id_is_found_or_the_nearest_is_named() -> None:
    kit = Kit(source=[{"id": "wall-45", "offers": "5V 3A"}, {"id": "desk-65", "offers": "5V 3A"}])
    assert kit.source("desk-65").id == "desk-65"
    with pytest.raises(InputError) as caught:
        kit.source("wal-45")
    assert caught.value.expected.startswith("wall-45")
    with pytest.raises(InputError, match="no cable"):
        kit.cable("x")


def test_one_id_twice() -> None:
    with pytest.raises(InputError) as caught:
        Kit(cable=[{"id": "a", "kind": "C-C"}, {"id": "a", "kind": "A-C"}])
    assert "is the id of another cable already" in str(caught.value)


def test_parts_are_frozen() -> None:
    with pytest.raises(InputError):
        Source(id="x", offers="5V 3A").id = "y"


@pytest.mark.parametrize("way", ["steps", "whole", "link", "folder link"])
def test_a_capture_lies_beside_the_kit_or_below_unless_the_user_allows_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    home, kits = tmp_path / "home", tmp_path / "kits"
    (kits / "below").mkdir(parents=True)
    home.mkdir()
    (home / "own.txt").write_text("5V 3A, 9V 3A\n")
    (kits / "below" / "wall.txt").write_text("5V 3A, 9V 3A\n")
    (kits / "link.txt").symlink_to(home / "own.txt")
    (kits / "home").symlink_to(home)
    named = {
        "steps": "../home/own.txt",
        "whole": str(home / "own.txt"),
        "link": "link.txt",
        "folder link": "home/own.txt",
    }
    kit = kits / "kit.toml"
    kit.write_text('[[source]]\nid = "a"\ncapture = "below/wall.txt"\n')
    assert len(Kit.read(kit).sources[0].offers) == 2
    kit.write_text(f'[[source]]\nid = "a"\ncapture = "{named[way]}"\n')
    with pytest.raises(InputError, match="outside of the folder"):
        Kit.read(kit)
    monkeypatch.setenv("PDCHECK_CAPTURES", os.pathsep.join([str(tmp_path / "none"), str(home)]))
    assert len(Kit.read(kit).sources[0].offers) == 2
    # A program names what it wants.
    monkeypatch.delenv("PDCHECK_CAPTURES")
    assert len(Source(id="a", capture=str(home / "own.txt")).offers) == 2


@pytest.mark.parametrize(
    "text", ["secret=hunter\n", "6111 hunter\n", "5V 3A, 9V hunter\n", "hunter" * 40, "\x00hunter", "5V hunter"]
)
def test_what_stands_in_a_file_that_a_kit_names_is_not_told(tmp_path: Path, text: str) -> None:
    (tmp_path / "own.txt").write_text(text)
    (tmp_path / "kit.toml").write_text('[[source]]\nid = "a"\ncapture = "own.txt"\n')
    with pytest.raises(InputError) as told:
        Kit.read(tmp_path / "kit.toml")
    assert "hunter" not in str(told.value) and "own.txt" in str(told.value)
