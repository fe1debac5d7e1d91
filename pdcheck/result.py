"""Result: a frozen class whose JSON document, JSON Schema and flat rows come from its own annotations.

A result is a frozen dataclass of ``Result``; what it holds are named tuples, frozen dataclasses, texts and numbers.
A key of the document is the name of a field, or of a method marked ``@told``; its type says how it is written:

- ``Annotated[int, Hex(8)]`` is a word in hex digits, ``Annotated[Origin, AS_TEXT]`` the text of a value,
  ``Annotated[Source, BY_ID]`` the id of a part;
- ``Annotated[X | None, IF_KNOWN]`` is left out where it is None, ``Annotated[X, UNTOLD]`` is never written,
  ``Annotated[X, UNLISTED]`` stands in the document and in no row; ``@listed`` is told in rows and in no document;
- ``Annotated[X, Named("class")]`` is written under another name than Python would take;
- ``Annotated[Mapping[str, X], AMONG]`` is a mapping, or a record or None, whose keys stand among those of its class.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache
from importlib import import_module
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Generic,
    Literal,
    NamedTuple,
    Self,
    TypeVar,
    Union,
    cast,
    get_args,
    get_origin,
    get_type_hints,
    overload,
)

T = TypeVar("T")
Shown = TypeVar("Shown", bound="Result")
Schema = dict[str, Any]
Function = TypeVar("Function", bound=Callable[..., Any])


def once(function: Function) -> Function:
    """Answer each question once; ``functools.cache`` with the types kept."""
    return cast(Function, cache(function))


DIALECT = "https://json-schema.org/draft/2020-12/schema"


class Mark:
    """How a value is written: ``write`` turns it into what JSON holds, ``schema`` says what that is."""

    __slots__ = ("schema", "write")

    def __init__(self, write: Callable[[Any], Any] | None = None, schema: Schema | None = None) -> None:
        self.write, self.schema = write, schema


class Named(Mark):
    """The key's name in the document, where it is not the field's own."""

    __slots__ = ("name",)

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name


UNTOLD = Mark()
UNLISTED = Mark()
IF_KNOWN = Mark()
AMONG = Mark()
AS_TEXT = Mark(str, {"type": "string"})
BY_ID = Mark(lambda part: part.id, {"type": "string"})
AS_HEX = Mark(bytes.hex, {"type": "string", "pattern": "^([0-9a-f]{2})*$"})


def Hex(digits: int) -> Mark:  # noqa: N802 - reads as the type that it stands for
    """A word as hex digits, no mark before them.

    >>> Hex(8).write(0x0801912C)
    '0801912C'
    """
    return Mark(lambda word: f"{word:0{digits}X}", {"type": "string", "pattern": f"^[0-9A-F]{{{digits}}}$"})


HexWord = Annotated[int, Hex(8)]


class told(Generic[T]):  # noqa: N801 - a decorator, as property is
    """A property that stands in the document under its own name."""

    def __init__(self, read: Callable[[Any], T]) -> None:
        self.read = read
        self.__doc__ = read.__doc__

    @overload
    def __get__(self, instance: None, owner: type) -> Self: ...
    @overload
    def __get__(self, instance: object, owner: type) -> T: ...
    def __get__(self, instance: object | None, owner: type) -> T | Self:
        return self if instance is None else self.read(instance)


class listed(told[T]):  # noqa: N801 - a decorator, as property is
    """A property that stands in rows under its own name, and in no document."""


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
    return isinstance(hint, type) and (is_dataclass(hint) or (issubclass(hint, tuple) and hasattr(hint, "_fields")))


@once
def keys_of(cls: Any) -> tuple[Key, ...]:
    """The keys that a class has in a document: its fields, then what is ``told``."""
    hints = get_type_hints(cls, include_extras=True)
    named = [each.name for each in fields(cls)] if is_dataclass(cls) else list(cls._fields)
    found = [_key(name, hints[name]) for name in named]
    return tuple(key for key in [*found, *_told(cls, told)] if not key.has(UNTOLD))


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
        return _of_several([each for each in arguments if each is not NoneType])
    if is_record(hint):
        return _record
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
            return _record(value)
        return [write(each) for each in value] if isinstance(value, tuple | list) else value

    return write


def _record(value: Any) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, key, write, optional, among in _writers(type(value)):
        own = getattr(value, name)
        if own is None and optional:
            continue
        written = own if write is _same else write(own)
        if among:
            out |= written
        else:
            out[key] = written
    return out


@once
def _writers(cls: type) -> list[tuple[str, str, Callable[[Any], Any], bool, bool]]:
    """How each key of a class is written; looked up once, since a matrix has hundreds of thousands of cells."""
    return [
        (key.name, key.key, _spread(key) if key.has(AMONG) else _writer_of(key), key.has(IF_KNOWN), key.has(AMONG))
        for key in keys_of(cls)
    ]


def _spread(key: Key) -> Callable[[Any], Any]:
    """How what stands among other keys is written: where there is no record, each of its keys is null."""
    record = _optional(key.hint)
    if record is None:
        return _writer_of(key)
    nothing = dict.fromkeys(each.key for each in keys_of(record))
    return lambda own: nothing if own is None else _record(own)


def _optional(hint: Any) -> Any:
    """The class of a record that may be None; None for any other type."""
    inner = [each for each in get_args(hint) if each is not NoneType]
    return inner[0] if len(inner) == 1 and is_record(inner[0]) and get_origin(hint) in (Union, UnionType) else None


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
        own = _record(self)
        if self.ALONE is not None and len(own[self.ALONE]) == 1:
            own = own[self.ALONE][0] | own
        return {"schema": f"pdcheck/{self.SCHEMA}", **own}

    def to_json(self, indent: int | None = 2) -> str:
        """The JSON document as text; never NaN or infinity."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    def rows(self) -> list[dict[str, Any]]:
        """Flat records, one for each row of the answer, with figures of what they stand in beside their own."""
        return list(_rows(self, self.ROWS, {}))

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


