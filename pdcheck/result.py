"""Result: a frozen class whose JSON document, JSON Schema and flat rows come from its own annotations.

A result is a frozen dataclass of ``Result``; what it holds are named tuples, frozen dataclasses, texts and numbers.
How each key is written, its type says, with the marks of ``pdcheck.marks``.
A class may give its own schema by ``json_schema(shared)``. Every result has itself entered in ``RESULTS``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from functools import cache
from importlib import import_module
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Literal,
    NamedTuple,
    TypeVar,
    Union,
    cast,
    get_args,
    get_origin,
    get_type_hints,
)

from pdcheck.marks import (
    AMONG,
    AS_HEX,
    AS_TEXT,
    BY_ID,
    IF_ANY,
    IF_KNOWN,
    UNLISTED,
    UNTOLD,
    Hex,
    HexWord,
    Mark,
    Named,
    Schema,
    listed,
    told,
)

__all__ = [
    "AMONG",
    "AS_HEX",
    "AS_TEXT",
    "BY_ID",
    "IF_ANY",
    "IF_KNOWN",
    "RESULTS",
    "UNLISTED",
    "UNTOLD",
    "Hex",
    "HexWord",
    "Key",
    "Mark",
    "Named",
    "Result",
    "Schema",
    "as_dict",
    "is_record",
    "keys_of",
    "listed",
    "object_schema",
    "once",
    "plain",
    "schema_for",
    "schema_of",
    "shows",
    "told",
]

Shown = TypeVar("Shown", bound="Result")
Function = TypeVar("Function", bound=Callable[..., Any])


def once(function: Function) -> Function:
    """Answer each question once; ``functools.cache`` with the types kept."""
    return cast(Function, cache(function))


DIALECT = "https://json-schema.org/draft/2020-12/schema"


class Key(NamedTuple):
    """One key of a class: the field's name, its type, the marks on it, its name in the document."""

    name: str
    hint: Any
    marks: tuple[Mark, ...]
    key: str

    def has(self, mark: Mark) -> bool:
        """Whether it is marked so."""
        return mark in self.marks


def is_record(hint: Any) -> bool:
    """Whether a type is a class of named fields."""
    return isinstance(hint, type) and (hasattr(hint, "__dataclass_fields__") or hasattr(hint, "_fields"))


@once
def keys_of(cls: Any) -> tuple[Key, ...]:
    """The keys that a class has in a document: its fields, then what is ``told``."""
    hints = get_type_hints(cls, include_extras=True)
    named = getattr(cls, "_fields", None) or _field_names(cls)
    found = [_key(name, hints[name]) for name in named]
    return tuple(key for key in [*found, *_told(cls, told)] if not key.has(UNTOLD))


def _field_names(cls: Any) -> list[str]:
    # The plainest of commands has named tuples only, and need not load what makes dataclasses.
    from dataclasses import fields

    return [each.name for each in fields(cls)]


@once
def _columns(cls: type) -> tuple[Key, ...]:
    """The keys that a class has in a row: those of its document, then what is ``listed``."""
    return tuple(key for key in (*keys_of(cls), *_told(cls, listed)) if not key.has(UNLISTED))


def _told(cls: type, kind: type[told[Any]]) -> list[Key]:
    marked = {name: each for base in reversed(cls.__mro__) for name, each in vars(base).items() if type(each) is kind}
    return [_key(name, get_type_hints(each.read, include_extras=True)["return"]) for name, each in marked.items()]


def _key(name: str, hint: Any) -> Key:
    inner, marks = _bare(hint)
    return Key(name, inner, marks, next((mark.name for mark in marks if isinstance(mark, Named)), name))


def _bare(hint: Any) -> tuple[Any, tuple[Mark, ...]]:
    if get_origin(hint) is Annotated:
        inner, *marks = get_args(hint)
        return inner, tuple(mark for mark in marks if isinstance(mark, Mark))
    return hint, ()


def plain(value: Any, hint: Any) -> Any:
    """A value as JSON holds it, by its declared type."""
    return _writer(hint)(value)


def _same(value: Any) -> Any:
    return value


@once
def _writer(hint: Any) -> Callable[[Any], Any]:
    hint, marks = _bare(hint)
    for mark in marks:
        if mark.write is not None:
            return mark.write
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return _of_several(_kinds(hint))
    if is_record(hint):
        return as_dict
    if origin is not None and isinstance(origin, type):
        if issubclass(origin, Mapping):
            inner = _writer(arguments[1])
            return lambda value: {key: inner(each) for key, each in value.items()}
        if issubclass(origin, Sequence):
            of_each = _writer(arguments[0])
            return lambda value: [of_each(each) for each in value]
    return _same


