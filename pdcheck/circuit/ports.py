"""Each branch as the bus sees it: one current as a function of the bus voltage, wire and converter included.

All kinds answer ``current(bus_v) -> (amperes, slope)`` from ``least_v`` upwards, and all but the tabled one are convex
there, which is what makes the search for the operating point exact (see ``solve.py``).
"""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.formulas import Number, least_voltage, linear_current, power_current
from pdcheck.circuit.network import (
    Branch,
    ConstantCurrent,
    ConstantPower,
    Converter,
    EfficiencyTable,
    LedDriver,
    LedString,
    Load,
    Resistance,
)
from pdcheck.circuit.table_port import TablePort, table_pieces
from pdcheck.errors import InputError


class PowerPort(NamedTuple):
    """A constant power [W] behind a resistance [ohm]."""

    resistance_ohm: float
    power_w: float

    @property
    def least_v(self) -> float:
        """The bus voltage [V] below which this power cannot be had."""
        return least_voltage(self.resistance_ohm, self.power_w)

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        return power_current(bus_v, self.resistance_ohm, self.power_w)


class CurrentPort(NamedTuple):
    """A constant current [A] behind a resistance [ohm]; its terminals must stay above 0 V."""

    resistance_ohm: float
    current_a: float

    @property
    def least_v(self) -> float:
        """The bus voltage [V] below which this current cannot be had."""
        return self.resistance_ohm * self.current_a

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        nothing = 0.0 * bus_v
        return nothing + self.current_a, nothing


class LinearPort(NamedTuple):
    """A resistance [ohm] that conducts above a threshold [V]."""

    resistance_ohm: float
    threshold_v: float

    @property
    def least_v(self) -> float:
        """A resistance is content with any voltage."""
        return 0.0

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        return linear_current(bus_v, self.resistance_ohm, self.threshold_v)


Port = PowerPort | CurrentPort | LinearPort | TablePort

NOTHING = CurrentPort(0.0, 0.0)

# How far past maximum power transfer [relative] still counts as on it: rounding decides nothing.
TANGENT = 1e-10


def load_port(load: Load, resistance_ohm: float) -> PowerPort | CurrentPort | LinearPort:
    """A load behind a loop resistance [ohm], as the voltage before that resistance sees it.

    Raises:
        InputError: a resistive load without any resistance.

    >>> load_port(ConstantPower(24.0), 0.5)
    PowerPort(resistance_ohm=0.5, power_w=24.0)
    """
    match load:
        case ConstantPower(power_w):
            return PowerPort(resistance_ohm, power_w)
        case LedDriver():
            return PowerPort(resistance_ohm, load.power_w)
        case ConstantCurrent(current_a):
            return CurrentPort(resistance_ohm, current_a)
        case Resistance(own_ohm):
            total, threshold = resistance_ohm + own_ohm, 0.0
        case LedString():
            total, threshold = resistance_ohm + load.resistor_ohm, load.string_v
    if total <= 0.0:
        raise InputError("a resistive load without any resistance", expected="more than 0 ohm")
    return LinearPort(total, threshold)


def output_current(converter: Converter, branch: Branch) -> float | None:
    """What a converter's output delivers [A] through the lead to the load; None where the lead has no solution."""
    port = load_port(branch.load, branch.lead_ohm)
    if converter.output_v < port.least_v * (1.0 - TANGENT):
        return None
    return port.current(converter.output_v)[0]


def branch_port(branch: Branch) -> Port | None:
    """The branch as the bus sees it; None where its output lead has no solution.

    >>> buck = Converter("buck", 12.0, 0.9, idle_w=0.3)
    >>> branch_port(Branch("mount", ConstantPower(27.0), buck, wire_ohm=0.1))
    PowerPort(resistance_ohm=0.1, power_w=30.3)
    """
    converter = branch.converter
    if converter is None:
        return load_port(branch.load, branch.wire_ohm + branch.lead_ohm)
    amperes = output_current(converter, branch)
    if amperes is None:
        return None
    return converter_port(converter, branch.wire_ohm, amperes)


def converter_port(converter: Converter, wire_ohm: float, output_a: float) -> PowerPort | TablePort:
    """A converter that delivers a current [A], behind its input wire [ohm], as the bus sees it."""
    output_w = converter.output_v * output_a
    efficiency = converter.efficiency
    if isinstance(efficiency, EfficiencyTable):
        over_input = efficiency.over_input(output_a)
        if output_w > 0.0 and any(value != over_input[0] for value in over_input):
            pieces = table_pieces(efficiency.input_v, over_input, output_w, converter.idle_w, wire_ohm)
            return TablePort(pieces)
        efficiency = over_input[0]
    return PowerPort(wire_ohm, output_w / efficiency + converter.idle_w)


def input_power(converter: Converter, input_v: float, output_a: float) -> float:
    """What a converter takes [W] at an input voltage [V] while it delivers an output current [A].

    >>> input_power(Converter("buck", 12.0, 0.96, idle_w=0.2), 15.0, 2.0)
    25.2
    """
    stated = converter.efficiency
    efficiency = stated.at(input_v, output_a) if isinstance(stated, EfficiencyTable) else stated
    return converter.output_v * output_a / efficiency + converter.idle_w
