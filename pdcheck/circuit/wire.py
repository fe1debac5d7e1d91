"""Wire sums that stand alone: what a wire costs at a current, and the thinnest one that keeps within a drop."""

from __future__ import annotations

from typing import Annotated, Literal

from pdcheck.circuit.drop import drop
from pdcheck.facts.copper import (
    ANNEALED,
    FLEXIBLE,
    FLEXIBLE_OHM_PER_KM,
    GAUGE,
    LARGEST_AWG,
    REFERENCE_TEMPERATURE,
    RESISTIVITY,
    SMALLEST_AWG,
    STILL_AIR,
    STRANDED_FACTOR,
    at_temperature,
)
from pdcheck.marks import AMONG, UNTOLD, Named, told
from pdcheck.named import NamedTuple
from pdcheck.parts.wire import Wire
from pdcheck.physics.number import ON_THE_LIMIT

DecidedBy = Literal["drop", "warmth"]


class WireCost(NamedTuple):
    """A wire at a current: its loop [ohm], drop [V], loss [W], and the current [A] up to which it stays cool."""

    wire: Annotated[Wire, UNTOLD]
    resistance_ohm: float
    drop_v: float
    loss_w: float
    ampacity_a: Annotated[float, Named("stays_cool_a")]

    @told
    def awg(self) -> int | None:
        """The gauge, where it has one."""
        return self.wire.awg

    @told
    def mm2(self) -> float | None:
        """The cross-section, where it is a metric one."""
        return self.wire.mm2

    @told
    def origin(self) -> str:
        """The formula of the resistance, with its source."""
        source = f"{GAUGE.text} and {ANNEALED}" if self.wire.awg is not None else str(FLEXIBLE)
        return f"R = 2 x length x R' + contacts; {source}"

    @told
    def stays_cool_origin(self) -> str:
        """Where the greatest current comes from."""
        return str(STILL_AIR)


class LeastWire(NamedTuple):
    """The thinnest wire that does: its cost, and whether the drop or its own warmth keeps out the next thinner."""

    cost: Annotated[WireCost, AMONG]
    decided_by: DecidedBy


def wire_cost(wire: Wire, current_a: float, temperature_c: float = REFERENCE_TEMPERATURE.value) -> WireCost:
    """What a wire costs at a current [A], its copper at a temperature [degrees C]; out and back, contacts included.

    Sources: Ohm's law; ASTM B258 with IEC 60028, or IEC 60228 class 5; warmth: heat balance in still air.

    >>> cost = wire_cost(Wire(awg=20, length_m=2.0), 3.0)
    >>> round(cost.resistance_ohm, 5), round(cost.drop_v, 4), round(cost.loss_w, 4)
    (0.13324, 0.3997, 1.1991)
    """
    loop = wire.resistance_ohm(temperature_c)
    lost = drop(loop, current_a)
    return WireCost(wire, loop, lost.drop_v, lost.loss_w, wire.ampacity_a())


def least_gauge(
    length_m: float,
    current_a: float,
    drop_v: float,
    *,
    contacts_ohm: float = 0.0,
    stranded: bool = False,
    temperature_c: float = REFERENCE_TEMPERATURE.value,
) -> LeastWire | None:
    """The thinnest gauge, AWG 0 to 40, that drops at most ``drop_v`` [V] at a current [A] and stays cool.

    ``length_m`` [m] is one way. ``None`` where not even AWG 0 does.

    >>> least = least_gauge(2.0, 3.0, 0.3)
    >>> least.cost.wire.awg, round(least.cost.drop_v, 4), least.decided_by
    (18, 0.2514, 'drop')
    """
    sizes = [
        Wire(awg=awg, length_m=length_m, contacts_ohm=contacts_ohm, stranded=stranded)
        for awg in range(LARGEST_AWG, SMALLEST_AWG - 1, -1)
    ]
    return _thinnest(sizes, current_a, drop_v, temperature_c)


def least_cross_section(
    length_m: float,
    current_a: float,
    drop_v: float,
    *,
    contacts_ohm: float = 0.0,
    temperature_c: float = REFERENCE_TEMPERATURE.value,
) -> LeastWire | None:
    """As ``least_gauge``, of the metric sizes 0.5 to 2.5 mm2; ``None`` where more than the largest is needed.

    >>> least_cross_section(2.0, 3.0, 0.3).cost.wire.mm2
    1.0
    """
    sizes = [Wire(mm2=mm2, length_m=length_m, contacts_ohm=contacts_ohm) for mm2 in sorted(FLEXIBLE_OHM_PER_KM)]
    return _thinnest(sizes, current_a, drop_v, temperature_c)


def _thinnest(sizes: list[Wire], current_a: float, drop_v: float, temperature_c: float) -> LeastWire | None:
    decided_by: DecidedBy = "drop"
    for wire in sizes:
        cost = wire_cost(wire, current_a, temperature_c)
        if cost.drop_v > drop_v * (1.0 + ON_THE_LIMIT):
            decided_by = "drop"
        elif current_a > cost.ampacity_a * (1.0 + ON_THE_LIMIT):
            decided_by = "warmth"
        else:
            return LeastWire(cost, decided_by)
    return None


def least_area_mm2(
    length_m: float,
    current_a: float,
    drop_v: float,
    *,
    contacts_ohm: float = 0.0,
    stranded: bool = False,
    temperature_c: float = REFERENCE_TEMPERATURE.value,
) -> float | None:
    """The copper [mm2] that drops just ``drop_v`` [V]: 2 rho l / (V / I - contacts); ``None`` where contacts drop all.

    Source: Ohm's law and IEC 60028.

    >>> round(least_area_mm2(2.0, 3.0, 0.3), 4)
    0.6897
    """
    copper_ohm = drop_v / current_a - contacts_ohm
    if copper_ohm <= 0.0:
        return None
    factor = at_temperature(temperature_c) * (STRANDED_FACTOR.value if stranded else 1.0)
    return 2 * RESISTIVITY.value * factor * length_m / copper_ohm * 1e6
