"""Adjustable supplies: the voltage to program so that the bus, after the drops, is at what is wanted."""

from __future__ import annotations

import math
from typing import Literal

from pdcheck.circuit.network import Network
from pdcheck.named import NamedTuple
from pdcheck.physics.bus import solve_bus
from pdcheck.physics.number import ON_THE_LIMIT

Refusal = Literal["collapse", "above-range", "below-range", "over-current"]


class ProgrammedVoltage(NamedTuple):
    """The voltage to program [V] (None if refused) and what it gives.

    ``bus_v`` and ``current_a`` are those at the programmed voltage, or, if refused, those that were wanted.
    ``needed_v`` is the source voltage before it is put on a step. ``refusal`` says why not, else None.
    """

    voltage_v: float | None
    bus_v: float
    current_a: float
    needed_v: float
    refusal: Refusal | None


def programmed_voltage(
    wanted_bus_v: float,
    network: Network,
    *,
    step_v: float,
    min_v: float,
    max_v: float,
    limit_a: float | None,
    rounding: Literal["up", "nearest"] = "up",
) -> ProgrammedVoltage:
    """The step of an adjustable supply that brings the bus to a wanted voltage.

    What the branches draw at the wanted bus voltage follows directly, and so does the source voltage: wanted + R x I.
    It is put on a step: ``up``, so that the bus is at least what is wanted, or ``nearest``. The source in ``network``
    is not looked at.

    Args:
        wanted_bus_v: voltage wanted at the bus [V].
        network: cable, trigger and branches.
        step_v: programming step [V], 0.02 for PPS, 0.1 for AVS.
        min_v: lowest voltage that can be programmed [V].
        max_v: highest [V].
        limit_a: greatest current at any of them [A]; None for none.
        rounding: see above.

    >>> from pdcheck.circuit.network import Branch, Source
    >>> from pdcheck.parts.loads import Load
    >>> rig = Network(Source(0.0), (Branch("lamp", Load("24W")),), series=(("cable", 0.2),))
    >>> found = programmed_voltage(12.0, rig, step_v=0.02, min_v=5.0, max_v=21.0, limit_a=3.0)
    >>> found.voltage_v, round(found.bus_v, 3), found.refusal
    (12.4, 12.0, None)
    >>> programmed_voltage(21.0, rig, step_v=0.02, min_v=5.0, max_v=21.0, limit_a=3.0).refusal
    'above-range'
    """
    ports = network.ports()
    # Not met where a power is NaN, which no lead can bring.
    if not all(wanted_bus_v >= port.least_v for port in ports):
        return ProgrammedVoltage(None, wanted_bus_v, 0.0, wanted_bus_v, "collapse")
    drawn = [port.current(wanted_bus_v) for port in ports]
    current = sum(amperes for amperes, _ in drawn)
    needed_v = wanted_bus_v + network.series_ohm * current
    if 1.0 + network.series_ohm * sum(slope for _, slope in drawn) <= 0.0:
        # The wanted voltage is the lower of the two that this source voltage allows: the bus would not sit there.
        return ProgrammedVoltage(None, wanted_bus_v, current, needed_v, "collapse")
    steps = round(needed_v / step_v) if rounding == "nearest" else math.ceil(needed_v / step_v - ON_THE_LIMIT)
    lowest, highest = math.ceil(min_v / step_v - ON_THE_LIMIT), math.floor(max_v / step_v + ON_THE_LIMIT)
    if steps > highest:
        return ProgrammedVoltage(None, wanted_bus_v, current, needed_v, "above-range")
    if steps < lowest:
        return ProgrammedVoltage(None, wanted_bus_v, current, needed_v, "below-range")
    # Steps are decimal fractions of a volt: rounding here only removes the float's own crumbs.
    voltage_v = round(steps * step_v, 6)
    solution = solve_bus(ports, voltage_v, network.series_ohm)
    if math.isnan(solution.bus_v):
        return ProgrammedVoltage(None, wanted_bus_v, current, needed_v, "collapse")
    if limit_a is not None and solution.current_a > limit_a * (1.0 + ON_THE_LIMIT):
        return ProgrammedVoltage(None, solution.bus_v, solution.current_a, needed_v, "over-current")
    return ProgrammedVoltage(voltage_v, solution.bus_v, solution.current_a, needed_v, None)
