"""Result: a frozen class whose JSON document, JSON Schema and flat rows come from its own annotations.

A result is a frozen dataclass of ``Result``; what it holds are named tuples, frozen dataclasses, texts and numbers.
How each key is written, its type says, with the marks of ``pdcheck.marks``.
A class may give its own schema by ``json_schema(shared)``. Every result has itself entered in ``RESULTS``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from importlib import import_module
from types import NoneType, UnionType
from typing import Any, ClassVar, Literal, TypeVar, Union, get_args, get_origin

from pdcheck.marks import AMONG, IF_ANY, IF_KNOWN, WORDS, Schema
from pdcheck.records import Key, as_dict, bare, is_record, keys_of, kinds_of, rows_of

Text = TypeVar("Text", bound=Callable[..., str])


DIALECT = "https://json-schema.org/draft/2020-12/schema"


class Result:
    """What a command answers: its document, its rows, and whether it works.

    Subclasses are frozen dataclasses (``repr=False``). ``SCHEMA`` is name and number of the document, ``TITLE`` says
    what it is, ``ROWS`` names the fields down to the records that are its rows, ``ALONE`` a list of which the only
    record stands at the top in place of the list. A key ``works`` says whether it is a good answer. ``SHOWN`` names
    the module of show/ that prints it where that is not named as the document is.
    """

    SCHEMA: ClassVar[str]
    TITLE: ClassVar[str]
    ROWS: ClassVar[tuple[str, ...]] = ()
    ALONE: ClassVar[str | None] = None
    SHOWN: ClassVar[str] = ""

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        if "SCHEMA" in vars(cls):
            RESULTS.append(cls)
        # A frozen dataclass hashes its fields, and a field may be a dict.
        cls.__hash__ = Result.__hash__  # type: ignore[method-assign]

    def __hash__(self) -> int:
        return hash(self.to_json(None))

    def __bool__(self) -> bool:
        """Whether it works: what exit code 0 says on the command line."""
        return bool(getattr(self, "works", True))

    def answer(self) -> str:
        """The answer in a few words, for ``repr``."""
        return self.SCHEMA.partition("/")[0]

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {self.answer()}>"

    def __str__(self) -> str:
        """What the command prints."""
        if type(self) not in _SHOWN:
            # Texts are loaded when one is asked for: most results are looked at by programs.
            name = self.SHOWN or self.SCHEMA.partition("/")[0]
            with suppress(ModuleNotFoundError):
                import_module(f"{__package__}.show.{name}")
        return _SHOWN.get(type(self), repr)(self)

    def to_dict(self) -> dict[str, Any]:
        """The JSON document as plain values."""
        own = as_dict(self)
        if self.ALONE is not None and len(own[self.ALONE]) == 1:
            [only] = own.pop(self.ALONE)
            own |= only
        return {"schema": f"pdcheck/{self.SCHEMA}", **own}

    def to_json(self, indent: int | None = 2) -> str:
        """The JSON document as text; never NaN or infinity."""
        import json

        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    def rows(self) -> list[dict[str, Any]]:
        """Flat records, one for each row of the answer, with figures of what they stand in beside their own."""
        found = list(rows_of(self, self.row_path()))
        if all(row.keys() == found[0].keys() for row in found):
            return found
        names = dict.fromkeys(name for row in found for name in row)
        return [{name: row.get(name) for name in names} for row in found]

    def row_path(self) -> tuple[str, ...]:
        """The fields down to the records that are its rows."""
        return self.ROWS

    def _repr_html_(self) -> str:
        from html import escape

        listed = self.rows()
        # What no row has is no column; one record alone reads better downwards.
        names = [name for name in (listed or [{}])[0] if any(row[name] not in (None, "") for row in listed)]
        table = [names, *([row[name] for name in names] for row in listed[:_MOST_SHOWN])]
        if len(listed) == 1:
            table = [[name, listed[0][name]] for name in names]
        body = "".join(f"<tr>{''.join(f'<td>{escape(_cell(value))}</td>' for value in row)}</tr>" for row in table)
        more = f"<p>and {len(listed) - _MOST_SHOWN} more</p>" if len(listed) > _MOST_SHOWN else ""
        return f"<p>{escape(self.answer())}</p><table>{body}</table>{more}"


RESULTS: list[type[Result]] = []
"""Every class of result that has been imported; what names no schema of its own is none."""
_MOST_SHOWN = 30
_SHOWN: dict[type, Callable[[Any], str]] = {}


def shows(cls: type[Result]) -> Callable[[Text], Text]:
    """Mark the function that turns results of a class into what people read; ``str`` of a result then calls it."""

    def mark(show: Text) -> Text:
        _SHOWN[cls] = show
        return show

    return mark


def _cell(value: Any) -> str:
    return "" if value is None else f"{value:.4g}" if isinstance(value, float) else str(value)


def schema_of(cls: type[Result]) -> Schema:
    """The JSON Schema of a result's document: its keys with their types, none of them open."""
    shared: dict[str, Schema] = {}
    name, _, number = cls.SCHEMA.partition("/")
    body = _object(cls, shared)
    schema = {"const": f"pdcheck/{cls.SCHEMA}", "description": "Name and number of this document's schema"}
    properties = {"schema": schema, **body["properties"]}
    body = body | {"properties": properties, "required": ["schema", *body["required"]]}
    if cls.ALONE is not None:
        # Where there is one record, its own keys stand at the top in place of the list, all of them.
        alone = next(key for key in keys_of(cls) if key.name == cls.ALONE)
        inner = _object(get_args(alone.hint)[0], shared)
        body["properties"] = inner["properties"] | body["properties"]
        body["required"] = [key for key in body["required"] if key != cls.ALONE]
        body["oneOf"] = [{"required": [cls.ALONE]}, {"required": sorted(inner["required"])}]
    head = {"$schema": DIALECT, "$id": f"urn:pdcheck:{name}:{number}", "title": cls.TITLE}
    return head | body | ({"$defs": dict(sorted(shared.items()))} if shared else {})


