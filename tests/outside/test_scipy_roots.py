"""The circuit against SciPy: the same physics written again with NumPy, its roots found by brentq.

The bus voltage is a root of V0 - V - R sum I_b(V). Each branch's current is found anew: what the load takes from its
lead by brentq, what the converter takes from its wire by looking along all input voltages and brentq at the highest.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache, partial
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.power import PowerLoad
from pdcheck.parts.loads.resistance import ResistanceLoad
from tests.circuit.making import a_converter, a_table, led_driver, led_string, of_current, of_power, of_resistance
from tests.circuit.operating import operating_point

optimize = pytest.importorskip("scipy.optimize", reason="SciPy is not installed")
interpolate = pytest.importorskip("scipy.interpolate", reason="SciPy is not installed")

GRID = 300


def highest_crossing(function: Callable[[float], float], top: float, bottom: float) -> float | None:
    """The highest x in [bottom, top] where a function that is positive at the top goes through zero."""
    if function(top) <= 0.0:
        return top
    points = np.linspace(top, bottom, GRID)
    for high, low in pairwise(points):
        if function(float(low)) <= 0.0:
            return float(optimize.brentq(function, low, high, xtol=1e-13, rtol=1e-14))
    return None


def load_current(load: Load, terminal_v: float) -> float:
    if isinstance(load, PowerLoad):
        return load.power_w / terminal_v
    if isinstance(load, CurrentLoad):
        return load.current_a
    if isinstance(load, ResistanceLoad):
        return terminal_v / load.resistance_ohm
    assert isinstance(load, LedLoad)
    led = load.led
    if led.resistor_ohm is None:
        return led.count * led.vf_v * led.current_a / led.efficiency / terminal_v
    return max(0.0, terminal_v - led.count * led.vf_v) / led.resistor_ohm


def behind(ohm: float, taken: Callable[[float], float], supply_v: float) -> float | None:
    """The current of something that takes ``taken(x)`` at x, behind a resistance, at the highest x."""
    if ohm == 0.0:
        return taken(supply_v)
    at = highest_crossing(lambda x: x + ohm * taken(x) - supply_v, supply_v, 1e-3)
    return None if at is None else taken(at)


def branch_current(branch: Branch, bus_v: float, output_a: float | None) -> float | None:
    converter = branch.converter
    if converter is None:
        return behind(branch.wire_ohm + branch.lead_ohm, lambda x: load_current(branch.load, x), bus_v)
    assert output_a is not None
    return behind(branch.wire_ohm, lambda x: converter_power(converter, x, output_a) / x, bus_v)


@cache
def surface(table: EfficiencyTable) -> Callable[[list[tuple[float, float]]], list[float]]:
    return interpolate.RegularGridInterpolator((table.input_v, table.output_a), table.values)  # type: ignore[no-any-return]


def converter_power(converter: Converter, input_v: float, output_a: float) -> float:
    efficiency = converter.efficiency
    if isinstance(efficiency, EfficiencyTable):
        held = (
            min(max(input_v, efficiency.input_v[0]), efficiency.input_v[-1]),
            min(max(output_a, efficiency.output_a[0]), efficiency.output_a[-1]),
        )
        efficiency = float(surface(efficiency)([held])[0])
    return converter.output_v * output_a / efficiency + converter.idle_w


number = st.floats
resistance = st.one_of(st.just(0.0), number(0.005, 0.8))
plain_converters = st.builds(
    a_converter, st.just("buck-boost"), number(3.0, 24.0), number(0.6, 1.0), st.one_of(st.just(0.0), number(0.01, 1.0))
)
loads = st.one_of(
    st.builds(of_power, number(1.0, 60.0)),
    st.builds(of_current, number(0.05, 3.0)),
    st.builds(of_resistance, number(3.0, 100.0)),
    st.builds(led_string, st.integers(1, 5), number(1.8, 3.6), number(5.0, 100.0)),
    st.builds(led_driver, st.integers(1, 5), number(1.8, 3.6), number(0.05, 1.0), st.just(0.0), number(0.7, 1.0)),
)
branches = st.tuples(st.just(""), loads, st.one_of(st.none(), plain_converters), resistance, resistance).map(
    lambda given: Branch(*given)
)


@st.composite
def networks(draw: st.DrawFn) -> Network:
    listed = draw(st.lists(branches, min_size=1, max_size=3))
    named = tuple(branch._replace(name=f"b{index}") for index, branch in enumerate(listed))
    return Network(
        Source(draw(number(5.0, 48.0))), named, (("cable", draw(resistance)), ("trigger", draw(number(0.005, 0.5))))
    )


def compare(network: Network) -> None:
    outputs: list[float | None] = []
    for branch in network.branches:
        output = None
        if branch.converter is not None:
            output = behind(branch.lead_ohm, partial(load_current, branch.load), branch.converter.output_v)
            if output is None or branch.converter.output_v < branch.lead_ohm * output:
                outcome = operating_point(network)
                assert isinstance(outcome, Collapse)
                return
        outputs.append(output)

    def missing(bus_v: float) -> float:
        """What the branches draw beyond what arrives, in volts; without end where one of them has no solution."""
        drawn = [branch_current(b, bus_v, output) for b, output in zip(network.branches, outputs, strict=True)]
        if any(amps is None for amps in drawn):
            return math.inf
        return bus_v + network.series_ohm * sum(amps or 0.0 for amps in drawn) - network.source.open_v

    outcome = operating_point(network)
    top = network.source.open_v
    if isinstance(outcome, Collapse):
        # Nowhere does as much arrive as is drawn.
        assert all(missing(float(bus_v)) > 0.0 for bus_v in np.linspace(top, top / 30, 30))
        return
    found = outcome.nodes["bus"].voltage_v
    assert abs(missing(found)) < 1e-6 * top
    # And it is the highest: above it more is drawn than arrives.
    assert top - found < 1e-9 or all(
        missing(float(bus_v)) > 0.0 for bus_v in np.linspace(top, found + 1e-3 * (top - found) + 1e-9, 12)
    )
    below = found * (1 - 1e-3)
    if missing(below) < 0.0 < missing(top):
        root = optimize.brentq(missing, below, top, xtol=1e-12)
        assert math.isclose(found, root, rel_tol=1e-8)


@settings(max_examples=100, deadline=None)
@given(networks())
def test_random_rigs(network: Network) -> None:
    compare(network)


RISING = a_table((6.0, 12.0, 20.0), (0.5, 3.0), ((0.80, 0.72), (0.93, 0.88), (0.95, 0.93)))
FALLING = a_table((6.0, 12.0, 36.0), (0.5, 3.0), ((0.95, 0.90), (0.92, 0.93), (0.80, 0.85)))


@pytest.mark.parametrize("table", [RISING, FALLING], ids=["rising", "falling"])
@pytest.mark.parametrize("voltage", [9.0, 15.0, 20.0])
@pytest.mark.parametrize("power", [10.0, 30.0])
def test_tables_of_efficiency(table: EfficiencyTable, voltage: float, power: float) -> None:
    mount = Branch("mount", of_power(power), a_converter("buck-boost", 12.0, table, 0.3), 0.3, 0.1)
    strip = Branch("strip", led_string(2, 3.4, 20.0), None, 0.1)
    compare(Network(Source(voltage), (mount, strip), (("cable", 0.25), ("trigger", 0.05))))
