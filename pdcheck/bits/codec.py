"""The construct codecs: of a word, made from its table, and of a whole message with its CRC."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import construct

from pdcheck.bits.crc import crc32
from pdcheck.bits.header import HEADER
from pdcheck.bits.layout import Field, Word

_CODECS: dict[Word, Any] = {}


def codec(word: Word) -> Any:
    """A construct that parses and builds ``word`` from its little-endian bytes, every field by key, unscaled.

    >>> from pdcheck.bits.power import FIXED_SOURCE
    >>> parsed = codec(FIXED_SOURCE).parse(bytes.fromhex("2c910108"))
    >>> parsed.voltage_mv * 50, parsed.current_ma * 10
    (5000, 3000)
    >>> codec(FIXED_SOURCE).build(parsed).hex()
    '2c910108'
    """
    made = _CODECS.get(word)
    if made is None:
        made = construct.ByteSwapped(construct.BitStruct(*(_bits(field) for field in word.fields)))
        _CODECS[word] = made
    return made


def _bits(field: Field) -> Any:
    return field.key / construct.BitsInteger(field.width)


def _checksum(raw: bytes) -> int:
    return crc32(raw)


def _frame() -> Any:
    """A message that is not extended: header by field, as many objects as it says, CRC over both."""
    covered = construct.Struct(
        "header" / codec(HEADER),
        "words" / construct.Array(construct.this.header.object_count, construct.Int32ul),
    )
    return construct.Struct(
        "covered" / construct.RawCopy(covered),
        "crc" / construct.Checksum(construct.Int32ul, _checksum, construct.this.covered.data),
    )


FRAME = _frame()
"""Parses and builds a control or data message with its CRC; a wrong CRC raises construct's ChecksumError."""


def build_frame(header: int, words: Sequence[int]) -> bytes:
    """Header, data objects and CRC as bytes.

    >>> build_frame(0x0041, []).hex()
    '4100bb6cbba8'
    """
    fields = {field.key: field.take(header) for field in HEADER.fields}
    return bytes(FRAME.build({"covered": {"value": {"header": fields, "words": list(words)}}}))
