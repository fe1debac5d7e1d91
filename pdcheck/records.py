"""Records: the keys of named tuples and frozen dataclasses by annotation, and what JSON and rows hold of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from pdcheck.marks import AMONG, IF_ANY, IF_KNOWN, UNLISTED, UNTOLD, Mark, Named, listed, told
from pdcheck.named import NamedTuple

Function = TypeVar("Function", bound=Callable[..., Any])


def once(function: Function) -> Function:
    """Answer each question once; ``functools.cache`` with the types kept."""
    return cast(Function, cache(function))


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
    hints = _hints(cls)
    named = getattr(cls, "_fields", None) or _field_names(cls)
    found = [_key(name, hints[name]) for name in named]
    return tuple(key for key in [*found, *_told(cls, told)] if not key.has(UNTOLD))


class _Unread:
    """Stands for a type that is imported for its annotation alone; a key of it can be told, and never written."""


def _hints(of: Any) -> dict[str, Any]:
    unread: dict[str, Any] = {}
    while True:
        try:
            return get_type_hints(of, localns=unread or None, include_extras=True)
        except NameError as error:
            unread[str(error.name)] = _Unread


def _field_names(cls: Any) -> list[str]:
    # The plainest of commands has named tuples only, and need not load what makes dataclasses.
    from dataclasses import fields

    return [each.name for each in fields(cls)]


@once
def _columns(cls: type) -> tuple[Key, ...]:
    """The keys that a class has in a row: those of its document, then what is ``listed``."""
    return tuple(key for key in (*keys_of(cls), *_told(cls, listed)) if not key.has(UNLISTED))


def _told(cls: type, kind: Any) -> list[Key]:
    marked = {name: each for base in reversed(cls.__mro__) for name, each in vars(base).items() if type(each) is kind}
    return [_key(name, _hints(each.fget)["return"]) for name, each in marked.items()]


def _key(name: str, hint: Any) -> Key:
    inner, marks = bare(hint)
    return Key(name, inner, marks, next((mark.name for mark in marks if isinstance(mark, Named)), name))


def bare(hint: Any) -> tuple[Any, tuple[Mark, ...]]:
    """A type without its marks, and the marks."""
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
    hint, marks = bare(hint)
    for mark in marks:
        if mark.write is not None:
            return mark.write
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return _of_several(kinds_of(hint))
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
    """How each key of a class is written, and the mark by which it may be left out.

    Looked up once, since a matrix has hundreds of thousands of cells.
    """
    return [
        (key.name, key.key, _writer_of(key), mark, key.has(AMONG))
        for key in keys_of(cls)
        for mark in [next((mark for mark in (IF_ANY, IF_KNOWN, AMONG) if key.has(mark)), None)]
    ]


@once
def _writer_of(key: Key) -> Callable[[Any], Any]:
    return next((mark.write for mark in key.marks if mark.write is not None), None) or _writer(key.hint)


def rows_of(value: Any, path: tuple[str, ...], above: dict[str, Any] | None = None) -> Iterator[dict[str, Any]]:
    """Flat records: one for each record at the end of a path of fields, with what it stands in beside its own."""
    own = (above or {}) | dict(_flat(value, "", path[:1]))
    if not path:
        yield own
        return
    below = getattr(value, path[0])
    if not below and above is not None:
        yield own
    for inner in below:
        yield from rows_of(inner, path[1:], own)


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
        elif written is None and any(map(is_record, kinds_of(key.hint))):
            continue  # its own columns are those of the record
        elif not isinstance(written, list):
            yield name, written
        elif not any(isinstance(each, dict | list) for each in written):
            yield name, "; ".join(map(str, written))


def kinds_of(hint: Any) -> list[Any]:
    """The types that a value may have, but for None."""
    several = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    return [each for each in several if each is not NoneType]
