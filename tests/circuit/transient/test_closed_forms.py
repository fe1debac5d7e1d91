"""Closed forms against the solver in time: ring, input filter, dampers, holding up."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pdcheck.circuit.transient.closed_forms import (
    Damper,
    filter_damper,
    hold_up_f,
    hold_up_s,
    least_damping_ohm,
    resistance_for_peak,
    ring_damper,
    ring_peak_v,
    settles,
    settles_with,
)
from pdcheck.circuit.transient.given import Branch, Circuit, Converter, Event, Load
from pdcheck.circuit.transient.port import CURRENT, LINEAR, POWER, drawn
from pdcheck.circuit.transient.run import run
from pdcheck.facts.motion import esr_of, pair_inductance_h_per_m
from tests.circuit.transient.benches import CABLE, TRIGGER, filtered, source, stiff

OHMS, HENRIES, FARADS = st.floats(0.02, 1.0), st.floats(0.2e-6, 3e-6), st.floats(1e-6, 47e-6)


@settings(max_examples=12, deadline=None)
@given(st.floats(5.0, 20.0), OHMS, HENRIES, FARADS)
def test_the_ring_that_is_solved_is_the_ring_by_formula(volts: float, ohm: float, henry: float, farad: float) -> None:
    branch = filtered(1.0, ohm, henry, farad, stop_v=200.0)._replace(joined=False)
    result = run(stiff(volts, branch), (Event(0.02, "join", "module"),), until_s=0.021)
    [row] = [row for row in result.extremes if row.node == "module/in"]
    assert row.peak_v == pytest.approx(ring_peak_v(volts, ohm, henry, farad), rel=0.01)


@given(st.floats(5.0, 48.0), HENRIES, FARADS, st.floats(1.01, 1.99))
def test_a_limiter_brings_the_peak_to_where_it_is_wanted(
    volts: float, henry: float, farad: float, times: float
) -> None:
    ohm = resistance_for_peak(volts, times * volts, henry, farad)
    assert ring_peak_v(volts, ohm, henry, farad) == pytest.approx(times * volts, rel=1e-9)


def test_the_ends_of_the_ring() -> None:
    assert ring_peak_v(20.0, 0.0, 1e-6, 4e-6) == 40.0
    assert resistance_for_peak(20.0, 40.0, 1e-6, 4e-6) == 0.0
    critical = resistance_for_peak(20.0, 20.0, 1e-6, 4e-6)
    assert ring_peak_v(20.0, critical, 1e-6, 4e-6) == 20.0


@settings(max_examples=5, deadline=None)
@given(HENRIES, st.floats(2e-6, 10e-6), st.floats(8.0, 20.0), st.floats(5.0, 30.0), st.sampled_from([0.93, 1.08]))
def test_a_filter_settles_as_the_formula_says(
    henry: float, farad: float, volts: float, watts: float, factor: float
) -> None:
    ohm = factor * least_damping_ohm(watts, volts, henry, farad)
    assume(0.02 < ohm < 0.3 * volts * volts / watts)
    result = run(
        stiff(volts + ohm * watts / volts, filtered(watts, ohm, henry, farad, stop_v=0.4 * volts)), until_s=0.03
    )
    assert settles(watts, volts, ohm + 1e-3, henry, farad) is (factor > 1.0)
    assert (result.fates[0].fate == "starts") is (factor > 1.0)


@given(st.floats(1.0, 60.0), st.floats(5.0, 20.0), st.floats(0.001, 0.5), HENRIES, FARADS)
def test_a_damper_that_is_named_does_damp(watts: float, volts: float, ohm: float, henry: float, farad: float) -> None:
    damper = filter_damper(watts, volts, ohm, henry, farad)
    if damper is None:
        return
    assert settles_with(damper, watts, volts, ohm, henry, farad)
    # Routh's criterion against the roots themselves.
    load, shunt = -watts / volts**2, 1.0 / damper.esr_ohm
    import numpy as np

    matrix = np.array(
        [
            [-ohm / henry, -1.0 / henry, 0.0],
            [1.0 / farad, -(load + shunt) / farad, shunt / farad],
            [0.0, shunt / damper.capacitance_f, -shunt / damper.capacitance_f],
        ]
    )
    assert np.linalg.eigvals(matrix).real.max() < 0.0


def test_the_damper_works_in_the_solver() -> None:
    """9 V, 25 W, 2 uH, 2 uF never settles; with what is advised on its bus side it does."""
    assert run(stiff(9.0, filtered(25.0, 0.1, 2e-6, 2e-6)), until_s=0.012).fates[0].fate == "repeats"
    damper = filter_damper(25.0, 8.7, 0.1, 2e-6, 2e-6)
    assert damper is not None
    lossy = filtered(25.0, 0.1, 2e-6, damper.capacitance_f)._replace(esr_ohm=0.4)
    assert run(stiff(9.0, lossy), until_s=0.02).fates[0].fate == "starts"


def test_esr_counts_as_damping() -> None:
    assert settles(25.0, 9.0, 0.2, 2e-6, 2e-6, 0.12) and not settles(25.0, 9.0, 0.2, 2e-6, 2e-6, 0.10)


def test_ring_damper_is_the_rule_of_thumb() -> None:
    assert ring_damper(1e-6, 4e-6) == Damper(16e-6, 0.5)


def test_inductance_of_a_pair() -> None:
    """The formula's worked values, and its limit of wires far apart: mu0 / pi x ln(2 D / d)."""
    assert pair_inductance_h_per_m(1.8e-3, 0.812e-3) == pytest.approx(0.67e-6, abs=0.005e-6)
    far = 4e-7 * math.log(2.0 * 1.0 / 1e-3) + 0.1e-6
    assert pair_inductance_h_per_m(1.0, 1e-3) == pytest.approx(far, rel=1e-6)
    assert esr_of(22e-6).name.startswith("ESR of a ceramic") and esr_of(23e-6).name.startswith("ESR of a wet")


