"""Cable: what it may carry and what it costs, from marker words, a description or readings; what was assumed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal

from pydantic import ValidationError, model_validator

from pdcheck.errors import InputError
from pdcheck.facts.cable import (
    EPR_MARKER_VOLTAGE,
    MARKED_CURRENT,
    PD_CABLES,
    UNMARKED_CURRENT,
    UNMARKED_VOLTAGE,
    is_epr_cable,
    loop_limit_ohm,
)
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.trade import UNMEASURED_CABLE_SHARE
from pdcheck.parts.cable_description import statement_of
from pdcheck.parts.cable_face import FACE_KEYS, Statement, fields_of, words_in
from pdcheck.parts.fields import (
    AmpsOrZero,
    Gauge,
    Metres,
    Name,
    OhmTriple,
    Part,
    Reader,
    Title,
    Volts,
    nearest,
    one_of,
)
from pdcheck.parts.limits import PartLimit, limit_rule
from pdcheck.parts.mistakes import as_input_error, mistake, raised_again, relayed
from pdcheck.quantities import Triple, quoted

Construction = Literal["passive", "active", "unmarked", "legacy", "captive"]

CURRENT = limit_rule(
    "cable-current",
    "fail",
    "Too much current for the cable",
    PD_CABLES,
    f"Use a cable with a {MARKED_CURRENT.value:g} A e-marker, set a higher voltage, or take less power. A hot plug is "
    "a stop sign.",
    "carries {value} in the worst case and is rated for {limit}",
    about="cable",
)
CONNECTOR_CURRENT = limit_rule(
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


class Cable(Part):
    """A cable as the bench sees it.

    Python gives the fields; a file gives ``kind``, ``rating``, ``marker`` and so on (docs/files.md), which are turned
    into them. ``problems`` holds what contradicts itself, ``assumed`` what nobody said and was taken.

    >>> cable = Cable(id="desk", kind="C-C", rating="5A", loop="120mOhm")
    >>> cable.construction, cable.current_a, cable.loop_ohm()
    ('passive', 5.0, (Triple(min=0.12, typ=0.12, max=0.12), False))
    >>> Cable(id="drawer", kind="C-C").assumed
    ('no e-marker data: taken as 3 A',)
    """

    face_keys: ClassVar[tuple[str, ...]] = ("id", "title", *FACE_KEYS)

    id: Name
    title: Title = ""
    construction: Annotated[Construction, one_of("a construction", *Construction.__args__)]
    emarker: bool = False
    pd: bool = True
    current_a: AmpsOrZero = UNMARKED_CURRENT.value
    voltage_v: Volts = UNMARKED_VOLTAGE.value
    epr: bool = False
    loop: OhmTriple | None = None
    length_m: Metres | None = None
    awg: Gauge | None = None
    words: Annotated[tuple[int, ...], Reader(words_in, {"type": "string"})] | None = None
    problems: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _from_statement(cls, data: Any) -> Any:
        if not isinstance(data, dict) or "construction" in data:
            return data
        for key in data:
            if key not in FACE_KEYS and key not in ("id", "title"):
                raise mistake(f"unknown key {quoted(key)}", expected=nearest(str(key), cls.face_keys), key=(key,))
        try:
            statement = Statement.model_validate({key: data[key] for key in FACE_KEYS if key in data})
            known = fields_of(statement)
        except ValidationError as error:
            raise raised_again(error) from None
        except InputError as error:
            raise relayed(error) from None
        return known | {key: value for key, value in data.items() if key not in FACE_KEYS}

    @property
    def is_epr(self) -> bool:
        """Whether a source takes it for EPR: 50 V, 5 A and the EPR bit, all three, or a captive one said to be EPR."""
        return is_epr_cable(self.voltage_v, self.current_a, self.epr)

    def limits(self) -> Iterator[PartLimit]:
        """What it carries.

        >>> [limit.limit for limit in Cable(id="x", construction="passive", current_a=3.0).limits()]
        [3.0]
        """
        yield PartLimit(CURRENT, "source", "current", "at_most", self.current_a, "cable", "cable")

    def loop_ohm(self) -> tuple[Triple, bool]:
        """Loop resistance [ohm], VBUS and GND together, and whether it is assumed.

        Without a measured figure: at most the standard's limit at the rated current (750 mV around the loop), half of
        it as typical, and nothing at least.

        >>> Cable(id="x", construction="passive", emarker=True, current_a=5.0).loop_ohm()
        (Triple(min=0.0, typ=0.075, max=0.15), True)
        """
        if self.loop is not None:
            return self.loop, False
        limit = loop_limit_ohm(self.current_a or UNMARKED_CURRENT.value)
        return Triple(0.0, UNMEASURED_CABLE_SHARE.value * limit, limit), True


def read_cable_description(text: str, id: str = "cable") -> Cable:
    """A cable from one line such as ``C-C 5A 1m``, ``A-C``, ``EPR``, ``C-C 3A loop=180mOhm``, ``captive 3A``.

    Raises InputError for a word that says nothing of a cable.

    >>> read_cable_description("C-C 3 A loop=180mOhm").loop
    Triple(min=0.18, typ=0.18, max=0.18)
    >>> read_cable_description("A-C").pd
    False
    """
    try:
        return Cable.model_validate({"id": id, **statement_of(text)})
    except ValidationError as error:
        raise as_input_error(error) from None


def captive_cable(id: str, current_a: float, epr: bool) -> Cable:
    """The cable that is fixed to a source, of which nothing is known: taken to carry what that source offers.

    >>> captive_cable("wall-cable", 5.0, False).assumed
    ('fixed cable without figures: taken to carry what its source offers, 5 A',)
    """
    return Cable(
        id=id,
        construction="captive",
        current_a=max(current_a, UNMARKED_CURRENT.value),
        voltage_v=EPR_MARKER_VOLTAGE.value if epr else UNMARKED_VOLTAGE.value,
        epr=epr,
        assumed=(
            "fixed cable without figures: taken to carry what its source offers, "
            f"{max(current_a, UNMARKED_CURRENT.value):g} A",
        ),
    )
