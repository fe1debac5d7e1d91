"""The circuit against ngspice: this test writes a netlist of the network and compares every node.

Constant powers and converters become behavioural current sources; where a load of constant power has two solutions,
``.nodeset`` starts ngspice from the upper one's side. Skipped where ngspice is not installed.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import OperatingPoint
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.loads import Load
from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.loads.led import LedLoad
from pdcheck.parts.loads.power import PowerLoad
from pdcheck.parts.loads.resistance import ResistanceLoad
from tests.circuit.making import (
    a_converter,
    a_table,
    changed,
    led_driver,
    led_string,
    of_current,
    of_power,
    of_resistance,
)
from tests.circuit.operating import operating_point
from tests.patience import PATIENCE_S

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (apt install ngspice)")


def load_line(name: str, load: Load) -> list[str]:
    node = f"{name}_load"
    if isinstance(load, PowerLoad):
        return [f"B{name}l {node} 0 I = {load.power_w!r} / v({node})"]
    if isinstance(load, CurrentLoad):
        return [f"I{name}l {node} 0 {load.current_a!r}"]
    if isinstance(load, ResistanceLoad):
        return [f"R{name}l {node} 0 {load.resistance_ohm!r}"]
    assert isinstance(load, LedLoad)
    led = load.led
    if led.resistor_ohm is None:
        watts = f"{led.count} * {led.vf_v!r} * {led.current_a!r} / {led.efficiency!r}"
        return [f"B{name}l {node} 0 I = {watts} / v({node})"]
    return [f"B{name}l {node} 0 I = max(0, v({node}) - {led.count} * {led.vf_v!r}) / {led.resistor_ohm!r}"]


def wire(name: str, start: str, end: str, ohm: float) -> str:
    """A resistance, or where there is none a source of 0 V: ngspice takes no resistor of 0 ohm."""
    return f"R{name} {start} {end} {ohm!r}" if ohm > 0.0 else f"V{name} {start} {end} 0"


def branch_lines(branch: Branch) -> list[str]:
    name, converter = branch.name, branch.converter
    lines = [wire(f"{name}w", "bus", f"{name}_in", branch.wire_ohm)]
    if converter is None:
        lines.append(f"V{name}o {name}_in {name}_out 0")
    else:
        if isinstance(converter.efficiency, EfficiencyTable):
            assert len(converter.efficiency.output_a) == 1, "a table over input voltage alone: pwl has one axis"
            points = zip(converter.efficiency.input_v, converter.efficiency.values, strict=True)
            knots = ", ".join(f"{volts!r}, {row[0]!r}" for volts, row in points)
            efficiency = f"pwl(v({name}_in), {knots})"
        else:
            efficiency = repr(converter.efficiency)
        taken = f"(-v({name}_out) * i(V{name}o) / {efficiency} + {converter.idle_w!r})"
        lines.append(f"V{name}o {name}_out 0 {converter.output_v!r}")
        lines.append(f"B{name}c {name}_in 0 I = {taken} / v({name}_in)")
    return [*lines, wire(f"{name}l0", f"{name}_out", f"{name}_load", branch.lead_ohm), *load_line(name, branch.load)]


def netlist(network: Network) -> str:
    top = network.source.open_v
    starts = ["bus", *(f"{branch.name}_in" for branch in network.branches)]
    for branch in network.branches:
        if branch.converter is None:
            starts += [f"{branch.name}_out", f"{branch.name}_load"]
    nodesets = [f".nodeset v({node})={top!r}" for node in starts] + [
        f".nodeset v({branch.name}_load)={branch.converter.output_v!r}"
        for branch in network.branches
        if branch.converter is not None
    ]
    ends = ["source", *(f"after_{name}" for name, _ in network.series[:-1]), "bus"]
    wanted = ["bus", *(f"{branch.name}_{end}" for branch in network.branches for end in ("in", "out", "load"))]
    return "\n".join(
        [
            "* bus",
            f"Vsource source 0 {top!r}",
            *(wire(name, ends[at], ends[at + 1], ohm) for at, (name, ohm) in enumerate(network.series)),
            f"Ibus bus 0 {network.bus_a!r}",
            *(line for branch in network.branches for line in branch_lines(branch)),
            *nodesets,
            ".options reltol=1e-9 abstol=1e-12 vntol=1e-9 gmin=1e-15",
            ".control",
            "set numdgt=12",
            "op",
            "print i(vsource)",
            *(f"print v({node})" for node in wanted),
            ".endc",
            ".end",
        ]
    )


def run(network: Network, folder: Path) -> dict[str, float]:
    """Node voltages by name, and ``vsource`` for the source's current; nothing where it finds no operating point."""
    assert NGSPICE is not None
    deck = folder / "bus.cir"
    deck.write_text(netlist(network))
    done = subprocess.run([NGSPICE, "-b", str(deck)], capture_output=True, text=True, timeout=PATIENCE_S, check=False)
    found: dict[str, float] = {}
    for line in done.stdout.splitlines():
        name, equals, value = line.partition(" = ")
        if equals and name.startswith(("v(", "i(")):
            found[name[2:-1]] = float(value)
    return found


