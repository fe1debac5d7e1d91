"""What every part is made of: the base model and the field types that read quantities as people type them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self, TypeGuard, cast, get_args, get_origin

from pydantic import (
    AliasGenerator,
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic_core import core_schema

from pdcheck.errors import InputError
from pdcheck.facts.characters import NAME_SIGNS, is_hidden, is_name
from pdcheck.facts.copper import LARGEST_AWG, SMALLEST_AWG
from pdcheck.parts.mistakes import input_error, nearest
from pdcheck.quantities import (
    UNITS,
    Triple,
    example_of,
    format_quantity,
    parse_quantity,
    parse_range,
    quantity_text,
    quoted,
)

LONGEST_NAME, LONGEST_TITLE = 64, 200  # characters
_UNIT_ENDING = re.compile(rf"_(?:{'|'.join(unit.lower().replace('/', '_') for unit in UNITS)})$")


def file_key(field: str) -> str:
    """The key of a field in a file: its name without the unit, which the quantity itself carries there.

    >>> file_key("length_m"), file_key("input_limit_a"), file_key("awg")
    ('length', 'input_limit', 'awg')
    """
    return _UNIT_ENDING.sub("", field)


@dataclass(frozen=True, eq=False)
class Reader:
    """Annotation of a field that one function reads, and ``write`` writes for a file; it may raise InputError."""

    read: Callable[[Any], Any]
    schema: dict[str, Any]
    write: Callable[[Any], Any] = lambda value: value

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return dict(self.schema)


class Part(BaseModel):
    """Base of all parts: frozen, no unknown keys, SI floats inside, people's quantities at the door.

    Fields are named with their unit (``length_m``); files and the constructor take the name without it as well, and
    most parts a line of text as their first argument. Whatever is wrong raises InputError, which tells the key.

    A subclass says ``init=False``, so that type checkers take this constructor and not one made up from the fields:
    a field holds metres, and people type ``"0.4m"``.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        populate_by_name=True,
        arbitrary_types_allowed=True,
        defer_build=True,
        alias_generator=AliasGenerator(validation_alias=file_key),
    )

    file_keys: ClassVar[tuple[str, ...]] = ()
    """Keys of a file that are no field."""
    rules_out: ClassVar[dict[str, tuple[str, ...]]] = {}
    """Where ``replace`` sets a field: the fields that go with the old one."""
    unless_said: ClassVar[dict[str, str]] = {}
    """What the constructor takes for a key that a file has to have."""

    def __init_subclass__(cls, *, init: bool = False) -> None:
        super().__init_subclass__()

    def __init__(self, said: Any = None, /, **stated: Any) -> None:
        if said is not None:
            spoken = said if isinstance(said, Mapping) else self._spoken(said)
            if not isinstance(spoken, Mapping):
                raise InputError(f"{quoted(said)} is not a {type(self).__name__.lower()}", expected="keys with values")
            twice = spoken.keys() & stated.keys() - self.unless_said.keys()
            if twice:
                raise InputError("is given twice", expected=f"it beside {quoted(said)} no more", key=(min(twice),))
            stated = {**spoken, **stated}
        try:
            self.__pydantic_validator__.validate_python({**self.unless_said, **stated}, self_instance=self)
        except ValidationError as error:
            raise input_error(type(self), error) from None

    # A part within another is made by pydantic itself, which keeps the place of each mistake in it.
    __init__.__pydantic_base_init__ = True  # type: ignore[attr-defined]

    @model_validator(mode="before")
    @classmethod
    def _opened(cls, data: Any, info: ValidationInfo) -> Any:
        if isinstance(data, str | int | float):
            data = cls._spoken(data)
        return cls._stated(dict(data), info) if isinstance(data, Mapping) else data

    @classmethod
    def _spoken(cls, said: Any) -> Any:
        """The keys that a line of text, or a number, stands for; itself where it stands for none."""
        return said

    @classmethod
    def _stated(cls, data: dict[str, Any], info: ValidationInfo) -> dict[str, Any]:
        """The fields out of the keys that people give."""
        return data

    @classmethod
    def model_validate(cls, obj: Any, **how: Any) -> Self:
        """A part from a mapping with the keys of a file. Raises InputError."""
        try:
            return super().model_validate(obj, **how)
        except ValidationError as error:
            raise input_error(cls, error) from None

    @classmethod
    def model_validate_json(cls, json_data: str | bytes | bytearray, **how: Any) -> Self:
        """A part from a JSON text with the keys of a file. Raises InputError."""
        try:
            return super().model_validate_json(json_data, **how)
        except ValidationError as error:
            raise input_error(cls, error) from None

    if not TYPE_CHECKING:  # a type checker that sees these lets any name be set

        def __setattr__(self, name: str, value: Any) -> None:
            raise InputError(f"a {type(self).__name__} does not change", expected=f"replace({name}=...) for a new one")

        def __delattr__(self, name: str) -> None:
            self.__setattr__(name, None)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{key}={value!r}' for key, value in self.to_dict().items())})"

    def __str__(self) -> str:
        return repr(self)

    def to_dict(self) -> dict[str, Any]:
        """The part as the table of a file: its keys, quantities as typed, no defaults; the constructor takes it back.

        >>> from pdcheck.parts.wire import Wire
        >>> Wire("20AWG 0.4m 10mOhm").to_dict()
        {'length': '400mm', 'awg': 20, 'contacts': '10mOhm'}
        """
        table: dict[str, Any] = {}
        for (name, field), write in zip(type(self).model_fields.items(), _writers(type(self)), strict=True):
            value = getattr(self, name)
            if field.is_required() or value != field.default:
                table[str(field.validation_alias)] = write(value)
        return table

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        # As a model_serializer would, whose import and work on every model is felt at each start.
        written = core_schema.plain_serializer_function_ser_schema(cls.to_dict)
        return cast(core_schema.CoreSchema, {**handler(source), "serialization": written})

    def replace(self, changes: Mapping[str, Any] | None = None, /, **fields: Any) -> Self:
        """A new part with some things changed; a key may lead into it, by the names of branches, sources and cables.

        Raises InputError for a key that there is not, and for a value that does not fit.

        >>> from pdcheck.parts.rig import Rig
        >>> rig = Rig(trigger="15V", branch=[{"name": "mount", "wire": "20AWG 0.4m", "load": "24W"}])
        >>> new = rig.replace({"mount.load": "30W", "mount.wire.length": "2m"}, trigger="20V")
        >>> new.branches[0].load, new.trigger, rig.trigger
        (PowerLoad(power='30W'), Trigger(request='20V'), Trigger(request='15V'))
        """
        by_field: dict[str, dict[str, Any]] = {}
        for path, value in {**(changes or {}), **fields}.items():
            name, rest = self._led_to(path)
            by_field.setdefault(name, {})[rest] = value
        data = {name: getattr(self, name) for name in self.model_fields_set}
        for name, below in by_field.items():
            gone = self.rules_out.get(name, ())
            data = {key: value for key, value in data.items() if key not in gone or key in by_field}
            data[name] = _changed(getattr(self, name), name, below)
        return type(self).model_validate(data)

    def _led_to(self, path: str) -> tuple[str, str]:
        """The field that a dotted path leads to, and the rest of the path."""
        head, _, rest = path.partition(".")
        fields = {str(field.validation_alias): name for name, field in type(self).model_fields.items()}
        name = fields.get(head, head)
        if name in fields.values():
            return name, rest
        for name in fields.values():
            if any(f"{path}.".startswith(f"{label}.") for label in _labels(getattr(self, name))):
                return name, path
        labels = [label for name in fields.values() for label in _labels(getattr(self, name))]
        raise InputError(f"unknown key {quoted(head)}", expected=nearest(head, [*fields, *labels]))


