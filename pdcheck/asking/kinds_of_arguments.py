"""Which argument of a call is of a kind that its function does not take, by the annotations of the function."""

from __future__ import annotations

import inspect
import math
import types
from collections.abc import Callable, Collection, Iterable, Mapping
from os import PathLike
from typing import Any, Literal, Union, get_args, get_origin

from pdcheck.errors import InputError
from pdcheck.parts.fields import Part
from pdcheck.quantities import quoted

_CALLED = {str: "text", int: "a whole number", float: "a number", bool: "true or false", type(None): "nothing"}


def misfit(function: Callable[..., Any], args: tuple[Any, ...], keywords: Mapping[str, Any]) -> InputError | None:
    """The error about the first argument that does not fit; None where all do, or one is missing or unknown.

    >>> def box(sides: list[float], lid: bool = False) -> None: ...
    >>> print(misfit(box, (3,), {}))
    sides: 3 is of a kind that this does not take; expected a list, each a number
    """
    signature = inspect.signature(function)
    try:
        given = signature.bind(*args, **keywords).arguments
    except TypeError:
        return None
    for name, value in given.items():
        kind = _annotated(function, signature.parameters[name].annotation)
        if not _fits(value, kind):
            what = f"{quoted(value)} is of a kind that this does not take"
            return InputError(what, argument=name, expected=" or ".join(dict.fromkeys(_words(kind))))
    return None


def _annotated(function: Callable[..., Any], annotation: Any) -> Any:
    """What an annotation stands for; anything at all where only a type checker can see it."""
    if not isinstance(annotation, str):
        return annotation
    try:
        return eval(annotation, vars(inspect.getmodule(function)))
    except NameError:
        return Any


def _fits(value: Any, kind: Any) -> bool:
    """Whether a value is of a kind; what is in an iterator cannot be looked at."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return any(_fits(value, each) for each in inner)
    if origin is Literal:
        return any(value is each or value == each for each in inner)
    if kind is float:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return number and not math.isnan(value)
    if kind is int:
        return isinstance(value, int) and not isinstance(value, bool)
    if kind in (Any, object, bool, inspect.Parameter.empty):
        return True
    if origin is None:
        try:
            return isinstance(value, kind)
        except TypeError:  # a kind that nobody can be asked about
            return True
    if origin is Callable:
        return callable(value)
    if not isinstance(value, origin):
        return False
    if issubclass(origin, Mapping):
        return all(_fits(key, inner[0]) and _fits(each, inner[1]) for key, each in value.items())
    if origin is tuple and inner[-1] is not ...:
        return len(value) == len(inner) and all(_fits(*pair) for pair in zip(value, inner, strict=True))
    if issubclass(origin, Iterable) and isinstance(value, Collection):
        # Text and bytes are what somebody forgot to put into a list; a table is none.
        return not isinstance(value, str | bytes | Mapping) and all(_fits(each, inner[0]) for each in value)
    return True


def _words(kind: Any) -> list[str]:
    """What may be given, in words, nothing left out of a choice."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return [word for each in inner for word in _words(each) if each is not type(None)]
    if origin is Literal:
        return [str(each) for each in inner]
    if origin is PathLike:
        return ["a path"]
    if origin is Callable:
        return ["a function"]
    if origin is not None and inner and issubclass(origin, Mapping):
        return [f"a table of names, each with {' or '.join(_words(inner[1]))}"]
    if origin is tuple and inner[-1] is not ...:
        return [" and ".join(word for each in inner for word in _words(each))]
    if origin is not None and inner and issubclass(origin, Iterable):
        return [f"a list, each {' or '.join(_words(inner[0]))}"]
    if isinstance(kind, type) and issubclass(kind, Part):
        return [f"a {kind.__name__}"]
    return [_CALLED.get(kind, f"a {getattr(kind, '__name__', 'value')}")]
