"""The circuit against closed forms that any circuits textbook prints, worked out here anew."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import BranchSpec, NetworkSpec
from pdcheck.circuit.envelope import envelope
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import Bound, OperatingPoint
from pdcheck.quantities import Triple
from tests.circuit.making import a_converter, led_string, of_current, of_power, of_resistance
from tests.circuit.operating import operating_point

volts = st.floats(4.0, 48.0)
ohms = st.floats(0.001, 2.0)


def solve(network: Network) -> OperatingPoint:
    point = operating_point(network)
    assert isinstance(point, OperatingPoint)
    return point


@settings(deadline=None)
@given(volts, ohms, st.floats(0.01, 0.9999))
def test_constant_power_quadratic(voltage: float, ohm: float, share: float) -> None:
    """P = V_L (V - V_L) / R: V_L = (V + sqrt(V^2 - 4 R P)) / 2."""
    power = share * voltage**2 / (4 * ohm)
    point = solve(Network(Source(voltage), (Branch("a", of_power(power)),), (("cable", ohm),)))
    expected = (voltage + math.sqrt(voltage**2 - 4 * ohm * power)) / 2
    assert math.isclose(point.nodes["a/load"].voltage_v, expected, rel_tol=1e-9)
    assert math.isclose(point.nodes["a/load"].current_a, power / expected, rel_tol=1e-9)


@settings(deadline=None)
@given(volts, ohms, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.9, 1.1))
def test_maximum_power_transfer(voltage: float, ohm: float, cut: float, again: float, share: float) -> None:
    """A source V behind R delivers at most V^2 / (4 R), wherever along the loop the resistance sits."""
    cable, rest = cut * ohm, (1 - cut) * ohm
    wire, lead = again * rest, (1 - again) * rest
    total = cable + wire + lead
    branch = Branch("a", of_power(share * voltage**2 / (4 * total)), None, wire, lead)
    outcome = operating_point(Network(Source(voltage), (branch,), (("cable", cable),)))
    if share < 1 - 1e-6:
        assert isinstance(outcome, OperatingPoint)
    if share > 1 + 1e-6:
        assert isinstance(outcome, Collapse)
        assert math.isclose(outcome.load_w, voltage**2 / (4 * total), rel_tol=1e-6)


@settings(deadline=None)
@given(volts, ohms, ohms, st.lists(st.floats(1.0, 100.0), min_size=1, max_size=4))
def test_divider(voltage: float, series: float, wire: float, loads: list[float]) -> None:
    """Resistive branches in parallel behind a resistance: a voltage divider."""
    branches = tuple(Branch(f"b{i}", of_resistance(load), None, wire) for i, load in enumerate(loads))
    parallel = 1 / sum(1 / (load + wire) for load in loads)
    point = solve(Network(Source(voltage), branches, (("cable", series),)))
    bus = voltage * parallel / (parallel + series)
    assert math.isclose(point.nodes["bus"].voltage_v, bus, rel_tol=1e-9)
    for branch, load in zip(branches, loads, strict=True):
        at_load = point.nodes[f"{branch.name}/load"]
        assert math.isclose(at_load.voltage_v, bus * load / (load + wire), rel_tol=1e-9)


@settings(deadline=None)
@given(volts, ohms, st.floats(0.0, 1.0))
def test_constant_current(voltage: float, ohm: float, share: float) -> None:
    """Ohm's law: the drop of a constant current."""
    amps = share * voltage / ohm * 0.999
    point = solve(
        Network(Source(voltage), (Branch("a", of_current(amps), None, ohm / 2, ohm / 4),), (("cable", ohm / 4),))
    )
    assert math.isclose(point.nodes["a/load"].voltage_v, voltage - ohm * amps, rel_tol=1e-9, abs_tol=1e-9)


@settings(deadline=None)
@given(st.integers(1, 8), st.floats(1.8, 3.6), st.floats(1.0, 100.0), volts, ohms)
def test_led_string_with_resistor(leds: int, vf: float, resistor: float, voltage: float, series: float) -> None:
    """I = (V - n V_f) / (R + R_series), nothing below n V_f."""
    point = solve(Network(Source(voltage), (Branch("s", led_string(leds, vf, resistor)),), (("cable", series),)))
    expected = max(voltage - leds * vf, 0.0) / (resistor + series)
    assert math.isclose(point.nodes["s/load"].current_a, expected, rel_tol=1e-9, abs_tol=1e-12)


@settings(deadline=None)
@given(volts, ohms, st.floats(0.01, 0.99), st.floats(2.0, 50.0))
def test_power_and_resistance_beside_each_other(voltage: float, series: float, share: float, load: float) -> None:
    """A resistor beside a constant power folds into the source (Thevenin), and the quadratic holds again."""
    open_v, inner = voltage * load / (load + series), load * series / (load + series)
    power = share * open_v**2 / (4 * inner)
    branches = (Branch("p", of_power(power)), Branch("r", of_resistance(load)))
    point = solve(Network(Source(voltage), branches, (("cable", series),)))
    expected = (open_v + math.sqrt(open_v**2 - 4 * inner * power)) / 2
    assert math.isclose(point.nodes["bus"].voltage_v, expected, rel_tol=1e-9)


@settings(deadline=None)
@given(volts, ohms, ohms, st.floats(0.5, 1.0), st.floats(0.0, 1.0), st.floats(0.05, 0.95))
def test_converter_with_lead(voltage: float, series: float, lead: float, eta: float, idle: float, share: float) -> None:
    """Two quadratics in a row: the lead behind the converter, then the loop before it."""
    output = 12.0
    load = share * output**2 / (4 * lead)
    at_load = (output + math.sqrt(output**2 - 4 * lead * load)) / 2
    taken = output * load / at_load / eta + idle
    rig = Network(
        Source(voltage), (Branch("m", of_power(load), a_converter("buck-boost", output, eta, idle), series, lead),)
    )
    outcome = operating_point(rig)
    inside = voltage**2 - 4 * series * taken
    if inside < 0:
        assert isinstance(outcome, Collapse) or inside > -1e-6 * voltage**2
        return
    assert isinstance(outcome, OperatingPoint)
    assert math.isclose(outcome.nodes["m/load"].voltage_v, at_load, rel_tol=1e-9)
    assert math.isclose(outcome.nodes["m/in"].voltage_v, (voltage + math.sqrt(inside)) / 2, rel_tol=1e-6)


@pytest.mark.parametrize("limit", [1.0, 3.0, 5.0])
@pytest.mark.parametrize("voltage", [5.0, 9.0, 15.0, 20.0, 28.0])
def test_envelope_at_a_source_limit(limit: float, voltage: float) -> None:
    """At the limit the converter gets (V - R I) I; efficiency and output voltage turn that into output current."""
    spec = NetworkSpec(
        Triple.exact(voltage),
        (BranchSpec("m", of_power(0.0), a_converter("buck-boost", 12.0, 0.9, 0.2)),),
        series=(("cable", Triple.exact(0.2)),),
    )
    bound = Bound("source", "current", "at_most", limit)
    [point] = envelope(spec, "m", lambda output_v: [bound], [12.0])
    assert math.isclose(point.current_a.typ, ((voltage - 0.2 * limit) * limit - 0.2) * 0.9 / 12.0, rel_tol=1e-6)
    assert point.first == bound
