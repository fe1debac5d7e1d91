"""Field and Word: a bit layout as a value; decoding, encoding, codecs, bulk masks and docs all come from it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from operator import index
from typing import Any

from pdcheck.errors import InputError
from pdcheck.facts.origin import Origin
from pdcheck.named import NamedTuple

# The unit of a field is the ending of its key, so that it is written once.
UNITS = {
    "_mv": "mV",
    "_ma": "mA",
    "_mw": "mW",
    "_w": "W",
    "_mwh": "mWh",
    "_ms": "ms",
    "_c": "°C",
    "_mohm": "mΩ",
    "_percent": "%",
}


class Field(NamedTuple):
    """One run of bits: its key, its place, the step of its value, its meaning.

    ``scale`` is the size of one count in the unit that the key ends in. ``codes`` names the values of a code,
    ``special`` the few counts of a number that mean something else; ``void`` is the one of them that says "not known"
    and reads as ``None``. ``origin`` stands only where it differs from the table's.
    """

    key: str
    high: int
    low: int
    title: str
    scale: int = 1
    codes: Mapping[int, str] | None = None
    note: str = ""
    fixed: int | None = None
    reserved: bool = False
    special: Mapping[int, str] | None = None
    void: int | None = None
    origin: Origin | None = None

    @property
    def width(self) -> int:
        """Number of bits."""
        return self.high - self.low + 1

    @property
    def mask(self) -> int:
        """Mask of the field after it has been shifted down."""
        return (1 << self.width) - 1

    @property
    def flag(self) -> bool:
        """A single bit that says yes or no."""
        return self.high == self.low and self.codes is None and self.fixed is None and not self.reserved

    @property
    def unit(self) -> str:
        """The unit, read off the key's ending; empty for a bare number, code or flag."""
        for ending, unit in UNITS.items():
            if self.key.endswith(ending):
                return unit
        return ""

    def take(self, raw: int) -> int:
        """The field's count in ``raw``, unscaled."""
        return (raw >> self.low) & ((2 << (self.high - self.low)) - 1)

    def meaning(self, count: int) -> str | None:
        """The name of a code, ``None`` where the field is no code, ``reserved`` where the code has no name.

        >>> Field("current", 6, 5, "VBUS current", codes={1: "3 A", 2: "5 A"}).meaning(2)
        '5 A'
        >>> Field("temperature_c", 7, 0, "Temperature", special={1: "below 2 °C"}).meaning(1)
        'below 2 °C'
        """
        if self.codes is None:
            return None if self.special is None else self.special.get(count)
        return self.codes.get(count, "reserved")


def bit(key: str, place: int, title: str, note: str = "") -> Field:
    """A flag of one bit."""
    return Field(key, place, place, title, note=note)