def _rows(value: Any, path: tuple[str, ...], above: dict[str, Any]) -> Iterator[dict[str, Any]]:
    own = above | flat(value, path[:1])
    if not path:
        yield own
        return
    for inner in getattr(value, path[0]):
        yield from _rows(inner, path[1:], own)


def flat(value: Any, without: tuple[str, ...] = ()) -> dict[str, Any]:
    """A record as one row."""
    return dict(_flat(value, "", without))


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
        record = _optional(key.hint)
        if own is None and record is not None:
            yield from _blank(record, start)
            continue
        written = _writer_of(key)(own)
        if isinstance(written, dict):
            yield from ((start + inner, each) for inner, each in written.items())
        elif not isinstance(written, list):
            yield name, written
        elif not any(isinstance(each, dict | list) for each in written):
            yield name, "; ".join(map(str, written))


def _blank(record: Any, before: str) -> Iterator[tuple[str, None]]:
    """The names that a record's figures would have in a row, with nothing in them."""
    for key in _columns(record):
        inner = key.hint if is_record(key.hint) and not key.marks else _optional(key.hint)
        if inner is not None:
            yield from _blank(inner, f"{before}{key.key}_")
        elif not _is_list(key.hint):
            yield before + key.key, None


def _is_list(hint: Any) -> bool:
    origin = get_origin(hint)
    return isinstance(origin, type) and issubclass(origin, Sequence) and is_record(get_args(hint)[0])


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
        body["dependentRequired"] = needed
    head = {"$schema": DIALECT, "$id": f"urn:pdcheck:{name}:{number}", "title": cls.TITLE}
    return head | body | ({"$defs": dict(sorted(shared.items()))} if shared else {})


def _object(cls: type, shared: dict[str, Schema]) -> Schema:
    """The schema of a class, which may give its own by ``json_schema(shared)``."""
    own = getattr(cls, "json_schema", None)
    if own is not None:
        made: Schema = own(shared)
        return made
    out: Schema = {"type": "object", "properties": {}, "required": [], "additionalProperties": False}
    for key in keys_of(cls):
        marked = next((mark.schema for mark in key.marks if mark.schema is not None), None)
        if key.has(AMONG):
            record = _optional(key.hint) or key.hint
            if is_record(record):
                inner = _object(record, shared)
                if record is not key.hint:
                    inner["properties"] = {each: _or_null(held) for each, held in inner["properties"].items()}
                out["properties"] |= inner["properties"]
                out["required"] += inner["required"]
            else:
                out["additionalProperties"] = schema_for(get_args(key.hint)[1], shared)
            continue
        hint = key.hint
        if key.has(IF_KNOWN):
            hint = Union[tuple(each for each in get_args(hint) if each is not NoneType)]  # noqa: UP007 - made here
        else:
            out["required"].append(key.key)
        out["properties"][key.key] = marked or schema_for(hint, shared)
    return out


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


def _or_null(schema: Schema) -> Schema:
    kinds = [schema, *schema.get("anyOf", [])]
    if any("null" in each.get("type", ()) for each in kinds):
        return schema
    return _any_of([*schema.get("anyOf", [schema]), {"type": "null"}])


def _any_of(schemas: list[Schema]) -> Schema:
    if all(set(each) == {"type"} for each in schemas):
        return {"type": [each["type"] for each in schemas]}
    return {"anyOf": schemas}
