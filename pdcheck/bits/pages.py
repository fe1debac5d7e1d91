"""The page of bit layouts, written from the tables: ``python -m pdcheck.bits.pages > docs/words.md``."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator

from pdcheck.bits.block_layout import Block, at_bytes, byte_place
from pdcheck.bits.blocks import BLOCKS, BLOCKS_CABLE
from pdcheck.bits.data_words import DATA_WORDS
from pdcheck.bits.header import CONTROL, DATA, EXTENDED, HEADER_WORDS
from pdcheck.bits.identity import DISPLAYPORT_WORDS, IDENTITY_WORDS
from pdcheck.bits.layout import Field, Word, place
from pdcheck.bits.power import POWER_WORDS, REQUEST_WORDS_SHORT

_TAILS = {
    "text": "then `text`: bytes ended by a zero byte; what is not printable ASCII is shown as `\\xNN`",
    "letters": "then `countries`: two letters each, the first letter first",
    "bytes": "then `payload`: bytes that no table names, in hex",
}

_HEAD = """# The words on the wire

Made from the tables in `pdcheck/bits/`; do not edit. To make it anew:

    python -m pdcheck.bits.pages > docs/words.md

Each table names the bits, the field, the key that the Python interface and the JSON use, and what a value means. The
ending of a key is its unit (`_mv`, `_ma`, `_mw`, `_w`); "x 50 mV" is the size of one count. Bits that a table leaves
out are reserved: they should be zero, are kept when they are not, and then show as `reserved_HIGH_LOW`.

Below each heading stands where the layout comes from, and in brackets how far it can be trusted: **[checked]** was
compared with a second public text of the standard's tables, **[memory]** was not. All words go little-endian on the
wire.
"""

_BLOCKS = """Positions are byte offsets; `5: 3..1` is bits 3..1 counted from the lowest bit of byte 5. A block that is
shorter is read as far as it goes, one that is longer keeps what no table names as `rest`."""
_WORDS = {
    "Headers": HEADER_WORDS,
    "Power: objects of sources and sinks, requests": (*POWER_WORDS, *REQUEST_WORDS_SHORT.values()),
    "Vendor-defined: identity and cables": IDENTITY_WORDS,
    "Vendor-defined: DisplayPort": DISPLAYPORT_WORDS,
    "Other data objects": DATA_WORDS,
}


def codes_text(codes: Iterable[tuple[int, str]], width: int) -> str:
    """Codes as people write them, in binary up to four bits; neighbours with one name are joined.

    >>> codes_text([(0, "none"), (1, "1.5 A"), (2, "3 A"), (3, "3 A")], 2)
    '00 none; 01 1.5 A; 10..11 3 A'
    """
    runs: list[tuple[int, int, str]] = []
    for code, name in codes:
        if runs and runs[-1][2] == name and runs[-1][1] == code - 1:
            runs[-1] = (runs[-1][0], code, name)
        else:
            runs.append((code, code, name))

    def shown(code: int) -> str:
        return f"{code:0{width}b}" if width <= 4 else (f"0x{code:X}" if code > 99 else str(code))

    return "; ".join(
        f"{shown(low)} {name}" if low == high else f"{shown(low)}..{shown(high)} {name}" for low, high, name in runs
    )


def meaning(field: Field) -> str:
    """Everything about a field's value in one cell: step and unit, codes, special counts, note, own origin."""
    said: list[str] = []
    if field.fixed is not None:
        said.append(f"{field.fixed:0{field.width}b}")
    if field.unit:
        said.append(field.unit if field.scale == 1 else f"x {field.scale} {field.unit}")
    elif field.scale != 1:
        said.append(f"x {field.scale}")
    if field.codes is not None:
        letters = all(len(name) == 1 and ord(name) == code for code, name in field.codes.items())
        said.append("a capital letter, ASCII" if letters else codes_text(sorted(field.codes.items()), field.width))
    elif field.flag:
        said.append("1 = yes")
    if field.special:
        said.append("; ".join(f"0x{count:X} {name}" for count, name in sorted(field.special.items())))
    if field.note:
        said.append(field.note)
    if field.origin is not None:
        said.append(str(field.origin))
    return "; ".join(said).replace("|", "\\|")


def _origin(word: Word) -> str:
    return str(word.origin) if word.origin is not None else "no origin given"


def word_section(word: Word) -> Iterator[str]:
    """Lines of one word: heading, origin, table from the highest bit down."""
    yield f"### {word.title}"
    yield ""
    yield f"`{word.name}`, {word.bits} bits. {_origin(word)}"
    yield ""
    yield from _table("bits", ((place(field), field) for field in word.fields))


def block_section(name: str, block: Block) -> Iterator[str]:
    """Lines of one data block: heading, length, origin, table from the first byte on."""
    yield f"### {block.head.title}"
    yield ""
    size = block.head_bytes
    length = f"{block.least}..{block.most} bytes" if block.tail else f"{size} byte{'s' * (size > 1)}"
    yield f"`{block.head.name}`, {length}, in the message {name}. {_origin(block.head)}"
    yield ""
    for older in block.older:
        yield f"- {older.text()}"
    if block.older:
        yield ""
    if block.head.fields:
        parts = (part for field in reversed(block.head.fields) for part in at_bytes(field))
        yield from _table("bytes", ((byte_place(field), field) for field in parts))
    if block.tail:
        yield f"From byte {size} on: {_TAILS[block.tail].removeprefix('then ')}."
        yield ""


def _table(first: str, rows: Iterable[tuple[str, Field]]) -> Iterator[str]:
    yield f"| {first} | field | key | value |"
    yield "|---|---|---|---|"
    for where, field in rows:
        if field.reserved:
            yield f"| {where} | reserved | | |"
        else:
            yield f"| {where} | {field.title} | `{field.key}` | {meaning(field)} |"
    yield ""


def _types() -> Iterator[str]:
    for title, table, number in (
        ("Control messages (no data object)", CONTROL, "6.5"),
        ("Data messages", DATA, "6.6"),
        ("Extended messages", EXTENDED, "6.53"),
    ):
        listed = ", ".join(f"{code} {name}" for code, name in sorted(table.items()))
        yield f"- {title}, PD R3.2 V1.1, Table {number} [checked]: {listed}."


def page() -> str:
    """The whole page as Markdown."""
    lines = [_HEAD]
    for heading, members in _WORDS.items():
        lines += [f"## {heading}", "", *(line for word in members for line in word_section(word))]
        if members is HEADER_WORDS:
            lines += ["### Message types", "", *_types(), ""]
    lines += ["## Data blocks of extended messages", "", _BLOCKS, ""]
    for name, block in BLOCKS.items():
        for each in (block, BLOCKS_CABLE.get(name)):
            lines += [] if each is None else block_section(name, each)
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    sys.stdout.write(page())