def agree(network: Network, folder: Path) -> None:
    point = operating_point(network)
    assert isinstance(point, OperatingPoint)
    found = run(network, folder)
    assert "bus" in found, "ngspice finds no operating point"
    assert math.isclose(-found["vsource"], point.nodes["source"].current_a, rel_tol=1e-6, abs_tol=1e-9)
    leds = {branch.name: branch.load.led for branch in network.branches if isinstance(branch.load, LedLoad)}
    for name, node in point.nodes.items():
        branch, _, end = name.partition("/")
        if end == "string":
            # A driver gives the LEDs their own voltage; on a resistor they have no more than ngspice has at the load.
            led, load_v = leds[branch], found[f"{branch}_load"]
            most_v = load_v if led.driver == "resistor" else math.inf
            assert node.voltage_v == pytest.approx(min(most_v, led.count * led.vf_v), rel=1e-6), name
            if led.driver == "resistor":
                assert led.resistor_ohm is not None
                current_a = max(0.0, load_v - led.count * led.vf_v) / led.resistor_ohm
                assert math.isclose(node.current_a, current_a, rel_tol=1e-6, abs_tol=1e-9), name
        elif name != "source":
            assert math.isclose(found[name.replace("/", "_")], node.voltage_v, rel_tol=1e-6, abs_tol=1e-9), name


BUCK_BOOST = a_converter("buck-boost", 12.0, 0.92, idle_w=0.3)
BOOST = a_converter("boost", 24.0, 0.89, idle_w=0.1)
BUCK = a_converter("buck", 5.0, 0.9)
TABLE = a_table((6.0, 12.0, 20.0), (1.0,), ((0.82,), (0.94,), (0.90,)))

