"""Drop: a loop resistance from two readings, and what it costs."""

from __future__ import annotations

from collections.abc import Iterable

from pdcheck.asking.values import quantities, quantity
from pdcheck.circuit.drop import drop as drop_at
from pdcheck.circuit.drop import loop_resistance_from_readings
from pdcheck.quantities import Triple
from pdcheck.verdict.drop import CostAt, DropResult


def drop(
    source: str | float,
    sink: str | float,
    at: str | float,
    *,
    error: str | float = 0.0,
    also: str | Iterable[str | float] = "1A,2A,3A,5A",
) -> DropResult:
    """The loop resistance from the voltages read at ``source`` and ``sink`` [V] with the current ``at`` [A] flowing.

    ``error`` [V] is how far off each reading may be, ``also`` are the currents [A] to tell the cost at. Raises
    ``InputError``.

    >>> drop("5.12V", "4.80V", at="2A")
    <DropResult: 160 mΩ>
    """
    source_v, sink_v = quantity(source, "V", "source"), quantity(sink, "V", "sink", zero=True)
    at_a, error_v = quantity(at, "A", "at"), quantity(error, "V", "error", zero=True)
    typical = loop_resistance_from_readings(source_v, sink_v, at_a)
    off = 2 * error_v / at_a
    loop = Triple(max(typical - off, 0.0), typical, typical + off)
    costs = tuple(CostAt(amps, drop_at(typical, amps)) for amps in quantities(also, "A", "also"))
    return DropResult(source_v, sink_v, at_a, loop, costs)