@settings(max_examples=8, deadline=None)
@given(st.floats(20e-6, 400e-6), st.floats(5.0, 30.0), st.floats(8.5, 18.0))
def test_holding_up_on_the_input_capacitance(farad: float, watts: float, stop_v: float) -> None:
    """Unplugged at 20 V: from there the input and the bus capacitance carry the converter to its cut-off."""
    converter = Converter(5.0, 1.0, 0.0, 19.0, stop_v, 1e-3)
    branch = Branch("m", 0.01, 0.05e-6, farad, 0.001, converter, 0.0, Load("resistance", 25.0 / watts))
    result = run(Circuit(source(20.0, 10.0), CABLE, TRIGGER, (branch,)), (Event(0.4, "unplug"),), until_s=0.45)
    [stop] = [moment.time_s for moment in result.moments if moment.what == "converter stops"]
    before = 20.0 - 0.22 * watts / 20.0
    expected = hold_up_s(farad + TRIGGER.bulk_f, before, stop_v, watts)
    assert stop - 0.4 == pytest.approx(expected, rel=0.03, abs=3e-6)
    assert hold_up_f(expected, before, stop_v, watts) == pytest.approx(farad + TRIGGER.bulk_f)


@given(
    st.sampled_from([POWER, LINEAR, CURRENT]),
    st.floats(0.05, 30.0),
    st.floats(0.0, 8.0),
    st.floats(0.5, 30.0),
    st.floats(0.0, 0.5),
)
def test_what_is_drawn_obeys_kirchhoff(kind: int, size: float, threshold_v: float, open_v: float, ohm: float) -> None:
    threshold_v = threshold_v if kind == LINEAR else 0.0
    current, slope = drawn(kind, size, threshold_v, open_v, ohm)
    at_v = open_v - ohm * current
    assert at_v >= -1e-9 and current >= 0.0
    if kind == POWER and open_v * open_v > 4.1 * ohm * size:
        assert at_v * current == pytest.approx(size)
    if kind == LINEAR:
        assert current == pytest.approx(max(at_v - threshold_v, 0.0) * size, abs=1e-9)
    if kind == CURRENT and at_v > 0.11:
        assert current == size
    step = 1e-6
    if kind != POWER or open_v * open_v > 4.4 * ohm * size:
        near = drawn(kind, size, threshold_v, open_v + step, ohm)[0]
        assert (
            (near - current) / step == pytest.approx(slope, rel=1e-2, abs=1e-3 + abs(slope) * 0.01)
            or (kind == LINEAR and abs(open_v - threshold_v) < 1e-5)
            or (kind == CURRENT and abs(at_v - 0.1) < 1e-4)
        )
