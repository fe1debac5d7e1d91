"""Drop sums that stand alone: the loop resistance from two readings, and what it costs at a current."""

from __future__ import annotations

from pdcheck.errors import InputError
from pdcheck.named import NamedTuple


class Drop(NamedTuple):
    """What a loop resistance costs at a current: voltage [V] and power [W]."""

    drop_v: float
    loss_w: float


def drop(resistance_ohm: float, current_a: float) -> Drop:
    """Voltage drop and loss of a loop resistance [ohm] at a current [A]. Source: Ohm's law.

    >>> drop(0.25, 3.0)
    Drop(drop_v=0.75, loss_w=2.25)
    """
    return Drop(resistance_ohm * current_a, resistance_ohm * current_a * current_a)


def loop_resistance_from_readings(source_v: float, sink_v: float, current_a: float) -> float:
    """Loop resistance [ohm] from the voltage at the source, the voltage at the sink [V] and the current [A].

    Both readings are taken with the current flowing, at the two ends of the same loop. Source: Ohm's law.

    Raises:
        InputError: no current, or a sink that reads above the source.

    >>> round(loop_resistance_from_readings(20.0, 19.4, 3.0), 9)
    0.2
    """
    if current_a <= 0.0:
        raise InputError(f"a current of {current_a} A", expected="more than 0 A, flowing while both voltages are read")
    if sink_v > source_v:
        raise InputError(
            f"{sink_v} V at the sink is above {source_v} V at the source",
            expected="both meters read at the same current, the first at the source",
        )
    return (source_v - sink_v) / current_a
