"""WireResult: what a wire costs at a current, or the thinnest ones that do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.circuit.wire import LeastWire, WireCost
from pdcheck.marks import AMONG, UNTOLD
from pdcheck.named import NamedTuple
from pdcheck.parts.wire import Wire
from pdcheck.quantities import format_quantity, over
from pdcheck.result import Result


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
    TITLE: ClassVar[str] = "What a wire drops, or the thinnest that is enough"

    length_m: float
    current_a: float
    limit_v: float | None
    found: Annotated[OneWire | ThinnestWires, AMONG]

    @property
    def wire(self) -> WireCost | None:
        """The wire that was asked about."""
        return self.found.wire if isinstance(self.found, OneWire) else None

    @property
    def least_awg(self) -> LeastWire | None:
        """The thinnest gauge that does."""
        return self.found.least_awg if isinstance(self.found, ThinnestWires) else None

    @property
    def least_mm2(self) -> LeastWire | None:
        """The thinnest cross-section that does."""
        return self.found.least_mm2 if isinstance(self.found, ThinnestWires) else None

    @property
    def least_copper_mm2(self) -> float | None:
        """The copper that drops just what it may [mm2]."""
        return self.found.least_copper_mm2 if isinstance(self.found, ThinnestWires) else None

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