def _labels(value: Any) -> list[str]:
    """The names of the parts in a list of them."""
    parts = value if isinstance(value, tuple) else ()
    return [str(getattr(each, "name", getattr(each, "id", ""))) for each in parts if isinstance(each, Part)]


def _changed(now: Any, key: str, below: dict[str, Any]) -> Any:
    """A value with what lies below it changed; the whole of it under the empty path."""
    if "" in below:
        if len(below) > 1:
            raise InputError("is changed whole and in part", expected="one of them", key=(key,))
        return below[""]
    if isinstance(now, Part):
        try:
            return now.replace(below)
        except InputError as error:
            raise error.below(key) from None
    labels = _labels(now)
    if not labels:
        raise InputError("there is nothing in it to change", expected="the whole of it", key=(key,))
    listed: dict[str, dict[str, Any]] = {label: {} for label in labels}
    for path, value in below.items():
        label = max((each for each in labels if f"{path}.".startswith(f"{each}.")), key=len, default="")
        if not label:
            head = path.partition(".")[0]
            raise InputError(f"nothing is named {quoted(head)}", expected=nearest(head, labels), key=(key,))
        listed[label][path[len(label) + 1 :]] = value
    return [_changed(each, *told) if told[1] else each for each, told in zip(now, listed.items(), strict=True)]


@cache
def _writers(model: type[Part]) -> tuple[Callable[[Any], Any], ...]:
    """For each field of a part, what writes it for a file."""
    return tuple(_writer(field.annotation, *field.metadata) for field in model.model_fields.values())


def _writer(annotation: Any, *marks: Any) -> Callable[[Any], Any]:
    if get_origin(annotation) is Annotated:
        return _writer(*get_args(annotation))
    own = next((mark.write for mark in marks if isinstance(mark, Reader)), None)
    inner = [_writer(each) for each in get_args(annotation) if each not in (type(None), ...)]
    if own is None and get_origin(annotation) is tuple:
        return lambda value: [inner[0](each) for each in value]
    # Of a union the first says how; what it has beside is a part, which knows itself.
    write = own or (inner[0] if inner else lambda value: value)
    return lambda value: value.to_dict() if isinstance(value, Part) else write(value)


MOST_TIMES = 1000.0
NUMBER_OR_TEXT = {"anyOf": [{"type": "number"}, {"type": "string"}]}


