"""The committed page of bit layouts is the one that the tables give."""

from pathlib import Path

from pdcheck.bits.blocks import BLOCKS
from pdcheck.bits.data_words import DATA_WORDS
from pdcheck.bits.identity import IDENTITY_WORDS
from pdcheck.bits.pages import page
from pdcheck.bits.power import POWER_WORDS

PAGE = Path(__file__).parents[2] / "docs" / "words.md"


def test_the_committed_page_is_up_to_date():
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python -m pdcheck.bits.pages > docs/words.md"


def test_every_word_and_every_field_stands_on_it():
    text = page()
    heads = [block.head for block in BLOCKS.values()]
    for word in (*POWER_WORDS, *IDENTITY_WORDS, *DATA_WORDS, *heads):
        start = text.index(f"### {word.title}\n")
        end = text.find("\n### ", start)
        section = text[start : end if end >= 0 else None]
        assert str(word.origin) in section
        for field in word.named:
            assert f"`{field.key}`" in section, (word.name, field.key)


def test_what_is_from_memory_is_marked():
    assert page().count("[memory]") == 1 + 3
