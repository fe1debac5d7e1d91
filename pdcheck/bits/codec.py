"""The construct codec of a word, made from its table."""

from __future__ import annotations

from typing import Any

import construct

from pdcheck.bits.layout import Field, Word

_CODECS: dict[int, Any] = {}


def codec(word: Word) -> Any:
    """A construct that parses and builds ``word`` from its little-endian bytes, every field by key, unscaled.

    >>> from pdcheck.bits.power import FIXED_SOURCE
    >>> parsed = codec(FIXED_SOURCE).parse(bytes.fromhex("2c910108"))
    >>> parsed.voltage_mv * 50, parsed.current_ma * 10
    (5000, 3000)
    >>> codec(FIXED_SOURCE).build(parsed).hex()
    '2c910108'
    """
    made = _CODECS.get(id(word))
    if made is None:
        made = construct.ByteSwapped(construct.BitStruct(*(_bits(field) for field in word.fields)))
        _CODECS[id(word)] = made
    return made


def _bits(field: Field) -> Any:
    return field.key / construct.BitsInteger(field.width)
