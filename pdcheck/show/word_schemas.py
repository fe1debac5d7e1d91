"""Words on the wire as schemas tell of them: kinds, types, flags and fields by name, all out of the bit tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from typing import get_args

from pdcheck.bits.blocks import BLOCKS, BLOCKS_CABLE
from pdcheck.bits.data_words import DATA_OBJECTS, DATA_OBJECTS_R2
from pdcheck.bits.header import EXTENDED_HEADER, HEADER, HEADER_CABLE, type_name
from pdcheck.bits.identity import DISPLAYPORT_WORDS, IDENTITY_WORDS
from pdcheck.bits.layout import Field, Word
from pdcheck.bits.line import RESETS
from pdcheck.bits.objects import BARE_KINDS, SVIDS, IdentityKind
from pdcheck.bits.offers import KIND_KEYS
from pdcheck.bits.power import (
    EPR_MODE,
    EPR_MODE_ACTION,
    REQUEST_WORDS,
    REQUEST_WORDS_SHORT,
    SINK_WORDS,
    SOURCE_WORDS,
)
from pdcheck.contract.following.state import CABLE_SOFT_RESET, CHUNK, CHUNK_REQUEST
from pdcheck.marks import Schema

_OBJECTS = (*DATA_OBJECTS.values(), *DATA_OBJECTS_R2.values())
_READ_AS = (
    *SOURCE_WORDS.values(),
    *SINK_WORDS.values(),
    *REQUEST_WORDS.values(),
    *REQUEST_WORDS_SHORT.values(),
    EPR_MODE,
    *IDENTITY_WORDS,
    *_OBJECTS,
    *DISPLAYPORT_WORDS,
)
"""The table of every word that is read as an object of a message."""
_BLOCKS = tuple({id(block): block for block in (*BLOCKS.values(), *BLOCKS_CABLE.values())}.values())

RESERVED = "reserved"


def _types() -> Iterator[str]:
    for extended, count, revision, code in product((0, 1), (0, 1), range(4), range(32)):
        fields = {"extended": extended, "object_count": count, "revision": revision, "type": code}
        yield type_name(HEADER.encode(fields))
    yield from RESETS


TYPES = tuple(dict.fromkeys(_types()))
"""The name of every message, reserved ones with their code."""
STEPS = tuple(
    dict.fromkeys(
        (
            *TYPES,
            CABLE_SOFT_RESET,
            CHUNK,
            CHUNK_REQUEST,
            *(f"EPR_Mode {action}" for action in (*EPR_MODE_ACTION.values(), RESERVED)),
            *(BLOCKS["Extended_Control"].head.field("type").codes or {}).values(),
            RESERVED,
        )
    )
)
"""The same as an audit tells them apart."""
KINDS = tuple(
    dict.fromkeys(
        (
            *SOURCE_WORDS,
            *SINK_WORDS,
            *REQUEST_WORDS,
            EPR_MODE.name,
            *(each.name for each in (*_OBJECTS, *DISPLAYPORT_WORDS)),
            *get_args(IdentityKind),
            *BARE_KINDS,
        )
    )
)
"""What an object of a message can be read as."""


def names_of(key: str, words: Iterable[Word] = IDENTITY_WORDS) -> tuple[str, ...]:
    """Every name that a code has in the tables of some words, and what one without a name is called.

    >>> names_of("power_role", [HEADER])
    ('sink', 'source', 'reserved')
    """
    fields = (field for word in words for field in word.named if field.key == key)
    return tuple(dict.fromkeys((*(name for field in fields for name in (field.codes or {}).values()), RESERVED)))


REVISIONS = names_of("revision", [HEADER])
ROLES = (*names_of("power_role", [HEADER])[:-1], *names_of("cable_plug", [HEADER_CABLE])[:-1])
DATA_ROLES = names_of("data_role", [HEADER])[:-1]
FLAGS = tuple(sorted({field.key for word in _READ_AS for field in word.named if field.flag}))
OFFER_FLAGS = tuple(sorted({field.key for word in SOURCE_WORDS.values() for field in word.named if field.flag}))


def _properties(fields: Iterable[Field], *, flags: bool) -> dict[str, Schema]:
    """What each field's key means, and what it can be; fields of one key are told together."""
    told: dict[str, list[str]] = {}
    kinds: dict[str, list[str]] = {}
    for field in fields:
        if field.reserved or (field.flag and not flags):
            continue
        unit = f" [{field.unit}]" if field.unit else ""
        titles = told.setdefault(field.key, [])
        titles += [text for text in [field.title + unit] if text not in titles]
        kind = "boolean" if field.flag else "integer"
        kinds.setdefault(field.key, []).extend([kind, "null"] if field.void is not None else [kind])
    types = {key: sorted(set(each)) for key, each in kinds.items()}
    return {
        key: {"description": "; ".join(titles), "type": types[key] if len(types[key]) > 1 else types[key][0]}
        for key, titles in told.items()
    }


_RESERVED_BITS = {"^reserved_": {"type": "integer", "description": "Reserved bits that are set, by their places"}}


def fill_in(schema: Schema, of: str) -> None:
    """Put the fields of the tables among the keys of an object, a data block or an extended header, in place."""
    if of == "Reading":
        fields = (field for word in _READ_AS for field in word.named if field.key not in KIND_KEYS)
        more = {**_properties(fields, flags=False), **_SVIDS}
        # A supply of a reserved kind shows what makes it one.
        kind = _properties((f for w in SOURCE_WORDS.values() for f in w.named if f.key in KIND_KEYS), flags=False)
        schema["properties"] = {**kind, **more, **schema["properties"]}
    elif of == "BlockReading":
        found = _properties((field for block in _BLOCKS for field in block.head.named), flags=True)
        schema["properties"] = {**found, **TAILS, **schema["properties"]}
    else:
        schema["properties"] = _properties(EXTENDED_HEADER.named, flags=True)
    schema["patternProperties"] = _RESERVED_BITS
    schema["additionalProperties"] = False


_SVIDS: dict[str, Schema] = {
    SVIDS: {
        "type": "array",
        "items": {"type": "integer"},
        "description": "The standards and vendors (SVIDs) that it knows",
    }
}
_HEX: Schema = {"type": "string", "pattern": "^([0-9a-f]{2})*$"}
TAILS: dict[str, Schema] = {
    "text": {"type": "string", "description": "The text behind the fixed part; what does not print as \\xNN"},
    "countries": {"type": "array", "items": {"type": "string"}, "description": "Country codes, two letters each"},
    "payload": {**_HEX, "description": "Bytes behind the fixed part, in hex"},
    "block_bytes": {"type": "integer", "description": "How many bytes a block has that is shorter than its table"},
    "rest": {**_HEX, "description": "Bytes that no table names, in hex"},
}
"""What stands in a data block beside the fields of its table."""
