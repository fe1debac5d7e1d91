"""The construct codecs: of a word, made from its table, and of a whole message with its CRC."""

from __future__ import annotations

from functools import cache
from typing import Any

import construct

from pdcheck.bits.crc import crc32
from pdcheck.bits.header import HEADER
from pdcheck.bits.layout import Word


@cache
def codec(word: Word) -> Any:
    """A construct that parses and builds ``word`` from its little-endian bytes, every field by key, unscaled.

    >>> from pdcheck.bits.power import FIXED_SOURCE
    >>> parsed = codec(FIXED_SOURCE).parse(bytes.fromhex("2c910108"))
    >>> parsed.voltage_mv * 50, parsed.current_ma * 10
    (5000, 3000)
    >>> codec(FIXED_SOURCE).build(parsed).hex()
    '2c910108'
    """
    return construct.ByteSwapped(
        construct.BitStruct(*(field.key / construct.BitsInteger(field.width) for field in word.fields))
    )


def _frame() -> Any:
    """A message that is not extended: header by field, as many objects as it says, CRC over both."""
    covered = construct.Struct(
        "header" / codec(HEADER),
        "words" / construct.Array(construct.this.header.object_count, construct.Int32ul),
    )
    return construct.Struct(
        "covered" / construct.RawCopy(covered),
        "crc" / construct.Checksum(construct.Int32ul, crc32, construct.this.covered.data),
    )


FRAME = _frame()
"""Parses and builds a control or data message with its CRC; a wrong CRC raises construct's ChecksumError."""
