"""Efficiency tables: the pieces reproduce the highest solution, found here by looking everywhere."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.network import EfficiencyTable
from pdcheck.circuit.table_port import TablePort, table_pieces


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
    port = TablePort(table_pieces(table.input_v, values, output_w, idle_w, wire_ohm))
    x = np.linspace(bus_v, 1e-3, 20001)
    current = (output_w / np.interp(x, table.input_v, values) + idle_w) / x
    fits = x + wire_ohm * current <= bus_v * (1 + 1e-12)
    if not fits.any():
        # Nothing on the grid: at most a sliver at the very end may have been missed.
        assert bus_v < port.least_v * (1 + 1e-4)
        return
    highest = float(x[np.argmax(fits)])
    assert bus_v >= port.least_v * (1 - 1e-9)
    found = port.piece(bus_v).input_v(bus_v)
    assert found >= highest - 1e-9
    wanted = output_w / table.at(found, output_a) + idle_w
    assert math.isclose(port.current(bus_v)[0] * found, wanted, rel_tol=1e-6)


@settings(deadline=None)
@given(st.from_type(EfficiencyTable), st.floats(0.5, 80.0), st.floats(0.001, 2.0))
def test_pieces_join_from_the_top_down(table: EfficiencyTable, output_w: float, wire_ohm: float) -> None:
    pieces = table_pieces(table.input_v, table.over_input(1.0), output_w, 0.1, wire_ohm)
    assert pieces[0].high_v == math.inf
    for upper, lower in pairwise(pieces):
        assert lower.high_v == upper.low_v
        assert lower.low_v < lower.high_v
        assert lower.high_x <= upper.low_x
