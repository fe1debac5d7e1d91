"""What schemas of JSON documents are made of: objects whose keys are all named, lists, parts that several share."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
TEXT: Schema = {"type": "string"}
WHOLE: Schema = {"type": "integer"}
NUMBER: Schema = {"type": "number"}
TRUTH: Schema = {"type": "boolean"}
NOTHING: Schema = {"type": "null"}
HEX_WORD: Schema = {"type": "string", "pattern": "^[0-9A-F]{8}$"}
HEX: Schema = {"type": "string", "pattern": "^([0-9a-f]{2})*$"}

_SHARED: dict[str, Schema] = {}


def closed(properties: dict[str, Schema], optional: dict[str, Schema] | None = None) -> Schema:
    """An object with these keys, every one of them there, then with those that may be left out; and no others."""
    return {
        "type": "object",
        "properties": properties | (optional or {}),
        "required": list(properties),
        "additionalProperties": False,
    }


def listed(items: Schema) -> Schema:
    """A list of such."""
    return {"type": "array", "items": items}


def maybe(schema: Schema) -> Schema:
    """Such, or null.

    >>> maybe(NUMBER)
    {'type': ['number', 'null']}
    """
    kind = schema.get("type")
    if isinstance(kind, str) and set(schema) == {"type"}:
        return {"type": [kind, "null"]}
    return {"anyOf": [schema, NOTHING]}


def one_of(*words: str) -> Schema:
    """One of these words."""
    return {"enum": list(words)}


def mapped(values: Schema) -> Schema:
    """An object with any keys and such values."""
    return {"type": "object", "additionalProperties": values}


def shared(name: str, schema: Schema) -> Schema:
    """A part that several documents hold; written once in each of them, under ``$defs``."""
    _SHARED[name] = schema
    return {"$ref": f"#/$defs/{name}"}


def document(name: str, title: str, properties: dict[str, Schema], optional: dict[str, Schema] | None = None) -> Schema:
    """The whole schema of the document ``pdcheck/NAME/1``, with the shared parts that it uses."""
    body = closed({"schema": {"const": f"pdcheck/{name}/1"}, **properties}, optional)
    used = _used(body, {})
    head = {"$schema": DIALECT, "$id": f"urn:pdcheck:{name}:1", "title": title}
    return head | body | ({"$defs": dict(sorted(used.items()))} if used else {})


def _used(schema: Schema, found: dict[str, Schema]) -> dict[str, Schema]:
    """Every shared part that a schema refers to, directly or through another one."""
    for name in _references(json.dumps(schema)):
        if name not in found:
            found[name] = _SHARED[name]
            _used(_SHARED[name], found)
    return found


def _references(text: str) -> Iterable[str]:
    return (piece.split('"', 1)[0] for piece in text.split('"#/$defs/')[1:])