RIGS = {
    "constant power alone": Network(Source(20.0), (Branch("a", of_power(60.0)),), (("cable", 0.25), ("trigger", 0.02))),
    "close to collapse": Network(Source(20.0), (Branch("a", of_power(99.9)),), (("cable", 0.75), ("trigger", 0.25))),
    "resistor behind a wire": Network(
        Source(9.0), (Branch("a", of_resistance(6.0), None, 0.1, 0.2),), (("cable", 0.2),)
    ),
    "converter with wire and lead": Network(
        Source(15.0),
        (Branch("mount", of_power(24.0), BUCK_BOOST, 0.0367, 0.063),),
        (("cable", 0.125), ("trigger", 0.025)),
    ),
    "three branches, all sorts": Network(
        Source(15.0),
        (
            Branch("mount", of_power(20.0), BUCK_BOOST, 0.05, 0.08),
            Branch("strip", led_string(3, 3.4, 15.0), None, 0.1, 0.05),
            Branch("dew", of_resistance(30.0), None, 0.3),
        ),
        (("cable", 0.24), ("trigger", 0.025)),
        0.01,
    ),
    "a string that stays dark": Network(
        Source(9.0),
        (Branch("strip", led_string(3, 3.4, 15.0), None, 0.1), Branch("p", of_power(8.0))),
        (("cable", 0.2),),
    ),
    "drivers and currents": Network(
        Source(20.0),
        (
            Branch("spot", led_driver(5, 3.1, 0.7, 1.0, 0.88), None, 0.2),
            Branch("fan", of_current(0.4), None, 0.5, 0.5),
            Branch("logic", of_current(1.2), BUCK, 0.1, 0.1),
        ),
        (("cable", 0.15), ("trigger", 0.03)),
    ),
    "efficiency over input voltage": Network(
        Source(9.0), (Branch("a", of_power(20.0), changed(BUCK_BOOST, efficiency=TABLE), 0.2, 0.1),), (("cable", 0.25),)
    ),
    "boost on 5 V": Network(
        Source(5.0), (Branch("a", of_resistance(90.0), BOOST, 0.05, 0.2),), (("cable", 0.125), ("trigger", 0.025))
    ),
}


@pytest.mark.parametrize("name", RIGS)
def test_every_node_agrees(name: str, tmp_path: Path) -> None:
    agree(RIGS[name], tmp_path)


def random_network(seed: int) -> Network:
    rng = np.random.default_rng(seed)

    def load() -> Load:
        kinds: tuple[Load, ...] = (
            of_power(float(rng.uniform(1, 40))),
            of_current(float(rng.uniform(0.05, 2))),
            of_resistance(float(rng.uniform(5, 100))),
            led_string(int(rng.integers(1, 5)), float(rng.uniform(2, 3.6)), float(rng.uniform(5, 60))),
            led_driver(int(rng.integers(1, 5)), float(rng.uniform(2, 3.6)), float(rng.uniform(0.1, 1)), 0.0, 0.9),
        )
        return kinds[rng.integers(len(kinds))]

    def branch(index: int) -> Branch:
        converter = None
        if rng.random() < 0.6:
            kind = a_converter("buck-boost", float(rng.uniform(3, 24)), float(rng.uniform(0.75, 0.97)))
            converter = changed(kind, idle_w=float(rng.uniform(0, 0.5)))
        wire_ohm, lead_ohm = (float(ohm) for ohm in rng.uniform(0.005, 0.3, 2))
        return Branch(f"b{index}", load(), converter, wire_ohm, lead_ohm)

    branches = tuple(branch(index) for index in range(rng.integers(1, 4)))
    volts = float(rng.choice([5.0, 9.0, 15.0, 20.0, 28.0, 48.0]))
    return Network(
        Source(volts), branches, (("cable", float(rng.uniform(0.01, 0.3))), ("trigger", float(rng.uniform(0.0, 0.05))))
    )


@pytest.mark.parametrize("seed", range(30))
def test_random_rigs_agree_and_those_that_collapse_do_so_at_the_watts_that_are_named(seed: int, tmp_path: Path) -> None:
    network = random_network(seed)
    outcome = operating_point(network)
    if isinstance(outcome, Collapse):
        if outcome.scale == 0.0:
            pytest.skip("collapses without any load: nothing to compare")
        # Just inside of the scale at which it collapses there is an operating point, and ngspice finds it too.
        factor = outcome.scale * 0.999
        network = network._replace(
            branches=tuple(branch._replace(load=branch.load.demand(factor)) for branch in network.branches)
        )
    agree(network, tmp_path)


def test_past_the_maximum_power_transfer_ngspice_finds_nothing_either(tmp_path: Path) -> None:
    network = Network(Source(20.0), (Branch("a", of_power(100.1)),), (("cable", 1.0),))
    assert isinstance(operating_point(network), Collapse)
    assert "bus" not in run(network, tmp_path)