class Word:
    """A layout of ``bits`` bits, least significant bit 0; bits that no field names are reserved, and are kept.

    >>> demo = Word("demo", "Demo", [Field("voltage_mv", 7, 4, "Voltage", 50), bit("on", 0, "On")], bits=8)
    >>> demo.decode(0x47)
    {'voltage_mv': 200, 'on': True, 'reserved_3_1': 3}
    >>> hex(demo.encode({'voltage_mv': 200, 'on': True, 'reserved_3_1': 3}))
    '0x47'
    """

    __slots__ = ("_coded", "_steps", "bits", "fields", "name", "named", "origin", "reserved_mask", "spare", "title")

    def __init__(
        self, name: str, title: str, fields: Iterable[Field], origin: Origin | None = None, bits: int = 32
    ) -> None:
        self.name = name
        self.title = title
        self.bits = bits
        self.origin = origin
        self.named: tuple[Field, ...] = tuple(sorted(fields, key=lambda field: -field.high))
        spare: list[Field] = []
        above = bits
        for field in (*self.named, None):
            top = -1 if field is None else field.high
            if top >= above or (field is not None and field.low > field.high):
                raise ValueError(f"{name}: field at bit {top} overlaps another or does not fit")
            if above - 1 > top:
                high, low = above - 1, top + 1
                key = f"reserved_{high}" if high == low else f"reserved_{high}_{low}"
                spare.append(Field(key, high, low, "Reserved", reserved=True))
            above = 0 if field is None else field.low
        self.spare: tuple[Field, ...] = tuple(spare)
        self.fields: tuple[Field, ...] = tuple(sorted(self.named + self.spare, key=lambda field: -field.high))
        self.reserved_mask = sum(field.mask << field.low for field in spare)
        self._steps: list[tuple[str, int, int, int, bool, int | None]] | None = None
        self._coded: list[Field] | None = None

    def __repr__(self) -> str:
        return f"<Word {self.name}, {self.bits} bits>"

    def field(self, key: str) -> Field:
        """The field of that key; ``KeyError`` where there is none."""
        for field in self.fields:
            if field.key == key:
                return field
        raise KeyError(key)

    def coded(self) -> list[Field]:
        """The named fields whose counts have names, all of them or a few, as in ``codes`` and ``special``."""
        if self._coded is None:
            self._coded = [field for field in self.named if field.codes is not None or field.special is not None]
        return self._coded

    def meanings(self, raw: int) -> dict[str, str]:
        """The names of the codes of a word, by key.

        >>> Word("d", "D", [Field("current", 6, 5, "Current", codes={1: "3 A"})], bits=8).meanings(0x20)
        {'current': '3 A'}
        """
        named = {field.key: field.meaning(field.take(raw)) for field in self.coded()}
        return {key: name for key, name in named.items() if name is not None}

    def decode(self, raw: int) -> dict[str, Any]:
        """Every named field by key, scaled; flags as ``bool``; "not known" as ``None``; reserved bits where set."""
        if self._steps is None:
            # Made at the first use: most words of the tables are never met in one run.
            self._steps = [(one.key, one.low, one.mask, one.scale, one.flag, one.void) for one in self.named]
        values: dict[str, Any] = {}
        for key, low, mask, scale, flag, void in self._steps:
            count = (raw >> low) & mask
            if flag:
                values[key] = count == 1
            else:
                values[key] = None if count == void else count * scale
        if raw & self.reserved_mask:
            for field in self.spare:
                count = field.take(raw)
                if count:
                    values[field.key] = count
        return values

    def encode(self, values: Mapping[str, Any]) -> int:
        """The word that decodes to ``values``; keys left out are zero, or the code that makes the word this kind.

        Raises ``InputError`` where a value does not fit its field or its step, or the key is not of this word.
        """
        raw = 0
        unknown = set(values)
        for field in self.fields:
            unknown.discard(field.key)
            value = values.get(field.key, (field.fixed or 0) * field.scale)
            if value is None and field.void is not None:
                value = field.void * field.scale
            count, rest = divmod(_whole(field.key, value), field.scale)
            if rest:
                raise InputError(f"{field.key} = {value} is off the step of {field.scale} {field.unit}".rstrip())
            if not 0 <= count <= field.mask:
                raise InputError(
                    f"{field.key} = {value} does not fit its {field.width} bits",
                    expected=f"0 to {field.mask * field.scale}",
                )
            raw |= count << field.low
        if unknown:
            raise InputError(f"{self.title} has no field {sorted(unknown)[0]!r}")
        return raw

    def reserved_set(self, raw: int) -> list[str]:
        """The reserved runs that are not zero, as people write them: ``22`` or ``26..25``."""
        if not raw & self.reserved_mask:
            return []
        return [place(field) for field in self.spare if field.take(raw)]

    def from_bytes(self, data: bytes) -> dict[str, Any]:
        """As ``decode``, from little-endian bytes; a block shorter than the table leaves out what it does not hold.

        Bytes past the table are ignored, as the standard asks.
        """
        values = self.decode(int.from_bytes(data, "little"))
        held = len(data) * 8
        if held >= self.bits:
            return values
        return {key: value for key, value in values.items() if self.field(key).high < held}

    def to_bytes(self, values: Mapping[str, Any]) -> bytes:
        """As ``encode``, to little-endian bytes."""
        return self.encode(values).to_bytes(self.bits // 8, "little")

    def marks(self) -> dict[str, str]:
        """Where the layout comes from, with its mark; and, by key, where a field comes from somewhere else.

        >>> from pdcheck.facts.origin import Origin
        >>> Word("d", "D", [bit("on", 0, "On")._replace(origin=Origin("", "memory"))], bits=8).marks()
        {'on': ' [memory]'}
        """
        own = {field.key: str(field.origin) for field in self.named if field.origin is not None}
        return own if self.origin is None else {"layout": str(self.origin), **own}

    def varied(
        self,
        name: str,
        title: str,
        changes: Sequence[Field] = (),
        drop: Sequence[str] = (),
        origin: Origin | None = None,
    ) -> Word:
        """A word like this one with some fields put in the place of others (by overlap) or dropped (by key)."""
        kept = [
            field
            for field in self.named
            if field.key not in drop and not any(field.low <= new.high and new.low <= field.high for new in changes)
        ]
        return Word(name, title, [*kept, *changes], origin or self.origin, self.bits)


def _whole(key: str, value: object) -> int:
    if isinstance(value, float) and value.is_integer():
        return int(value)
    try:
        return index(value)  # type: ignore[arg-type]
    except TypeError:
        raise InputError(f"{key} = {value!r} is no whole number") from None


def place(field: Field) -> str:
    """The bits of a field as the standard writes them.

    >>> place(Field("a", 19, 10, "A")), place(Field("b", 3, 3, "B"))
    ('19..10', '3')
    """
    return str(field.high) if field.high == field.low else f"{field.high}..{field.low}"
