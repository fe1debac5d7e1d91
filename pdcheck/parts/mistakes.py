"""Mistakes in a part: what pydantic found, told in the project's own words, with the nearest key that there is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from pdcheck.errors import InputError, Place
from pdcheck.facts.characters import looks
from pdcheck.named import NamedTuple
from pdcheck.quantities import LONGEST_TEXT, quoted


class Mistake(NamedTuple):
    """One mistake: the path of keys to it, what is wrong, what was expected."""

    place: Place
    what: str
    expected: str


def names_differ(names: Sequence[str], noun: str, key: tuple[str, str]) -> None:
    """Raise the mistake for a name that another one of the list has already, or that looks like it.

    ``noun`` is what the name is to its part, ``key`` the list of parts and the key of the name in each.

    >>> names_differ(["wall", "desk", "wall"], "id", ("source", "id"))
    Traceback (most recent call last):
    pdcheck.errors.InputError: source[2].id: 'wall' is the id of another source already; ...
    """
    seen: dict[str, str] = {}
    for index, name in enumerate(names):
        before = seen.setdefault(looks(name), name)
        if len(seen) == index + 1:
            continue
        where = (key[0], index, key[1])
        a = "an" if noun == "id" else "a"
        if before == name:
            what = f"{quoted(name)} is the {noun} of another {key[0]} already"
            raise InputError(what, expected=f"{a} {noun} that is not in use", key=where)
        what = f"{quoted(name)} looks like the {noun} of another {key[0]}, but has other letters in it ({name!a})"
        raise InputError(what, expected=f"{a} {noun} that nobody takes for the other", key=where)


def nearest(word: str, known: Sequence[str]) -> str:
    """The known words as a phrase, led by the one that was probably meant.

    >>> nearest("lenght", ["awg", "length"])
    'length (of: awg, length)'
    """
    import difflib

    listed = ", ".join(known)
    close = difflib.get_close_matches(word[:LONGEST_TEXT].lower(), known, n=1, cutoff=0.6)
    return f"{close[0]} (of: {listed})" if close else f"one of: {listed}"


def mistakes_in(model: type[BaseModel], error: ValidationError) -> list[Mistake]:
    """All mistakes that pydantic found in a model, each with its place and in the project's words.

    What was probably meant by a key that nobody knows is sought by ``meant``, for the mistake that is told: a file may
    be nothing but such keys.
    """
    return [_told(model, detail) for detail in error.errors(include_url=False)]


def input_error(model: type[BaseModel], error: ValidationError) -> InputError:
    """The first mistake as the one exception, with the keys that lead to it."""
    # A key that is not known says more than the one that is then missing.
    found = sorted(mistakes_in(model, error), key=lambda each: not each.what.startswith(UNKNOWN_KEY))
    place, what, expected = meant(model, found[0])
    if what == "is missing":
        expected = expected or f"{place[-1]}=..."
    return InputError(what, expected=expected, key=place)


def fields_of(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The fields of a table; of one that may be of several kinds, those of all."""
    found: dict[str, FieldInfo] = getattr(model, "every_field", None) or model.model_fields
    return found


def known_keys(model: type[BaseModel], place: Place) -> list[str]:
    """The keys that the table at a path may have, walking the models from the outermost one."""
    for name in place:
        field = _field(model, name)
        model = model if field is None else next(models_in(field.annotation), model)
    own: tuple[str, ...] | None = getattr(model, "face_keys", None)
    if own is not None:
        return list(own)
    keys = [str(field.validation_alias or key) for key, field in fields_of(model).items()]
    return [key for key in keys if key != "problems"] + list(getattr(model, "file_keys", ()))


@cache
def _named(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The fields of a table by both names that each may have."""
    found: dict[str, FieldInfo] = {}
    for key, field in fields_of(model).items():
        found.setdefault(key, field)
        found.setdefault(str(field.validation_alias or key), field)
    return found


def _field(model: type[BaseModel], name: str | int) -> FieldInfo | None:
    return None if isinstance(name, int) else _named(model).get(name)


def _without_tags(model: type[BaseModel], place: Place) -> Place:
    """A path without the marks that pydantic adds for what it chose of a union; they name no field."""
    kept: list[str | int] = []
    for name in place:
        field = _field(model, name)
        if isinstance(name, int) or field is not None:
            kept.append(name)
        if field is not None:
            model = next(models_in(field.annotation), model)
    return tuple(kept)


def models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The models that an annotation speaks of, the outermost first."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from models_in(part)


UNKNOWN_KEY = "unknown key "


def said_first(found: Sequence[Mistake]) -> list[Mistake]:
    """Mistakes without those that only follow from a key that nobody knows: it was meant to be the missing one."""
    unknown = {each.place[:-1] for each in found if each.what.startswith(UNKNOWN_KEY)}
    return [
        each
        for each in found
        if each.what.startswith(UNKNOWN_KEY)
        or not (each.place in unknown or (each.what == "is missing" and each.place[:-1] in unknown))
    ]


def meant(model: type[BaseModel], mistake: Mistake) -> Mistake:
    """A mistake with what is expected instead: for an unknown key the one that was probably meant, the table that has
    it, or all that there are."""
    if not mistake.what.startswith(UNKNOWN_KEY) or mistake.expected:
        return mistake
    return mistake._replace(expected=_likely(model, mistake.place))


def _likely(model: type[BaseModel], place: Place) -> str:
    import difflib

    key, known = str(place[-1]), known_keys(model, place[:-1])
    close = difflib.get_close_matches(key[:LONGEST_TEXT].lower(), known, n=1, cutoff=0.6)
    if close:
        return close[0]
    below = next((each for each in known if key in known_keys(model, (*place[:-1], each)) and key not in known), None)
    return f"it in [{below}]" if below is not None else f"one of: {', '.join(known)}"


def _told(model: type[BaseModel], detail: Mapping[str, Any]) -> Mistake:
    # What is missing or unknown ends in a key that no model has to know.
    last = detail["loc"][-1:] if detail["type"] in ("missing", "extra_forbidden") else ()
    place, value = (*_without_tags(model, detail["loc"][: -1 if last else None]), *last), detail["input"]
    match detail["type"]:
        case "value_error" if isinstance(error := detail["ctx"]["error"], InputError):
            what = f"{error.where}: {error.what}" if error.where else error.what
            return Mistake((*place, *error.key), what, error.expected)
        case "missing":
            return Mistake(place, "is missing", "")
        case "extra_forbidden":
            return Mistake(place, f"{UNKNOWN_KEY}{quoted(place[-1])}", "")
        case "tuple_type" if isinstance(value, Mapping):
            return Mistake(place, "is one table", f"a list of tables, each headed [[{place[-1]}]]")
        case "tuple_type":
            return Mistake(place, f"{quoted(value)} is not a list", "a list")
        case "model_type" | "model_attributes_type":
            return Mistake(place, f"{quoted(value)} is not a table", "keys with values")
    message = str(detail["msg"])
    start, _, expected = message.partition("Input should be ")
    if not start and expected:
        return Mistake(place, f"{quoted(value)} does not fit", expected.partition(",")[0])
    return Mistake(place, f"{quoted(value)} does not fit: {message}", "")
