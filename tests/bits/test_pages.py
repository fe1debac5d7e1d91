"""The committed page of bit layouts is the one that the tables give; each line of it, from small tables."""

from pathlib import Path

import pytest

from pdcheck.bits.block_layout import Block, Length, byte, flag
from pdcheck.bits.blocks import BLOCKS
from pdcheck.bits.data_words import DATA_WORDS
from pdcheck.bits.identity import IDENTITY_WORDS
from pdcheck.bits.layout import Field, Word, bit
from pdcheck.bits.pages import block_section, codes_text, meaning, page, word_section
from pdcheck.bits.power import POWER_WORDS
from pdcheck.facts.origin import Origin

PAGE = Path(__file__).parents[2] / "docs" / "words.md"
MEMORY = Origin("somewhere", "memory")
ANEW = "run: python -m pdcheck.bits.pages > docs/words.md"


def test_the_committed_page_is_up_to_date():
    assert PAGE.read_text(encoding="utf-8") == page(), ANEW


def test_tables_loaded_anew_give_the_page_again(anew):
    assert anew("pages").page() == PAGE.read_text(encoding="utf-8"), ANEW


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
    assert page().count("[memory]") == 15


@pytest.mark.parametrize(
    ("codes", "width", "text"),
    [
        ([], 2, ""),
        ([(0, "a")], 1, "0 a"),
        ([(0, "a"), (1, "a"), (2, "a")], 4, "0000..0010 a"),
        ([(0, "a"), (2, "a")], 2, "00 a; 10 a"),
        ([(0, "a"), (1, "b"), (2, "b"), (3, "a")], 2, "00 a; 01..10 b; 11 a"),
        ([(1, "a"), (99, "b"), (100, "c"), (101, "c")], 8, "1 a; 99 b; 0x64..0x65 c"),
        ([(3, "a")], 5, "3 a"),
    ],
)
def test_codes(codes, width, text):
    assert codes_text(codes, width) == text


@pytest.mark.parametrize(
    ("field", "text"),
    [
        (Field("a", 3, 0, "A"), ""),
        (Field("a", 3, 0, "A", fixed=2), "0010"),
        (Field("a_mv", 3, 0, "A"), "mV"),
        (Field("a_mv", 3, 0, "A", 50), "x 50 mV"),
        (Field("a", 3, 0, "A", 5), "x 5"),
        (bit("a", 3, "A"), "1 = yes"),
        (Field("a", 3, 3, "A", codes={1: "yes", 0: "no"}), "0 no; 1 yes"),
        (Field("a", 7, 0, "A", codes={65: "A", 66: "B"}), "a capital letter, ASCII"),
        (Field("a", 7, 0, "A", codes={65: "A", 66: "C"}), "65 A; 66 C"),
        (Field("a", 7, 0, "A", codes={65: "A", 66: "BB"}), "65 A; 66 BB"),
        (Field("a_c", 7, 0, "A", special={255: "unknown", 0: "none"}), "°C; 0x0 none; 0xFF unknown"),
        (Field("a", 3, 0, "A", note="this|that", origin=MEMORY), "this\\|that; somewhere [memory]"),
        (Field("a", 1, 1, "A", codes={1: "yes"}, fixed=1, note="n"), "1; 1 yes; n"),
    ],
)
def test_a_cell_says_all_about_a_value(field, text):
    assert meaning(field) == text


def test_a_word_s_section():
    assert list(
        word_section(Word("w", "A word", [Field("a_mv", 7, 2, "A", 50), bit("b", 0, "B")], MEMORY, bits=8))
    ) == [
        "### A word",
        "",
        "`w`, 8 bits. somewhere [memory]",
        "",
        "| bits | field | key | value |",
        "|---|---|---|---|",
        "| 7..2 | A | `a_mv` | x 50 mV |",
        "| 1 | reserved | | |",
        "| 0 | B | `b` | 1 = yes |",
        "",
    ]
    assert "`w`, 0 bits. no origin given" in word_section(Word("w", "A word", [], bits=0))


def test_a_block_s_section():
    head = Word("w", "A block", [byte("a", 0, "A"), flag("b", 1, 7, "B")], MEMORY, bits=16)
    older = (Length(1, "once", MEMORY), Length(0, "at first", MEMORY))
    assert list(block_section("Name", Block(head, "letters", 2, 9, older))) == [
        "### A block",
        "",
        "`w`, 2..9 bytes, in the message Name. somewhere [memory]",
        "",
        "- 1 bytes once (somewhere [memory])",
        "- 0 bytes at first (somewhere [memory])",
        "",
        "| bytes | field | key | value |",
        "|---|---|---|---|",
        "| 0 | A | `a` |  |",
        "| 1: 6..0 | reserved | | |",
        "| 1: 7 | B | `b` | 1 = yes |",
        "",
        "From byte 2 on: `countries`: two letters each, the first letter first.",
        "",
    ]
    assert list(block_section("Name", Block(head)))[2] == "`w`, 2 bytes, in the message Name. somewhere [memory]"
    one = Word("w", "A block", [byte("a", 0, "A")], bits=8)
    assert list(block_section("Name", Block(one)))[2:] == [
        "`w`, 1 byte, in the message Name. no origin given",
        "",
        "| bytes | field | key | value |",
        "|---|---|---|---|",
        "| 0 | A | `a` |  |",
        "",
    ]
    none = Word("w", "A block", [], bits=0)
    assert list(block_section("Name", Block(none, "bytes", 4, 9)))[3:] == [
        "",
        "From byte 0 on: `payload`: bytes that no table names, in hex.",
        "",
    ]
