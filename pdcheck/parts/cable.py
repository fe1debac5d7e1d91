"""Cable: what it may carry and what it costs, from marker words, a description or readings; its record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, ValidationInfo

from pdcheck.errors import InputError
from pdcheck.facts import cable as facts
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.trade import UNMEASURED_CABLE_SHARE
from pdcheck.marks import AMONG, UNTOLD, passed, told
from pdcheck.named import NamedTuple
from pdcheck.parts import fields
from pdcheck.parts.cable_description import statement_of
from pdcheck.parts.cable_face import FACE_KEYS, Statement, fields_of, looks_like_words, words_in
from pdcheck.parts.limits import InSeries, LimitRule, PartLimit
from pdcheck.parts.mistakes import nearest
from pdcheck.parts.offer_text import hex_words
from pdcheck.quantities import Triple, quoted

Construction = Literal["passive", "active", "unmarked", "legacy", "captive"]

CURRENT = LimitRule(
    "cable-current",
    "fail",
    "Too much current for the cable",
    facts.PD_CABLES,
    f"Use a cable with a {facts.MARKED_CURRENT.value:g} A e-marker, set a higher voltage, or take less power. A hot "
    "plug is a stop sign.",
    "carries {value} in the worst case and is rated for {limit}",
)
CONNECTOR_CURRENT = LimitRule(
    "connector-current",
    "fail",
    "Too much current for a USB-C connector",
    CONTRACT_MAX.origin,
    "Set a higher voltage or take less power: no USB-C contract and no connector goes beyond "
    f"{CONTRACT_MAX.value:g} A.",
    "carries {value} in the worst case; USB-C ends at {limit}",
    about="cable",
)


def connector_limit() -> PartLimit:
    """What every USB-C connector carries.

    >>> connector_limit().limit
    5.0
    """
    return PartLimit(CONNECTOR_CURRENT, "source", "current", "at_most", CONTRACT_MAX.value, "connector", "cable")


class Cable(fields.Part, init=False):
    """A cable as the bench sees it; as text ``"C-C 5A 1m"``, or the words of its e-marker.

    People say ``kind``, ``rating``, ``marker`` and so on (docs/files.md), which are turned into the fields and kept as
    ``said``. ``problems`` holds what contradicts itself, ``assumed`` what nobody said and was taken. Two cables are
    equal where their figures are, however they were told.

    >>> cable = Cable(id="desk", kind="C-C", rating="5A", loop="120mOhm")
    >>> cable.construction, cable.current_a, cable.loop_ohm()
    ('passive', 5.0, (Triple(min=0.12, typ=0.12, max=0.12), False))
    >>> Cable(id="drawer", kind="C-C").assumed
    ('no e-marker data: taken as 3 A',)
    """

    face_keys: ClassVar[tuple[str, ...]] = ("id", "title", *FACE_KEYS)
    unless_said: ClassVar[dict[str, str]] = {"id": "cable"}
    place: ClassVar[InSeries] = "cable"

    id: fields.Name
    title: fields.Title = ""
    construction: Annotated[Construction, fields.one_of("a construction", *Construction.__args__)]
    emarker: bool = False
    pd: bool = True
    current_a: fields.AmpsOrZero = facts.UNMARKED_CURRENT.value
    voltage_v: fields.Volts = facts.UNMARKED_VOLTAGE.value
    epr: bool = False
    loop: fields.OhmTriple | None = None
    length_m: fields.Metres | None = None
    awg: fields.Gauge | None = None
    inductance_h: fields.Henrys | None = None
    words: Annotated[tuple[int, ...], fields.Reader(words_in, {"type": "string"}, hex_words)] | None = None
    problems: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    said: Statement | None = Field(default=None, repr=False)

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        return cls.unless_said | ({"words": said} if looks_like_words(said) else statement_of(said))

    @classmethod
    def _stated(cls, data: dict[str, Any], info: ValidationInfo) -> dict[str, Any]:
        if "construction" in data:
            return data
        for key in data:
            if key not in cls.face_keys:
                raise InputError(f"unknown key {quoted(key)}", expected=nearest(str(key), cls.face_keys), key=(key,))
        statement = Statement.model_validate({key: data[key] for key in FACE_KEYS if key in data})
        named = {key: value for key, value in data.items() if key not in FACE_KEYS}
        return fields_of(statement) | named | {"said": statement}

    def _figures(self) -> dict[str, Any]:
        return {name: value for name, value in self if name != "said"}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Cable) and self._figures() == other._figures()

    def __hash__(self) -> int:
        return hash(tuple(self._figures().values()))

    def to_dict(self) -> dict[str, Any]:
        """The cable as the table of a kit file: as it was said where that still holds, else by its figures."""
        table = super().to_dict()
        said: dict[str, Any] = table.pop("said", {})
        if self.said is None or fields_of(self.said).items() - self._figures().items():
            return table
        return {key: table[key] for key in ("id", "title") if key in table} | said

    def replace(self, changes: Mapping[str, Any] | None = None, /, **fields: Any) -> Self:
        """A new cable with some things changed, in the words that it was told in.

        >>> Cable("C-C 3A 1m", id="desk").replace(rating="5A", loop="120mOhm")
        Cable(id='desk', kind='C-C', rating='5A', loop='120mOhm', length='1m')
        """
        told = {**(changes or {}), **fields}
        for head in (path.partition(".")[0] for path in told):
            if head not in self.face_keys and head not in type(self).model_fields:
                raise InputError(f"unknown key {quoted(head)}", expected=nearest(head, self.face_keys))
        if self.said is None or told.keys() <= {"id", "title"}:
            return super().replace(told)
        if all(key.partition(".")[0] in self.face_keys for key in told):
            said = self.said.replace({key: value for key, value in told.items() if key not in ("id", "title")})
            kept = {key: getattr(said, key) for key in said.model_fields_set}
            named = {key: told.get(key, getattr(self, key)) for key in ("id", "title")}
            return type(self).model_validate(kept | named)
        return super().replace({**told, "said": None})

    @property
    def is_epr(self) -> bool:
        """Whether a source takes it for EPR: 50 V, 5 A and the EPR bit, all three, or a captive one said to be EPR."""
        return facts.is_epr_cable(self.voltage_v, self.current_a, self.epr)

    def limits(self) -> Iterator[PartLimit]:
        """What it carries.

        >>> [limit.limit for limit in Cable(id="x", construction="passive", current_a=3.0).limits()]
        [3.0]
        """
        yield PartLimit(CURRENT, "source", "current", "at_most", self.current_a, "cable", "cable")

    @property
    def resistance(self) -> Triple:
        """Its loop resistance, measured or assumed [ohm]."""
        return self.loop_ohm()[0]

    def drawn_as(self) -> str:
        """What stands on it in a picture."""
        return self.id

    def loop_ohm(self) -> tuple[Triple, bool]:
        """Loop resistance [ohm], VBUS and GND together, and whether it is assumed.

        Without a measured figure: at most the standard's limit at the rated current (750 mV around the loop), half of
        it as typical, and nothing at least.

        >>> Cable(id="x", construction="passive", emarker=True, current_a=5.0).loop_ohm()
        (Triple(min=0.0, typ=0.075, max=0.15), True)
        """
        if self.loop is not None:
            return self.loop, False
        limit = facts.loop_limit_ohm(self.current_a or facts.UNMARKED_CURRENT.value)
        return Triple(0.0, UNMEASURED_CABLE_SHARE.value * limit, limit), True


def captive_cable(id: str, current_a: float, epr: bool) -> Cable:
    """The cable that is fixed to a source, of which nothing is known: taken to carry what that source offers.

    >>> captive_cable("wall-cable", 5.0, False).assumed
    ('fixed cable without figures: taken to carry what its source offers, 5 A',)
    """
    return Cable(
        id=id,
        construction="captive",
        current_a=max(current_a, facts.UNMARKED_CURRENT.value),
        voltage_v=facts.EPR_MARKER_VOLTAGE.value if epr else facts.UNMARKED_VOLTAGE.value,
        epr=epr,
        assumed=(
            "fixed cable without figures: taken to carry what its source offers, "
            f"{max(current_a, facts.UNMARKED_CURRENT.value):g} A",
        ),
    )


@dataclass(frozen=True)
class CableFigures:
    """What every document says of a cable, in the units of the wire."""

    cable: Annotated[Cable, UNTOLD]

    construction = passed[Construction]("cable.construction", "How it is made.")
    emarker = passed[bool]("cable.emarker", "Whether it says of itself what it carries.")
    pd = passed[bool]("cable.pd", "Whether PD gets through.")

    @told
    def current_ma(self) -> int:
        """The most that it carries."""
        return round(self.cable.current_a * 1000)

    @told
    def voltage_mv(self) -> int:
        """The most that may stand on it."""
        return round(self.cable.voltage_v * 1000)

    epr = passed[bool]("cable.is_epr", "Whether a source takes it for EPR.")
    loop_ohm = passed[Triple | None]("cable.loop", "Its loop resistance, where it was measured.")


class CableRecord(NamedTuple):
    """A cable as a kit holds it."""

    id: str
    title: str
    figures: Annotated[CableFigures, AMONG]
    length_m: float | None
    problems: tuple[str, ...]
    assumed: tuple[str, ...]

    @classmethod
    def of(cls, cable: Cable) -> CableRecord:
        """The record of a cable."""
        return cls(cable.id, cable.title, CableFigures(cable), cable.length_m, cable.problems, cable.assumed)
