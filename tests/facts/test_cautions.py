"""The cautions: one text for the command line, the page and the docs, and the ones that must be among them."""

from pathlib import Path

import pytest

from pdcheck.facts.cautions import CAUTIONS, cautions_markdown

PAGE = Path(__file__).parents[2] / "docs" / "cautions.md"


def test_the_page_is_the_text():
    assert PAGE.read_text(encoding="utf-8") == cautions_markdown()


@pytest.mark.parametrize(
    "words",
    [
        ("marker", "never bypass"),
        ("hot connector", "stop sign"),
        ("polarity", "meter"),
        ("set the trigger first",),
        ("no output switch", "5 v", "20 v", "48 v"),
        ("fuse", "for its wire", "not for the source"),
        ("lithium", "maker"),
        ("mains", "local codes"),
        ("licensed person",),
    ],
)
def test_what_must_be_said_is_said(words):
    assert any(all(word in caution.text.lower() for word in words) for caution in CAUTIONS)


def test_each_is_short_and_said_once():
    assert len({caution.text for caution in CAUTIONS}) == len(CAUTIONS)
    for caution in CAUTIONS:
        assert len(caution.text) <= 220
        assert caution.text.endswith(".")


def test_headings_stand_together():
    headings = [caution.heading for caution in CAUTIONS]
    runs = [heading for at, heading in enumerate(headings) if at == 0 or headings[at - 1] != heading]
    assert len(runs) == len(set(runs))