def _object(cls: type, shared: dict[str, Schema]) -> Schema:
    """The schema of a class, which may give its own by ``json_schema(shared)``."""
    own = getattr(cls, "json_schema", None)
    made: Schema = object_schema(cls, shared) if own is None else own(shared)
    return made


def object_schema(cls: type, shared: dict[str, Schema]) -> Schema:
    """The schema that follows from the annotations of a class."""
    out: Schema = {"type": "object", "properties": {}, "required": [], "additionalProperties": False}
    for key in keys_of(cls):
        if key.has(AMONG):
            _stand_among(out, key.hint, shared)
            continue
        hint = key.hint
        if key.has(IF_KNOWN):
            hint = Union[tuple(kinds_of(hint))]  # noqa: UP007 - made here
        if not (key.has(IF_KNOWN) or key.has(IF_ANY)):
            out["required"].append(key.key)
        made = {"type": "string"} if key.has(WORDS) else {}
        marked = next((mark.schema for mark in key.marks if mark.schema is not None), None)
        out["properties"][key.key] = {**made, **(marked or schema_for(hint, shared)), **_described(cls, key)}
    return out


def _described(cls: type, key: Key) -> Schema:
    """What a key means: the first sentence of its property's docstring, else what stands under its name."""
    from pdcheck.key_words import key_text, with_unit

    own = getattr(cls, key.name, None)
    doc = own.__doc__ if isinstance(own, property) and own.__doc__ else ""
    first = " ".join(doc.split("\n\n")[0].split()).replace("``", "").rstrip(".")
    text = with_unit(first, key.key) if first else key_text(cls.__name__, key.key)
    return {} if text is None else {"description": text}


def _stand_among(out: Schema, hint: Any, shared: dict[str, Schema]) -> None:
    """The keys of a mapping or of one of some records, put among those of an object."""
    kinds = kinds_of(hint)
    if not is_record(kinds[0]):
        out["additionalProperties"] = schema_for(get_args(kinds[0])[1], shared)
        return
    inner = [_object(each, shared) for each in kinds]
    for each in inner:
        out["properties"] |= each["properties"]
    if hint is kinds[0]:
        out["required"] += inner[0]["required"]
        return
    needed = [sorted(each["required"]) for each in inner if len(each["required"]) > 1]
    out.setdefault("dependentRequired", {}).update({name: names for names in needed for name in names})
    if len(kinds) == len(get_args(hint)):
        out["oneOf"] = [{"required": each["required"]} for each in inner]


def schema_for(hint: Any, shared: dict[str, Schema]) -> Schema:
    """The schema of a type; classes of named fields go into ``shared`` and are referred to by name."""
    hint, marks = bare(hint)
    for mark in marks:
        if mark.schema is not None:
            return mark.schema
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return _any_of([schema_for(each, shared) for each in arguments])
    if origin is Literal:
        return {"enum": list(arguments)}
    if is_record(hint):
        name = hint.__name__
        if name not in shared:
            shared[name] = {}
            shared[name] = _object(hint, shared)
            if "oneOf" not in shared[name] and hint.__doc__ and not hint.__doc__.startswith(f"{name}("):
                shared[name] |= {"description": " ".join(hint.__doc__.split("\n\n")[0].split()).replace("``", "")}
        return {"$ref": f"#/$defs/{name}"}
    if origin is not None and issubclass(origin, Mapping):
        if get_origin(arguments[0]) is Literal:
            names = get_args(arguments[0])
            each = {name: schema_for(arguments[1], shared) | {"description": f"For {name}"} for name in names}
            return {"type": "object", "properties": each, "required": list(names), "additionalProperties": False}
        return {"type": "object", "additionalProperties": schema_for(arguments[1], shared)}
    if origin is not None and issubclass(origin, Sequence):
        return {"type": "array", "items": schema_for(arguments[0], shared)}
    return {"type": _TYPES[hint]}


_TYPES: dict[Any, str] = {
    str: "string",
    int: "integer",
    float: "number",
    bool: "boolean",
    NoneType: "null",
}


def _any_of(schemas: list[Schema]) -> Schema:
    if all(set(each) == {"type"} for each in schemas):
        return {"type": [each["type"] for each in schemas]}
    return {"anyOf": schemas}
