"""Mistakes in a part: raised inside pydantic with their place, and told in the project's own words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from pdcheck.errors import InputError
from pdcheck.quantities import quoted

Place = tuple[str | int, ...]


class Mistake(NamedTuple):
    """One mistake: the path of keys to it, what is wrong, what was expected."""

    place: Place
    what: str
    expected: str


def mistake(what: str, *, expected: str = "", key: Place = ()) -> PydanticCustomError:
    """An error for a pydantic validator to raise; ``key`` points below the table that is being validated."""
    # pydantic fills {braces} of the template from the context, so text of the user goes in there only.
    return PydanticCustomError("input", "{what}", {"what": what, "expected": expected, "key": key})


def relayed(error: InputError, key: Place = ()) -> PydanticCustomError:
    """An InputError as an error that pydantic carries with its place."""
    what = f"{error.where}: {error.what}" if error.where else error.what
    return mistake(what, expected=error.expected, key=key)


def raised_again(error: ValidationError, key: Place = ()) -> PydanticCustomError:
    """The first mistake of an inner model, for the outer model to carry."""
    first = mistakes_in(error)[0]
    return mistake(first.what, expected=first.expected, key=(*key, *first.place))


def as_input_error(error: ValidationError) -> InputError:
    """The first mistake of a model that was made from a line of text, not from a file."""
    first = mistakes_in(error)[0]
    return InputError(first.what, expected=first.expected)


def mistakes_in(error: ValidationError) -> list[Mistake]:
    """All mistakes that pydantic found, each with its place and in the project's words."""
    return [_told(detail) for detail in error.errors(include_url=False)]


def _told(detail: Mapping[str, Any]) -> Mistake:
    place, value, context = detail["loc"], detail["input"], detail.get("ctx", {})
    match detail["type"]:
        case "input":
            return Mistake((*place, *context["key"]), context["what"], context["expected"])
        case "missing":
            return Mistake(place, "is missing", "")
        case "extra_forbidden":
            return Mistake(place, f"unknown key {quoted(place[-1])}", "")
        case "tuple_type" if isinstance(value, Mapping):
            return Mistake(place, "is one table", f"a list of tables, each headed [[{place[-1]}]]")
        case "model_type":
            return Mistake(place, f"{quoted(value)} is not a table", "keys with values")
    message = str(detail["msg"])
    start, _, expected = message.partition("Input should be ")
    if not start and expected:
        return Mistake(place, f"{quoted(value)} does not fit", expected.partition(",")[0])
    return Mistake(place, f"{quoted(value)} does not fit: {message}", "")