def read_bounded(value: Any, unit: str, most: float, *, zero: bool, least: float = 0.0, noun: str = "a ratio") -> float:
    """A quantity between ``least`` and ``most``; zero only where ``zero`` says that it means something.

    ``noun`` is what a ratio is called where it is none.
    """
    number = parse_quantity(value, unit)
    if number == 0 and not zero:
        raise InputError(f"{quoted(value)} is zero", expected=f"more than {format_quantity(0, unit)}")
    if not least <= number <= most:
        span = f"{format_quantity(least, unit)} to {format_quantity(most, unit)}"
        meant = number / 100
        if unit == "%" and 10 <= number <= 100 and least <= meant <= most:
            raise InputError(f"{value} is not {noun}: write {number:g}% or {meant:g}")
        raise InputError(f"{quoted(value)} is out of range", expected=f"{span}{_as_in(value, unit)}")
    return number


def _as_in(value: Any, unit: str) -> str:
    """An example, for a number that nobody means in the plain unit."""
    bare = not isinstance(value, str) or not re.search(r"[a-zA-Z%]", value)
    return f", with its unit, as in {example_of(unit)}" if bare and unit != "%" else ""


def quantity(unit: str, most: float, *, zero: bool = False, least: float = 0.0, noun: str = "a ratio") -> Reader:
    """A field of one quantity."""
    return Reader(
        lambda value: read_bounded(value, unit, most, zero=zero, least=least, noun=noun),
        NUMBER_OR_TEXT,
        lambda value: quantity_text(value, unit),
    )


def _read_times(value: Any) -> float:
    text = value.strip().removesuffix("x") if isinstance(value, str) else value
    try:
        times = float("nan") if isinstance(text, bool) else float(text)
    except (TypeError, ValueError):
        times = float("nan")
    if not 1.0 <= times <= MOST_TIMES:
        raise InputError(f"{quoted(value)} is no such factor", expected=f"a number such as 8, 1 to {MOST_TIMES:g}")
    return times


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

    def write(value: Triple) -> str | dict[str, str]:
        texts = {end: quantity_text(each, unit) for end, each in value._asdict().items()}
        return texts["typ"] if len(set(value)) == 1 else texts

    table = {
        "type": "object",
        "properties": dict.fromkeys(("min", "typ", "max"), NUMBER_OR_TEXT),
        "required": ["min", "typ", "max"],
        "additionalProperties": False,
    }
    return Reader(read, {"anyOf": [*NUMBER_OR_TEXT["anyOf"], table]}, write)


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

    pair = {"type": "array", "items": NUMBER_OR_TEXT, "minItems": 2, "maxItems": 2}
    table = {"type": "object", "properties": dict.fromkeys(("min", "max"), NUMBER_OR_TEXT), "required": ["min", "max"]}
    schema = {"anyOf": [{"type": "string"}, pair, table]}
    return Reader(read, schema, lambda ends: "-".join(quantity_text(end, unit) for end in ends))


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


def count_of(noun: str, most: int) -> Reader:
    """A field of a whole number from 1 to ``most``."""

    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= most:
            raise InputError(f"{quoted(value)} is not a number of {noun}", expected=f"a whole number, 1 to {most}")
        return value

    return Reader(read, {"type": "integer", "minimum": 1, "maximum": most})


def _is_line(value: Any, longest: int) -> TypeGuard[str]:
    # What acts on a terminal or turns the order of a page's text is no part of a name.
    return isinstance(value, str) and len(value) <= longest and not any(map(is_hidden, value))


def _read_name(value: Any) -> str:
    if not _is_line(value, LONGEST_NAME) or not is_name(value):
        raise InputError(f"{quoted(value)} is not a name", expected=f"one word of {NAME_SIGNS}, at most {LONGEST_NAME}")
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
WattHours = Annotated[float, quantity("Wh", 100e3, least=0.01)]
WattsOrZero = Annotated[float, quantity("W", 100e3, zero=True)]
Ohms = Annotated[float, quantity("ohm", 1e9)]
OhmsOrZero = Annotated[float, quantity("ohm", 1e9, zero=True)]
Henrys = Annotated[float, quantity("H", 1, zero=True)]
Seconds = Annotated[float, quantity("s", 3600, zero=True)]
Times = Annotated[float, Reader(_read_times, NUMBER_OR_TEXT)]
Farads = Annotated[float, quantity("F", 10, zero=True)]
RisePerWatt = Annotated[float, quantity("K/W", 1000)]
Metres = Annotated[float, quantity("m", 1000, zero=True)]
SquareMillimetres = Annotated[float, quantity("mm2", 1000, least=0.001)]
Celsius = Annotated[float, quantity("C", 300, zero=True, least=-100)]
Tolerated = Annotated[float, quantity("%", 0.5, zero=True)]
Efficiency = Annotated[float, quantity("%", 1.0, noun="an efficiency")]
Share = Annotated[float, quantity("%", 1.0)]
OhmTriple = Annotated[Triple, triple("ohm", 1e6)]
CelsiusTriple = Annotated[Triple, triple("C", 300, least=-100)]
VoltSpan = Annotated[tuple[float, float], span("V", 1000)]
