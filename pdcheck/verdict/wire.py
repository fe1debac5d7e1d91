"""WireResult: what a wire costs at a current, or the thinnest ones that do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, NamedTuple

from pydantic import ValidationError

from pdcheck.circuit.wire import LeastWire, WireCost, least_area_mm2, least_cross_section, least_gauge, wire_cost
from pdcheck.errors import InputError
from pdcheck.parts.mistakes import as_input_error
from pdcheck.parts.wire import Wire
from pdcheck.quantities import format_quantity
from pdcheck.result import AMONG, UNTOLD, Result
from pdcheck.verdict.finding import over
from pdcheck.verdict.typed_values import quantity


class OneWire(NamedTuple):
    """The wire that was asked about."""

    wire: WireCost


class ThinnestWires(NamedTuple):
    """The thinnest gauge and cross-section that do, and the copper that drops just what it may."""

    least_awg: LeastWire | None
    least_mm2: LeastWire | None
    least_copper_mm2: float | None
    contacts_v: Annotated[float, UNTOLD] = 0.0


@dataclass(frozen=True, repr=False)
class WireResult(Result):
    """A wire at a current, or the thinnest ones that keep within a drop and stay cool."""

    SCHEMA: ClassVar[str] = "wire/1"
    TITLE: ClassVar[str] = "What a wire costs, or the thinnest that does"

    length_m: float
    current_a: float
    limit_v: float | None
    found: Annotated[OneWire | ThinnestWires, AMONG]

    @property
    def works(self) -> bool:
        """Whether the wire stays cool and drops no more than it may, or one was found that does."""
        if isinstance(self.found, ThinnestWires):
            return self.found.least_awg is not None or self.found.least_mm2 is not None
        cost = self.found.wire
        warm = over(self.current_a, cost.ampacity_a)
        return not warm and (self.limit_v is None or not over(cost.drop_v, self.limit_v))

    def answer(self) -> str:
        """The sizes, with what they drop."""
        if isinstance(self.found, ThinnestWires):
            costs = [each.cost for each in self.found[:2] if isinstance(each, LeastWire)]
        else:
            costs = [self.found.wire]
        return "; ".join(f"{size(each.wire)} drops {format_quantity(each.drop_v, 'V', 3)}" for each in costs) or "none"


def size(wire: Wire) -> str:
    """A wire's size.

    >>> size(Wire(awg=20, length_m=1)), size(Wire(mm2=0.75, length_m=1))
    ('AWG 20', '0.75 mm²')
    """
    return f"AWG {wire.awg}" if wire.awg is not None else f"{wire.mm2:g} mm²"


def wire(
    length: str | float,
    current: str | float,
    *,
    drop: str | float | None = None,
    awg: str | int | None = None,
    mm2: str | float | None = None,
    contacts: str | float = 0.0,
    temperature: str | float = 20.0,
    stranded: bool = False,
) -> WireResult:
    """What a wire of ``length`` [m], one way, costs at a ``current`` [A]; without a size the thinnest ones that do.

    ``drop`` [V] is the most that it may drop, ``contacts`` [ohm] those of the pair, ``temperature`` [degrees C] that of
    the copper. Raises ``InputError``.

    >>> wire("2m", "3A", drop="0.3V")
    <WireResult: AWG 18 drops 251 mV; 1 mm² drops 234 mV>
    >>> bool(wire("2m", "3A", drop="0.3V", awg=20))
    False
    """
    length_m, current_a = quantity(length, "m", "length"), quantity(current, "A", "current")
    limit_v = None if drop is None else quantity(drop, "V", "drop")
    contacts_ohm = quantity(contacts, "ohm", "contacts", zero=True)
    celsius = quantity(temperature, "C", "temperature")
    size = {key: value for key, value in (("awg", awg), ("mm2", mm2)) if value is not None}
    if size:
        figures = {"length_m": length_m, "contacts_ohm": contacts_ohm, "stranded": stranded and awg is not None}
        try:
            asked = Wire.model_validate(size | figures)
        except ValidationError as error:
            raise as_input_error(error) from None
        return WireResult(length_m, current_a, limit_v, OneWire(wire_cost(asked, current_a, celsius)))
    if limit_v is None:
        raise InputError("drop is needed to find a wire, or awg or mm2 to look at one")
    metric: dict[str, Any] = {"contacts_ohm": contacts_ohm, "temperature_c": celsius}
    gauged = metric | {"stranded": stranded}
    found = ThinnestWires(
        least_gauge(length_m, current_a, limit_v, **gauged),
        least_cross_section(length_m, current_a, limit_v, **metric),
        least_area_mm2(length_m, current_a, limit_v, **gauged),
        contacts_ohm * current_a,
    )
    return WireResult(length_m, current_a, limit_v, found)
