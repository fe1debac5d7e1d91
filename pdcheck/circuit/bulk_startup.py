"""Starting from 0 V, many cells at once: in which of them a converter would hold a current-limited source down.

The question and the formulas are those of ``startup.py``; only whether any branch latches is told, not where.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pdcheck.circuit.bulk import Floats, drawn, operating_points
from pdcheck.circuit.network import Branch, Converter, EfficiencyTable, Network, Source
from pdcheck.circuit.ports import Port, output_current
from pdcheck.circuit.solve import ON_THE_LIMIT, network_ports
from pdcheck.circuit.startup import NEARLY_NOTHING, POINTS, start_voltage

Bools = NDArray[np.bool_]
# Cells taken together, so that the points of all of them stay within a few megabytes.
_TOGETHER = 2000


def latching(branches: Sequence[Branch], open_v: Floats, series_ohm: Floats, limit_a: Floats, bus_a: float) -> Bools:
    """Whether some branch latches low in each cell, when the bus rises from 0 V on at most ``limit_a`` [A].

    Arrays of one length: open-circuit voltages [V], loop resistances [ohm], limits [A].

    >>> from pdcheck.circuit.network import ConstantPower
    >>> box = Branch("box", ConstantPower(9.0), Converter("boost", 12.0, 0.9, start_v=3.0))
    >>> latching([box], np.array([5.0, 5.0]), np.zeros(2), np.array([3.0, 3.5]), 0.0).tolist()
    [True, False]
    """
    found = np.zeros(open_v.shape, dtype=np.bool_)
    for start in range(0, len(open_v), _TOGETHER):
        part = slice(start, start + _TOGETHER)
        found[part] = _latching(branches, open_v[part], series_ohm[part], limit_a[part], bus_a)
    return found


def _latching(branches: Sequence[Branch], open_v: Floats, series_ohm: Floats, limit_a: Floats, bus_a: float) -> Bools:
    found = np.zeros(open_v.shape, dtype=np.bool_)
    ports = network_ports(Network(Source(0.0), tuple(branches), bus_a=bus_a))
    if ports is None:
        return found
    point = operating_points(branches, open_v, series_ohm, bus_a=bus_a)
    for index, branch in enumerate(branches):
        converter, start_v = branch.converter, start_voltage(branch)
        output_a = None if converter is None else output_current(converter, branch)
        if converter is None or output_a is None or start_v is None:
            continue
        end_v = point.input_v[branch.name]
        # A collapsed cell has no point to start to; NaN compares false.
        cells = np.flatnonzero(start_v < end_v)
        lowest = np.maximum(start_v, NEARLY_NOTHING * end_v[cells])[:, None]
        inputs = lowest + (end_v[cells][:, None] - lowest) * np.arange(POINTS) / POINTS
        wanted = _input_power(converter, inputs, output_a) / inputs
        bus_v = inputs + branch.wire_ohm * wanted
        left = _available(branches, ports, index, bus_v, open_v[cells], series_ohm[cells], limit_a[cells], bus_a)
        found[cells] |= (wanted > left * (1.0 + ON_THE_LIMIT)).any(axis=1)
    return found


def _input_power(converter: Converter, input_v: Floats, output_a: float) -> Floats:
    stated = converter.efficiency
    efficiency: Floats | float = (
        np.interp(input_v, stated.input_v, stated.over_input(output_a))
        if isinstance(stated, EfficiencyTable)
        else stated
    )
    return np.zeros(input_v.shape) + converter.output_v * output_a / efficiency + converter.idle_w


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
            at = np.maximum(bus_v, max(ports[other].least_v, NEARLY_NOTHING))
            left = left - np.where(start_v <= bus_v, drawn(ports[other : other + 1], at)[0], 0.0)
    return np.where(above > 0.0, np.maximum(left, 0.0), 0.0)
