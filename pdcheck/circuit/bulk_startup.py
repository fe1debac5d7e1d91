"""Starting from 0 V, many cells at once: in which of them a converter would hold a current-limited source down.

The question and the formulas are those of ``startup.py``; only whether any branch latches is told, not where. Loads may
be scaled cell by cell, as in ``bulk_loads.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.bulk import Floats, drawn, operating_points
from pdcheck.circuit.bulk_loads import highest_buses, input_power_w, least_voltages, scaled_port
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.ports import Port, output_current
from pdcheck.circuit.solve import ON_THE_LIMIT, network_ports
from pdcheck.circuit.startup import NEARLY_NOTHING, POINTS, start_voltage
from pdcheck.circuit.table_port import TablePort

Bools = NDArray[np.bool_]
# Cells taken together, so that the points of all of them stay within a few megabytes.
_TOGETHER = 2000


class _Seen(NamedTuple):
    """Each branch as the bus sees it, what its converter delivers [A], and its input voltage in the end [V]."""

    ports: Sequence[Port]
    output_a: list[Floats | float | None]
    end_v: list[Floats]


def latching(
    branches: Sequence[Branch],
    open_v: Floats,
    series_ohm: Floats,
    limit_a: Floats,
    bus_a: float = 0.0,
    factor: Floats | None = None,
) -> Bools:
    """Whether some branch latches low in each cell, when the bus rises from 0 V on at most ``limit_a`` [A].

    Arrays of one length: open-circuit voltages [V], loop resistances [ohm], limits [A], factors on all loads (none: as
    stated; not for branches whose efficiency ``varies``).

    >>> from pdcheck.circuit.network import ConstantPower, Converter
    >>> box = Branch("box", ConstantPower(9.0), Converter("boost", 12.0, 0.9, start_v=3.0))
    >>> latching([box], np.array([5.0, 5.0]), np.zeros(2), np.array([3.0, 3.5])).tolist()
    [True, False]
    """
    found = np.zeros(open_v.shape, dtype=np.bool_)
    for start in range(0, len(open_v), _TOGETHER):
        part = slice(start, start + _TOGETHER)
        share = None if factor is None else factor[part]
        seen = _seen(branches, open_v[part], series_ohm[part], bus_a, share)
        if seen is not None:
            found[part] = _latching(branches, seen, open_v[part], series_ohm[part], limit_a[part], bus_a)
    return found


def _seen(
    branches: Sequence[Branch], open_v: Floats, series_ohm: Floats, bus_a: float, factor: Floats | None
) -> _Seen | None:
    if factor is None:
        ports = network_ports(Network(Source(0.0), tuple(branches)))
        if ports is None:
            return None
        point = operating_points(branches, open_v, series_ohm, bus_a=bus_a)
        outputs: list[Floats | float | None] = [
            None if branch.converter is None else output_current(branch.converter, branch) for branch in branches
        ]
        return _Seen(ports, outputs, [point.input_v[branch.name] for branch in branches])
    flat = [scaled_port(branch, factor)[0] for branch in branches]
    bus_v = highest_buses(flat, open_v, series_ohm, bus_a)
    end_v = [bus_v - branch.wire_ohm * port.current(bus_v)[0] for branch, port in zip(branches, flat, strict=True)]
    # One row for each cell: its points stand beside each other.
    rows = [scaled_port(branch, factor[:, None]) for branch in branches]
    return _Seen([port for port, _ in rows], [output_a for _, output_a in rows], end_v)


def _latching(
    branches: Sequence[Branch], seen: _Seen, open_v: Floats, series_ohm: Floats, limit_a: Floats, bus_a: float
) -> Bools:
    found = np.zeros(open_v.shape, dtype=np.bool_)
    for index, branch in enumerate(branches):
        converter, start_v, output_a = branch.converter, start_voltage(branch), seen.output_a[index]
        if converter is None or output_a is None or start_v is None:
            continue
        end_v = seen.end_v[index][:, None]
        # A collapsed cell has no point to start to: NaN, which compares false in all that follows.
        lowest = np.maximum(start_v, NEARLY_NOTHING * end_v)
        inputs = lowest + (end_v - lowest) * np.arange(POINTS) / POINTS
        wanted = input_power_w(converter, output_a, inputs) / inputs
        bus_v = inputs + branch.wire_ohm * wanted
        left = _available(branches, seen.ports, index, bus_v, open_v, series_ohm, limit_a, bus_a)
        found |= (start_v < end_v[:, 0]) & (wanted > left * (1.0 + ON_THE_LIMIT)).any(axis=1)
    return found


def _available(
    branches: Sequence[Branch],
    ports: Sequence[Port],
    index: int,
    bus_v: Floats,
    open_v: Floats,
    series_ohm: Floats,
    limit_a: Floats,
    bus_a: float,
) -> Floats:
    """What the source has left [A] for one branch at each bus voltage [V], a row for each cell."""
    above = open_v[:, None] - bus_v
    series = np.broadcast_to(series_ohm[:, None], bus_v.shape)
    through = np.divide(above, series, out=np.full(bus_v.shape, np.inf), where=series > 0.0)
    left = np.minimum(limit_a[:, None], through) - bus_a
    for other, branch in enumerate(branches):
        start_v = start_voltage(branch)
        if other != index and start_v is not None:
            port = ports[other]
            least_v = port.least_v if isinstance(port, TablePort) else least_voltages(port)
            at = np.maximum(bus_v, np.maximum(least_v, NEARLY_NOTHING))
            taken = drawn([port], at)[0] if isinstance(port, TablePort) else port.current(at)[0]
            left = left - np.where(start_v <= bus_v, taken, 0.0)
    return np.where(above > 0.0, np.maximum(left, 0.0), 0.0)