def _of_several(hints: list[Any]) -> Callable[[Any], Any]:
    """One of several types, or None; which, the value itself says where it matters."""
    writers = [_writer(hint) for hint in hints]
    if len(writers) == 1:
        only = writers[0]
        return lambda value: None if value is None else only(value)

    def write(value: Any) -> Any:
        if is_record(type(value)):
            return as_dict(value)
        return [write(each) for each in value] if isinstance(value, tuple | list) else value

    return write


def as_dict(value: Any) -> dict[str, Any]:
    """What a document holds of a record: a named tuple, or a frozen dataclass."""
    out: dict[str, Any] = {}
    for name, key, write, needless, among in _writers(type(value)):
        own = getattr(value, name)
        if needless is not None and (own is None or (needless is IF_ANY and not own)):
            continue
        written = own if write is _same else write(own)
        if among:
            out |= written
        else:
            out[key] = written
    return out


@once
def _writers(cls: type) -> list[tuple[str, str, Callable[[Any], Any], Mark | None, bool]]:
    """How each key of a class is written; looked up once, since a matrix has hundreds of thousands of cells."""
    return [(key.name, key.key, _writer_of(key), _needless(key), key.has(AMONG)) for key in keys_of(cls)]


def _needless(key: Key) -> Mark | None:
    """The mark by which a key may be left out."""
    return next((mark for mark in (IF_ANY, IF_KNOWN, AMONG) if key.has(mark)), None)


@once
def _writer_of(key: Key) -> Callable[[Any], Any]:
    return next((mark.write for mark in key.marks if mark.write is not None), None) or _writer(key.hint)


class Result:
    """What a command answers: its document, its rows, and whether it works.

    Subclasses are frozen dataclasses (``repr=False``). ``SCHEMA`` is name and number of the document, ``TITLE`` says
    what it is, ``ROWS`` names the fields down to the records that are its rows, ``ALONE`` a list of which the only
    record's keys stand at the top as well. A key ``works`` says whether the answer is a good one. ``SHOWN`` names the
    module of show/ that prints it where that is not named as the document is.
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
            own = own[self.ALONE][0] | own
        return {"schema": f"pdcheck/{self.SCHEMA}", **own}

    def to_json(self, indent: int | None = 2) -> str:
        """The JSON document as text; never NaN or infinity."""
        import json

        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    def rows(self) -> list[dict[str, Any]]:
        """Flat records, one for each row of the answer, with figures of what they stand in beside their own."""
        found = list(_rows(self, self.ROWS, None))
        names = dict.fromkeys(name for row in found for name in row)
        return [{name: row.get(name) for name in names} for row in found]

    def _repr_html_(self) -> str:
        from html import escape

        listed = self.rows()
        head = "".join(f"<th>{escape(name)}</th>" for name in listed[0]) if listed else ""
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(_cell(value))}</td>" for value in row.values()) + "</tr>"
            for row in listed[:_MOST_SHOWN]
        )
        more = f"<p>and {len(listed) - _MOST_SHOWN} more</p>" if len(listed) > _MOST_SHOWN else ""
        return f"<p>{escape(self.answer())}</p><table><tr>{head}</tr>{body}</table>{more}"


RESULTS: list[type[Result]] = []
"""Every class of result that has been imported; what names no schema of its own is none."""
_MOST_SHOWN = 30
_SHOWN: dict[type, Callable[[Any], str]] = {}


def shows(cls: type[Shown]) -> Callable[[Callable[[Shown], str]], Callable[[Shown], str]]:
    """Mark the function that turns results of a class into what people read; ``str`` of a result then calls it."""

    def mark(show: Callable[[Shown], str]) -> Callable[[Shown], str]:
        _SHOWN[cls] = show
        return show

    return mark


def _cell(value: Any) -> str:
    return "" if value is None else f"{value:.4g}" if isinstance(value, float) else str(value)


def _rows(value: Any, path: tuple[str, ...], above: dict[str, Any] | None) -> Iterator[dict[str, Any]]:
    own = (above or {}) | dict(_flat(value, "", path[:1]))
    if not path:
        yield own
        return
    below = getattr(value, path[0])
    if not below and above is not None:
        yield own
    for inner in below:
        yield from _rows(inner, path[1:], own)


def _flat(value: Any, before: str, without: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """The figures and texts of a record, of what it holds as ``outer_inner``, of a list of texts as one text."""
    for key in _columns(type(value)):
        if key.name in without:
            continue
        own, name = getattr(value, key.name), before + key.key
        start = before if key.has(AMONG) else f"{name}_"
        if is_record(type(own)) and not any(mark.write for mark in key.marks):
            yield from _flat(own, start)
            continue
        written = _writer_of(key)(own)
        if isinstance(written, dict):
            yield from ((start + inner, each) for inner, each in written.items())
        elif written is None and any(map(is_record, _kinds(key.hint))):
            continue  # its own columns are those of the record
        elif not isinstance(written, list):
            yield name, written
        elif not any(isinstance(each, dict | list) for each in written):
            yield name, "; ".join(map(str, written))


def _kinds(hint: Any) -> list[Any]:
    """The types that a value may have, but for None."""
    several = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    return [each for each in several if each is not NoneType]


def schema_of(cls: type[Result]) -> Schema:
    """The JSON Schema of a result's document: its keys with their types, none of them open."""
    shared: dict[str, Schema] = {}
    name, _, number = cls.SCHEMA.partition("/")
    body = _object(cls, shared)
    properties = {"schema": {"const": f"pdcheck/{cls.SCHEMA}"}, **body["properties"]}
    body = body | {"properties": properties, "required": ["schema", *body["required"]]}
    if cls.ALONE is not None:
        # Where there is one record, its own keys stand beside the list, all of them.
        alone = next(key for key in keys_of(cls) if key.name == cls.ALONE)
        inner = _object(get_args(alone.hint)[0], shared)
        needed = {key: sorted(inner["required"]) for key in inner["required"]}
        body["properties"] = inner["properties"] | body["properties"]
        body["dependentRequired"] = body.get("dependentRequired", {}) | needed
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
            hint = Union[tuple(_kinds(hint))]  # noqa: UP007 - made here
        if not (key.has(IF_KNOWN) or key.has(IF_ANY)):
            out["required"].append(key.key)
        marked = next((mark.schema for mark in key.marks if mark.schema is not None), None)
        out["properties"][key.key] = marked or schema_for(hint, shared)
    return out


