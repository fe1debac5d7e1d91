"""What every part is made of: the base model and the field types that read quantities as people type them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, TypeGuard

from pydantic import AliasGenerator, BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import core_schema

from pdcheck.errors import InputError
from pdcheck.facts.characters import is_hidden
from pdcheck.facts.copper import LARGEST_AWG, SMALLEST_AWG
from pdcheck.parts.mistakes import relayed
from pdcheck.quantities import Triple, format_quantity, parse_quantity, parse_range, quoted

LONGEST_NAME, LONGEST_TITLE = 64, 200  # characters
_UNIT_ENDING = re.compile(r"_(?:v|a|w|ohm|m|f|mm2|c)$")
_NAME = re.compile(r"[^\s/\\\"'`]+")
# A space between a number and its unit, so that "15 V 2 A" splits into two quantities.
_SPACE_BEFORE_UNIT = re.compile(
    r"(?<=[0-9])\s+(?=(?:[munk\u00b5\u03bc]?(?:[VvAaWwm]|Ω|\u2126|[Oo]hms?|OHMS?)|cm|mm|ft|feet|in|AWG|awg)(?![A-Za-z]))"
)


def file_key(field: str) -> str:
    """The key of a field in a file: its name without the unit, which the quantity itself carries there.

    >>> file_key("length_m"), file_key("input_limit_a"), file_key("awg")
    ('length', 'input_limit', 'awg')
    """
    return _UNIT_ENDING.sub("", field)


class Part(BaseModel):
    """Base of all parts: frozen, no unknown keys, SI floats inside, people's quantities at the door.

    Fields are named with their unit (``length_m``); files and the constructor take the name without it as well.
    A bad value raises pydantic's ValidationError here; the file readers of pdcheck.parts.tomlfile turn it into an
    InputError with file, line and key.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        populate_by_name=True,
        arbitrary_types_allowed=True,
        alias_generator=AliasGenerator(validation_alias=file_key),
    )


