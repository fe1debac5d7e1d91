"""What people say of a cable, in a file or on one line, and the figures that it stands for."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import model_validator

from pdcheck.bits.header import Revision
from pdcheck.errors import InputError
from pdcheck.facts import cable as facts
from pdcheck.facts.voltage import EPR_MAX
from pdcheck.named import NamedTuple
from pdcheck.parts import fields
from pdcheck.parts.offer_text import hex_words
from pdcheck.parts.wire import Wire
from pdcheck.quantities import Triple, format_exactly, quoted

_PLAIN_W = facts.UNMARKED_CURRENT.value * facts.UNMARKED_VOLTAGE.value  # what "60 W" on a cable stands for
_MARKED_W = facts.MARKED_CURRENT.value * facts.UNMARKED_VOLTAGE.value  # "100 W"
_EPR_W = facts.MARKED_CURRENT.value * EPR_MAX.value  # "240 W"


def words_in(value: Any) -> tuple[int, ...]:
    """The 32-bit words of a marker's answer: bare words, or the last vendor message of a hex log.

    >>> [hex(word) for word in words_in("0x1C0012AB 00000000, 12340001 110A2042")]
    ['0x1c0012ab', '0x0', '0x12340001', '0x110a2042']
    """
    from pdcheck.bits.message import Message
    from pdcheck.intake.hexlog import read_hex
    from pdcheck.intake.stream import Words

    expected = "words such as 0x110A2042, or the whole message in hex"
    if isinstance(value, tuple | list) and value and all(type(word) is int and 0 <= word < 2**32 for word in value):
        return tuple(value)
    if not isinstance(value, str):
        raise InputError(f"{quoted(value)} is not an e-marker's words", expected=expected)
    found: tuple[int, ...] = ()
    for _, item in read_hex(value):
        if isinstance(item, Words):
            found = item
        elif isinstance(item, Message) and item.type == "Vendor_Defined":
            found = item.words
    if not found:
        raise InputError("no e-marker's words in this hex", expected=expected)
    return tuple(found)


class Rating(NamedTuple):
    """A stated rating: its current [A], whether it means EPR, and how it was written."""

    current_a: float
    epr: bool
    text: str


def read_rating(value: Any) -> Rating:
    """A rating in amperes, or in watts as cables are printed.

    >>> read_rating("100W").current_a, read_rating("240 W").epr
    (5.0, True)
    """
    if isinstance(value, Rating):
        return value
    if isinstance(value, str) and re.search(r"[wW]\s*$|watts?\s*$", value):
        power = fields.read_bounded(value, "W", _EPR_W, zero=False)
        text = format_exactly(power, "W")
        if power <= _PLAIN_W:
            return Rating(facts.UNMARKED_CURRENT.value, False, text)
        return Rating(facts.MARKED_CURRENT.value, power > _MARKED_W, text)
    current = fields.read_bounded(value, "A", 100, zero=False)
    return Rating(current, False, format_exactly(current, "A"))


def revision_of(what: str) -> fields.Reader:
    """A revision of PD, ``2.0`` or ``3.x``; ``what`` it is of."""
    return fields.Reader(lambda value: _read_revision(value, what), {"enum": list(get_args(Revision))})


def _read_revision(value: Any, what: str) -> str:
    text = str(value).strip().lower()
    if text in ("2", "2.0"):
        return "2.0"
    if text in ("3", "3.x", "3.0", "3.1", "3.2"):
        return "3.x"
    raise InputError(f"{quoted(value)} is no revision of {what}", expected=" or ".join(get_args(Revision)))


class Readings(fields.Part, init=False):
    """Two voltmeter readings at a known current: their difference over the current is the loop resistance."""

    source_v: fields.Volts
    sink_v: fields.VoltsOrZero
    at_a: fields.Amps

    @model_validator(mode="after")
    def _falls(self) -> Readings:
        if self.sink_v > self.source_v:
            raise InputError("the sink's reading is above the source's", expected="source above sink", key=("sink",))
        return self

    def loop_ohm(self) -> float:
        """(V at the source - V at the sink) / I [ohm].

        >>> Readings(source="5.12V", sink="4.80V", at="2A").loop_ohm()
        0.16
        """
        return round((self.source_v - self.sink_v) / self.at_a, 12)


KINDS = ("C-C", "A-C", "EPR", "captive", "active", "passive", "unmarked")
Kind = Literal["c-c", "a-c", "epr", "captive", "active", "passive", "unmarked"]
KIND_SPELLINGS = {
    "c_to_c": "c-c",
    "usb_c": "c-c",
    "usb_c_to_usb_c": "c-c",
    "c": "c-c",
    "a_to_c": "a-c",
    "usb_a_to_usb_c": "a-c",
    "usb_a": "a-c",
    "legacy": "a-c",
    "fixed": "captive",
}


_KIND = fields.one_of("a kind of cable", *(kind.lower() for kind in KINDS), **KIND_SPELLINGS)


WRITTEN_KIND = {kind.lower(): kind for kind in KINDS}
"""A kind as a file has it."""
AnyRating = Annotated[
    Rating, fields.Reader(read_rating, fields.NUMBER_OR_TEXT, lambda rating: rating.text.replace(" ", ""))
]
LOOP_WAYS = ("loop", "readings", "awg")
"""Keys of which one says what the loop resistance is; contacts go with a gauge alone."""


class Statement(fields.Part, init=False):
    """A cable as it is described; nothing here is checked against anything yet."""

    rules_out: ClassVar[dict[str, tuple[str, ...]]] = {
        way: (*(each for each in LOOP_WAYS if each != way), *(() if way == "awg" else ("contacts",)))
        for way in LOOP_WAYS
    }

    kind: Annotated[Kind, fields.Reader(_KIND.read, _KIND.schema, WRITTEN_KIND.get)] | None = None
    rating: AnyRating | None = None
    voltage: fields.Volts | None = None
    marker: bool | None = None
    epr: bool | None = None
    loop: fields.OhmTriple | None = None
    readings: Readings | None = None
    length: fields.Metres | None = None
    awg: fields.Gauge | None = None
    contacts: fields.OhmsOrZero = 0.0
    inductance: fields.Henrys | None = None
    words: Annotated[tuple[int, ...], fields.Reader(words_in, {"type": "string"}, hex_words)] | None = None
    revision: Annotated[str, revision_of("a cable's marker")] | None = None

    def measured_loop(self) -> Triple | None:
        """The loop resistance [ohm] as stated, measured, or worked out from the gauge; None where it is not known."""
        ways = [name for name in LOOP_WAYS if getattr(self, name) is not None]
        if len(ways) > 1:
            raise InputError(
                f"{' and '.join(ways)} both give the loop resistance", expected="one of them", key=(ways[1],)
            )
        if self.readings is not None:
            return Triple.exact(self.readings.loop_ohm())
        if self.awg is not None:
            if self.length is None:
                raise InputError(
                    "awg without a length gives no loop resistance", expected="length as well", key=("awg",)
                )
            wire = Wire(awg=self.awg, length_m=self.length, contacts_ohm=self.contacts)
            return Triple.exact(wire.resistance_ohm())
        return self.loop


FACE_KEYS = tuple(Statement.model_fields)


def fields_of(said: Statement) -> dict[str, Any]:
    """The fields of a Cable that a statement stands for, with what is contradictory and what was assumed."""
    known: dict[str, Any] = {
        "loop": said.measured_loop(),
        "length_m": said.length,
        "awg": said.awg,
        "inductance_h": said.inductance,
    }
    problems: list[str] = []
    assumed: list[str] = []
    if said.words is not None:
        known |= _from_words(said, problems, assumed)
    else:
        known |= {"a-c": _legacy, "captive": _captive}.get(said.kind or "c-c", _c_to_c)(said, problems, assumed)
        if said.awg is not None and not said.contacts:
            assumed.append("loop resistance from the gauge alone: the contacts are not counted")
    return known | {"problems": tuple(problems), "assumed": tuple(assumed)}


def _legacy(said: Statement, problems: list[str], assumed: list[str]) -> dict[str, Any]:
    if said.epr or (said.voltage or 0.0) > facts.LEGACY_VOLTAGE.value or (said.rating and said.rating.epr):
        problems.append("an A-to-C cable brings 5 V whatever is said of it: it has no wire for PD")
    if said.marker:
        problems.append("an A-to-C cable cannot have an e-marker that a source reads")
    if said.rating is None:
        assumed.append(f"no rating: taken as {facts.UNMARKED_CURRENT.value:g} A")
    current = min(said.rating.current_a, facts.UNMARKED_CURRENT.value) if said.rating else facts.UNMARKED_CURRENT.value
    if said.rating and said.rating.current_a > current:
        problems.append(f"{said.rating.text} stated without an e-marker: carries {current:g} A")
    return {"construction": "legacy", "pd": False, "current_a": current, "voltage_v": facts.LEGACY_VOLTAGE.value}


def _captive(said: Statement, problems: list[str], assumed: list[str]) -> dict[str, Any]:
    epr = bool(said.epr or (said.rating and said.rating.epr))
    current = _whole_rating(said, problems)
    if not said.rating:
        assumed.append(f"fixed cable without a rating: taken as {facts.UNMARKED_CURRENT.value:g} A")
    return {
        "construction": "captive",
        "current_a": current,
        "voltage_v": _voltage(said, epr, problems),
        "epr": epr,
    }


def _c_to_c(said: Statement, problems: list[str], assumed: list[str]) -> dict[str, Any]:
    kind = said.kind or "c-c"
    epr = bool(kind == "epr" or said.epr or (said.rating and said.rating.epr))
    current = _whole_rating(said, problems)
    if kind == "unmarked" and said.marker:
        raise InputError("unmarked, and marker = true", expected="one of them", key=("marker",))
    unmarked = said.marker is False or kind == "unmarked"
    if epr and said.rating is None:
        current = facts.MARKED_CURRENT.value
    # Nobody rates a C-to-C cable above 3 A but by its marker; so a rating of 5 A says that there is one.
    marked = not unmarked and (
        epr or current > facts.UNMARKED_CURRENT.value or kind in ("active", "passive") or bool(said.marker)
    )
    if unmarked and (epr or current > facts.UNMARKED_CURRENT.value):
        claim = "EPR" if epr else said.rating.text if said.rating else ""
        problems.append(f"{claim} stated without an e-marker: carries {facts.UNMARKED_CURRENT.value:g} A")
        current, epr = facts.UNMARKED_CURRENT.value, False
    elif epr and current < facts.MARKED_CURRENT.value:
        problems.append(f"EPR stated with {current:g} A: an EPR cable carries 5 A, so this is none")
        epr = False
    if said.rating is None and not epr and not said.epr:
        what = "marker without a rating" if marked else "no e-marker data"
        assumed.append(f"{what}: taken as {facts.UNMARKED_CURRENT.value:g} A")
    return {
        "construction": ("active" if kind == "active" else "passive") if marked else "unmarked",
        "emarker": marked,
        "current_a": current,
        "voltage_v": _voltage(said, epr, problems),
        "epr": epr,
    }


def _whole_rating(said: Statement, problems: list[str]) -> float:
    """The current that a rating stands for: markers know 3 A and 5 A, and nothing between or above."""
    current = said.rating.current_a if said.rating else facts.UNMARKED_CURRENT.value
    text = said.rating.text if said.rating else ""
    if current > facts.MARKED_CURRENT.value:
        problems.append(f"{text} stated: no contract exceeds {facts.MARKED_CURRENT.value:g} A")
        return facts.MARKED_CURRENT.value
    if facts.UNMARKED_CURRENT.value < current < facts.MARKED_CURRENT.value:
        taken = facts.UNMARKED_CURRENT.value
        known = f"{taken:g} A or {facts.MARKED_CURRENT.value:g} A"
        problems.append(f"{text} stated: a marker says {known}, so it is taken as {taken:g} A")
        return taken
    return current


def _voltage(said: Statement, epr: bool, problems: list[str]) -> float:
    most = facts.EPR_MARKER_VOLTAGE.value if epr else facts.UNMARKED_VOLTAGE.value
    if said.voltage is not None and said.voltage > most:
        what = "stated: an EPR cable is good" if epr else "stated without EPR: good"
        problems.append(f"{said.voltage:g} V {what} for {most:g} V")
        return most
    return most if epr or said.voltage is None else said.voltage


def _from_words(said: Statement, problems: list[str], assumed: list[str]) -> dict[str, Any]:
    from pdcheck.bits.cable import read_cable_words

    words = said.words or ()
    reading = read_cable_words(words, said.revision)
    current = reading.current_ma / 1000
    problems += map(str, reading.problems)
    if reading.emarker and reading.decided_by.startswith("assumed"):
        assumed.append(f"marker read as Revision {reading.revision}: {reading.decided_by}")
    if said.rating is not None and said.rating.current_a != current:
        problems.append(f"{said.rating.text} stated, but the e-marker says {current:g} A: the e-marker counts")
    return {
        "construction": reading.construction,
        "emarker": reading.emarker,
        "pd": True,
        "current_a": current,
        "voltage_v": reading.voltage_mv / 1000,
        "epr": reading.epr,
        "words": words,
    }


def looks_like_words(text: Any) -> bool:
    """Whether a text is hex of an e-marker rather than a description.

    >>> looks_like_words("0xFF00A041 0x18000000"), looks_like_words("C-C 5A 1m"), looks_like_words("EPR")
    (True, False, False)
    """
    if not isinstance(text, str):
        return isinstance(text, tuple | list)
    # The beginning tells; the rest of a long text is looked at when it is read.
    body = re.sub(r"(?i)^\s*+\[?[\d.]*+\s*+(?:(?:s(?!op)|ms|us)\s*+)?\]?\s*+SOP['\w]*[:\s]", " ", text[:8192])
    body = re.sub(r"(?i)\bVDO\s*\[?\d\]?\s*[:=]", " ", body)
    digits = re.sub(r"(?i)0x|\\x|[\s,;:{}\[\]'\"_-]", "", body)
    return len(digits) >= 8 and re.fullmatch(r"[0-9A-Fa-f]+", digits) is not None