def _stand_among(out: Schema, hint: Any, shared: dict[str, Schema]) -> None:
    """The keys of a mapping or of one of some records, put among those of an object."""
    kinds = _kinds(hint)
    if not is_record(kinds[0]):
        out["additionalProperties"] = schema_for(get_args(kinds[0])[1], shared)
        return
    inner = [_object(each, shared) for each in kinds]
    for each in inner:
        out["properties"] |= each["properties"]
    if hint is kinds[0]:
        out["required"] += inner[0]["required"]
        return
    for each in inner:
        needed = sorted(each["required"])
        out.setdefault("dependentRequired", {}).update(dict.fromkeys(needed, needed))
    if len(kinds) == len(get_args(hint)):
        out.setdefault("allOf", []).append({"oneOf": [{"required": sorted(each["required"])} for each in inner]})


def schema_for(hint: Any, shared: dict[str, Schema]) -> Schema:
    """The schema of a type; classes of named fields go into ``shared`` and are referred to by name."""
    hint, marks = _bare(hint)
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
        return {"$ref": f"#/$defs/{name}"}
    if origin is not None and issubclass(origin, Mapping):
        if get_origin(arguments[0]) is Literal:
            names = get_args(arguments[0])
            each = dict.fromkeys(names, schema_for(arguments[1], shared))
            return {"type": "object", "properties": each, "required": list(names), "additionalProperties": False}
        return {"type": "object", "additionalProperties": schema_for(arguments[1], shared)}
    if origin is not None and issubclass(origin, Sequence):
        return {"type": "array", "items": schema_for(arguments[0], shared)}
    if hint is Any:
        return {}
    return {"type": _TYPES[hint]}


_TYPES: dict[Any, str] = {
    str: "string",
    int: "integer",
    float: "number",
    bool: "boolean",
    NoneType: "null",
    type(None): "null",
}


def _any_of(schemas: list[Schema]) -> Schema:
    if all(set(each) == {"type"} for each in schemas):
        return {"type": [each["type"] for each in schemas]}
    return {"anyOf": schemas}