class Reader:
    """Annotation of a field that one function reads; an InputError of that function becomes pydantic's."""

    __slots__ = ("read", "schema")

    def __init__(self, read: Callable[[Any], Any], schema: dict[str, Any]) -> None:
        self.read = read
        self.schema = schema

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        def validate(value: Any) -> Any:
            try:
                return self.read(value)
            except InputError as error:
                raise relayed(error) from None

        return core_schema.no_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(self, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return dict(self.schema)


_NUMBER_OR_TEXT = [{"type": "number"}, {"type": "string"}]


def read_bounded(value: Any, unit: str, most: float, *, zero: bool, least: float = 0.0) -> float:
    """A quantity between ``least`` and ``most``; zero only where ``zero`` says that it means something."""
    number = parse_quantity(value, unit)
    if number == 0 and not zero:
        raise InputError(f"{quoted(value)} is zero", expected=f"more than {format_quantity(0, unit)}")
    if not least <= number <= most:
        span = f"{format_quantity(least, unit)} to {format_quantity(most, unit)}"
        raise InputError(f"{quoted(value)} is outside of any bench", expected=span)
    return number


def quantity(unit: str, most: float, *, zero: bool = False, least: float = 0.0) -> Reader:
    """A field of one quantity."""
    return Reader(lambda value: read_bounded(value, unit, most, zero=zero, least=least), {"anyOf": _NUMBER_OR_TEXT})


def triple(unit: str, most: float, least: float = 0.0) -> Reader:
    """A field of min / typ / max: one quantity, or a table ``{ min = .., typ = .., max = .. }``."""

    def read(value: Any) -> Triple:
        if isinstance(value, Mapping):
            if set(value) != {"min", "typ", "max"}:
                raise InputError("the table is not of min, typ and max", expected="min, typ and max, or one quantity")
            value = (value["min"], value["typ"], value["max"])
        if not isinstance(value, tuple | list):
            return Triple.exact(read_bounded(value, unit, most, zero=True, least=least))
        if len(value) != 3:
            raise InputError(f"{len(value)} values", expected="min, typ and max, or one quantity")
        found = Triple(*(read_bounded(part, unit, most, zero=True, least=least) for part in value))
        if not found.min <= found.typ <= found.max:
            raise InputError("min, typ and max do not rise", expected="min <= typ <= max")
        return found

    ends = {"anyOf": _NUMBER_OR_TEXT}
    table = {
        "type": "object",
        "properties": {"min": ends, "typ": ends, "max": ends},
        "required": ["min", "typ", "max"],
        "additionalProperties": False,
    }
    return Reader(read, {"anyOf": [*_NUMBER_OR_TEXT, table]})


def span(unit: str, most: float) -> Reader:
    """A field of two ends: ``"6V-36V"``, a list of two, or a table ``{ min = .., max = .. }``."""

    def read(value: Any) -> tuple[float, float]:
        if isinstance(value, Mapping) and set(value) == {"min", "max"}:
            value = (value["min"], value["max"])
        if isinstance(value, str):
            value = parse_range(value, unit)
        if not isinstance(value, tuple | list) or len(value) != 2:
            raise InputError(f"{quoted(value)} is not a range", expected="a range such as 6V-36V")
        low, high = (read_bounded(end, unit, most, zero=True) for end in value)
        if low > high or high == 0:
            raise InputError(f"{quoted(value)} starts above its end", expected="a range such as 6V-36V")
        return low, high

    pair = {"type": "array", "items": {"anyOf": _NUMBER_OR_TEXT}, "minItems": 2, "maxItems": 2}
    ends = {"anyOf": _NUMBER_OR_TEXT}
    table = {"type": "object", "properties": {"min": ends, "max": ends}, "required": ["min", "max"]}
    return Reader(read, {"anyOf": [{"type": "string"}, pair, table]})


def one_of(noun: str, *words: str, **also: str) -> Reader:
    """A field of one word of a set; ``also`` maps other spellings (with _ for -) to the word that they stand for."""

    def read(value: Any) -> str:
        plain = re.sub(r"[\s_]+", "-", value.strip().lower()) if isinstance(value, str) else value
        if isinstance(plain, str):
            plain = also.get(plain.replace("-", "_"), plain)
        if plain not in words:
            raise InputError(f"{quoted(value)} is not {noun}", expected=nearest(str(value), words))
        return str(plain)

    return Reader(read, {"enum": list(words)})


def nearest(word: str, known: tuple[str, ...] | list[str]) -> str:
    """The known words as a phrase, led by the one that was probably meant.

    >>> nearest("lenght", ["awg", "length"])
    'length (of: awg, length)'
    """
    import difflib

    listed = ", ".join(known)
    close = difflib.get_close_matches(word[:LONGEST_NAME].lower(), known, n=1, cutoff=0.6)
    return f"{close[0]} (of: {listed})" if close else f"one of: {listed}"


def tokens(text: str) -> list[str]:
    """The words of a one-line description, each quantity with its unit in one.

    >>> tokens("C-C, 5 A  1m loop = 180 mOhm")
    ['C-C', '5A', '1m', 'loop=180mOhm']
    """
    joined = _SPACE_BEFORE_UNIT.sub("", re.sub(r"\s*=\s*", "=", text))
    return [word for word in re.split(r"[\s;]+|,(?![0-9])|(?<![0-9]),", joined) if word]


def _is_line(value: Any, longest: int) -> TypeGuard[str]:
    # What acts on a terminal or turns the order of a page's text is no part of a name.
    return isinstance(value, str) and len(value) <= longest and not any(map(is_hidden, value))


def _read_name(value: Any) -> str:
    if not _is_line(value, LONGEST_NAME) or not _NAME.fullmatch(value):
        raise InputError(
            f"{quoted(value)} is not a name", expected=f"one word of up to {LONGEST_NAME} characters, no /"
        )
    return value


def _read_title(value: Any) -> str:
    if not _is_line(value, LONGEST_TITLE):
        raise InputError(f"{quoted(value)} is not a title", expected=f"one line of up to {LONGEST_TITLE} characters")
    return value


def _read_gauge(value: Any) -> int:
    expected = f"a gauge from {SMALLEST_AWG} to {LARGEST_AWG}"
    found = (
        re.fullmatch(r"(?:awg)?\s*([0-9]{1,2})\s*(?:awg)?", value.strip().lower()) if isinstance(value, str) else None
    )
    gauge = int(found[1]) if found else value
    if isinstance(gauge, bool) or not isinstance(gauge, int) or not SMALLEST_AWG <= gauge <= LARGEST_AWG:
        raise InputError(f"{quoted(value)} is not a wire gauge", expected=expected)
    return gauge


Name = Annotated[str, Reader(_read_name, {"type": "string", "minLength": 1, "maxLength": LONGEST_NAME})]
Title = Annotated[str, Reader(_read_title, {"type": "string", "maxLength": LONGEST_TITLE})]
Gauge = Annotated[int, Reader(_read_gauge, {"anyOf": [{"type": "integer"}, {"type": "string"}]})]

# The bounds are no limits of a standard: beyond them a figure is a slip of the keyboard on any bench.
Volts = Annotated[float, quantity("V", 1000)]
VoltsOrZero = Annotated[float, quantity("V", 1000, zero=True)]
Amps = Annotated[float, quantity("A", 1000)]
AmpsOrZero = Annotated[float, quantity("A", 1000, zero=True)]
Watts = Annotated[float, quantity("W", 100e3)]
WattsOrZero = Annotated[float, quantity("W", 100e3, zero=True)]
Ohms = Annotated[float, quantity("ohm", 1e9)]
OhmsOrZero = Annotated[float, quantity("ohm", 1e9, zero=True)]
Farads = Annotated[float, quantity("F", 10, zero=True)]
Metres = Annotated[float, quantity("m", 1000, zero=True)]
SquareMillimetres = Annotated[float, quantity("mm2", 1000, least=0.001)]
Celsius = Annotated[float, quantity("C", 300, zero=True, least=-100)]
Tolerated = Annotated[float, quantity("%", 0.5, zero=True)]
Efficiency = Annotated[float, quantity("%", 1.0)]
OhmTriple = Annotated[Triple, triple("ohm", 1e6)]
CelsiusTriple = Annotated[Triple, triple("C", 300, least=-100)]
VoltSpan = Annotated[tuple[float, float], span("V", 1000)]
