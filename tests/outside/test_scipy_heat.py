"""One wire that warms itself, against the fixed points that SciPy finds."""

from math import isnan, pi

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq, fixed_point

from pdcheck.circuit.network import Branch, Copper, Heat, Network, Source
from pdcheck.circuit.warm import settled, wire_temperature
from pdcheck.facts.copper import ampacity_a
from pdcheck.parts.loads import Load
from pdcheck.parts.wire import Wire

# IEC 60028 for copper; still air takes 10 W per m2 and K from a thin wire [common practice].
RHO, ALPHA, H = 1 / 58e6, 0.00393, 10.0


def per_metre(wire):
    d = wire.diameter_m
    return RHO / (pi / 4 * d * d), d


@given(st.integers(16, 30), st.floats(0.0, 4.0), st.floats(-20, 60))
def test_a_wire_of_known_current_is_at_the_fixed_point(gauge, amps, air_c):
    wire = Wire(awg=gauge, length_m=1.0)
    ohm, d = per_metre(wire)
    rise = ohm * amps * amps / (H * pi * d)
    assume(ALPHA * rise < 0.8)
    found = fixed_point(lambda t: air_c + rise * (1 + ALPHA * (t - 20)), air_c, xtol=1e-12, maxiter=5000)
    # The copper has melted long before the end of the scale.
    assume(found < 990.0)
    assert wire_temperature(air_c, amps, wire.rise_k_a2) == pytest.approx(float(found), abs=1e-6)


@given(st.integers(18, 26), st.floats(0.1, 3.0), st.floats(1.0, 30.0), st.floats(5.0, 20.0), st.floats(-20, 60))
def test_current_resistance_and_temperature_of_a_power_behind_a_wire(gauge, length, power, volts, air_c):
    wire = Wire(awg=gauge, length_m=length)
    ohm, d = per_metre(wire)

    def amps(t):
        inside = volts * volts - 4 * 2 * length * ohm * (1 + ALPHA * (t - 20)) * power
        return float("nan") if inside < 0 else 2 * power / (volts + inside**0.5)

    def misses(t):
        return air_c + amps(t) ** 2 * ohm * (1 + ALPHA * (t - 20)) / (H * pi * d) - t

    # The lowest crossing, from the air upwards, where there is one well before the collapse.
    steps = [air_c + 0.5 * at for at in range(400)]
    over = next((t for t in steps if misses(t) < 0), None)
    assume(over is not None and misses(over - 0.5) >= 0 and misses(over + 5) < 0)
    expected = brentq(misses, over - 0.5, over, xtol=1e-12)
    copper = Copper(2 * length * ohm, 0.0, wire.rise_k_a2)
    lamp = Branch("lamp", Load(power=power), wire=copper)
    warm, solution = settled(Network(Source(volts), (lamp,), heat=Heat(air_c)))
    assert not isnan(solution.bus_v)
    assert warm.branches[0].wire_c == pytest.approx(expected, abs=1e-4)
    assert solution.current_a == pytest.approx(amps(expected), rel=1e-6)
    assert warm.branches[0].wire_ohm == pytest.approx(2 * length * ohm * (1 + ALPHA * (expected - 20)), rel=1e-6)


@given(st.integers(10, 36), st.floats(1.0, 80.0))
def test_the_current_that_warms_a_wire_so_far_does(gauge, rise_k):
    """At 20 degrees C around it, the ampacity of a rise gives back that rise."""
    wire = Wire(awg=gauge, length_m=1.0)
    amps = ampacity_a(per_metre(wire)[0], wire.diameter_m, rise_k)
    assert wire_temperature(20.0, amps, wire.rise_k_a2) == pytest.approx(20.0 + rise_k, abs=1e-6)
