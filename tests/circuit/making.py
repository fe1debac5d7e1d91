"""Loads, converters and tables in plain figures, and one circuit solved: what most tests of the circuit begin with.

Figures are not held against what a file may say: a load of nothing, or an efficiency of one, is made here too.
"""

from __future__ import annotations

from math import isnan
from typing import Any, TypeVar

from pdcheck.circuit.network import Network
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.fields import Part
from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.loads.led import Led, LedLoad
from pdcheck.parts.loads.power import PowerLoad
from pdcheck.parts.loads.resistance import ResistanceLoad
from pdcheck.physics import bus
from pdcheck.physics.ports import Port

AnyPart = TypeVar("AnyPart", bound=Part)
EDGES = {
    "input_min_v": lambda span, value: (value or 0.0, span[1]),
    "input_max_v": lambda span, value: (span[0], float("inf") if value is None else value),
}


def of_power(power_w: float) -> PowerLoad:
    return PowerLoad.model_construct(power_w=power_w)


def of_current(current_a: float) -> CurrentLoad:
    return CurrentLoad.model_construct(current_a=current_a)


def of_resistance(resistance_ohm: float) -> ResistanceLoad:
    return ResistanceLoad.model_construct(resistance_ohm=resistance_ohm)


def led_string(leds: int, vf_v: float, resistor_ohm: float) -> LedLoad:
    led = Led.model_construct(count=leds, vf_v=vf_v, current_a=1.0, driver="resistor", resistor_ohm=resistor_ohm)
    return LedLoad.model_construct(led=led)


def led_driver(leds: int, vf_v: float, current_a: float, headroom_v: float = 0.0, efficiency: float = 1.0) -> LedLoad:
    led = Led.model_construct(count=leds, vf_v=vf_v, current_a=current_a, headroom_v=headroom_v, efficiency=efficiency)
    return LedLoad.model_construct(led=led)


def a_table(
    input_v: tuple[float, ...], output_a: tuple[float, ...], values: tuple[tuple[float, ...], ...]
) -> EfficiencyTable:
    return EfficiencyTable.model_construct(input_v=input_v, output_a=output_a, values=values)


def a_converter(
    kind: str,
    output_v: float,
    efficiency: float | EfficiencyTable,
    idle_w: float = 0.0,
    dropout_v: float = 0.0,
    **figures: Any,
) -> Converter:
    plain = Converter.model_construct(
        kind=kind,  # type: ignore[arg-type]
        output_v=output_v,
        efficiency=efficiency,
        idle_w=idle_w,
        dropout_v=dropout_v,
    )
    return changed(plain, **figures)


def changed(part: AnyPart, **figures: Any) -> AnyPart:
    """A part with other figures; the ends of a converter's input range one by one."""
    update: dict[str, Any] = {}
    for key, value in figures.items():
        if key in EDGES and value is not None:
            span = update.get("input_v") or getattr(part, "input_v", None) or (0.0, float("inf"))
            update["input_v"] = EDGES[key](span, value)
        elif key not in EDGES:
            update[key] = value
    return part.model_copy(update=update)


def solve_bus(
    ports: list[Any], open_v: float, series_ohm: float, limit_a: float | None = None
) -> bus.BusSolution | None:
    """One bus; None where it collapses."""
    found = bus.solve_bus(ports, open_v, series_ohm, limit_a)
    return None if isnan(found.bus_v) else found


def solve_network(network: Network, off: frozenset[str] = frozenset()) -> bus.BusSolution | None:
    """One network; None where it collapses."""
    found = network.solve(off)
    return None if isnan(found.bus_v) else found


def highest_root(ports: list[Port], given: float, per_volt: float, per_ampere: float, start_v: float) -> float | None:
    """The highest root of one bus, or None."""
    found = bus.highest_root(ports, given, per_volt, per_ampere, start_v)
    return None if isnan(found) else float(found)
