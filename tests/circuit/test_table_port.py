"""Efficiency tables: the pieces reproduce the highest solution, found here by looking everywhere."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.physics.table import table_port


@settings(deadline=None)
@given(
    st.from_type(EfficiencyTable),
    st.floats(0.1, 5.0),
    st.floats(0.5, 80.0),
    st.floats(0.0, 1.0),
    st.one_of(st.just(0.0), st.floats(0.001, 2.0)),
    st.floats(1.0, 60.0),
)
def test_the_highest_input_voltage_is_found(
    table: EfficiencyTable, output_a: float, output_w: float, idle_w: float, wire_ohm: float, bus_v: float
) -> None:
    values = table.over_input(output_a)
    port = table_port(table.input_v, values, output_w, idle_w, wire_ohm)
    x = np.linspace(bus_v, 1e-3, 20001)
    current = (output_w / np.interp(x, table.input_v, values) + idle_w) / x
    fits = x + wire_ohm * current <= bus_v * (1 + 1e-12)
    if not fits.any():
        # Nothing on the grid: at most a sliver at the very end may have been missed.
        assert bus_v < port.least_v * (1 + 1e-4)
        return
    highest = float(x[np.argmax(fits)])
    assert bus_v >= port.least_v * (1 - 1e-9)
    found = port.input_v(bus_v)
    assert found >= highest - 1e-9
    wanted = output_w / table.at(found, output_a) + idle_w
    assert math.isclose(port.current(bus_v)[0] * found, wanted, rel_tol=1e-6)


@settings(deadline=None)
@given(st.from_type(EfficiencyTable), st.floats(0.5, 80.0), st.floats(0.001, 2.0))
def test_pieces_join_from_the_top_down(table: EfficiencyTable, output_w: float, wire_ohm: float) -> None:
    port = table_port(table.input_v, table.over_input(1.0), output_w, 0.1, wire_ohm)
    assert len(port.low_v) == len(port.low_x) == len(table.input_v) + 1
    for above, below in pairwise(zip(port.low_v, port.low_x, port.lines, strict=True)):
        # A piece goes further down than the one above it, or is empty and repeats that.
        assert (below[0] < above[0] and below[1] < above[1] and below[2].high_x <= above[2].low_x) or below == above
