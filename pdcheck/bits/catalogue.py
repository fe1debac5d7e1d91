"""Data objects and data blocks of the less common messages, by message name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from pdcheck.bits.layout import Word
from pdcheck.bits.objects import Reading, read
from pdcheck.bits.problems import Problem

DATA_OBJECTS: dict[str, Word] = {}
"""The table of the one kind of object that a data message carries, by message name."""


class BlockReading(NamedTuple):
    """The data block of an extended message: its bytes, its fields by key, and what is odd about it."""

    kind: str
    data: bytes
    layout: Word | None
    fields: Mapping[str, Any]
    problems: tuple[Problem, ...] = ()


def read_data_objects(name: str, words: Sequence[int]) -> list[Reading]:
    """The objects of a data message that has a table here; bare words for any other, and said so.

    >>> [reading.kind for reading in read_data_objects("reserved data 13", [1])]
    ['unread']
    """
    layout = DATA_OBJECTS.get(name)
    if layout is None:
        text = f"objects of {name} have no table here: shown as bare words"
        return [
            Reading("unread", word, None, {}, (Problem("no-table", text),) if not at else ())
            for at, word in enumerate(words)
        ]
    return [read(layout.name, layout, word, layout.title) for word in words]


def read_block(name: str, data: bytes, sop: str = "SOP") -> BlockReading:
    """The data block of an extended message; bare bytes where it has no table here, and said so.

    >>> read_block("reserved extended 31", b"ab").problems[0].code
    'no-table'
    """
    return BlockReading(
        name, data, None, {}, (Problem("no-table", f"the data of {name} has no table here: shown as bytes"),)
    )
