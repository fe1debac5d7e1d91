"""The circuit warm, against an independent relaxation, and by what must hold: the balance of heat, and what rises."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pdcheck.circuit.corners import TYPICAL, corners
from pdcheck.circuit.from_rig import network_spec, warming
from pdcheck.circuit.network import Branch, Copper, Heat, Network, Source
from pdcheck.circuit.point import OperatingPoint
from pdcheck.circuit.warm import heat_inside_w, settled
from pdcheck.parts.loads import Load
from pdcheck.parts.rig import Rig
from pdcheck.quantities import Triple
from tests.circuit.operating import operating_point

ALPHA = 0.00393


def awg_m(gauge):
    """ASTM B258."""
    return 0.127e-3 * 92 ** ((36 - gauge) / 39)


@st.composite
def rigs(draw):
    branches = []
    for at in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["bus", "buck"]))
        branch = {
            "name": f"b{at}",
            "wire": {"awg": draw(st.integers(18, 24)), "length": draw(st.floats(0.05, 2.0))},
            "load": {"power": draw(st.floats(1, 20))},
        }
        branch["wire"]["contacts"] = draw(st.sampled_from([0, 0.01]))
        if kind == "buck":
            branch["converter"] = {
                "kind": "buck",
                "output": "9V",
                "efficiency": draw(st.floats(0.75, 0.97)),
                "idle": draw(st.integers(0, 50)) / 100,
                "rise": draw(st.floats(5, 60)),
            }
            branch["lead"] = {"awg": draw(st.integers(18, 24)), "length": draw(st.floats(0.05, 1.0))}
        branches.append(branch)
    box = {
        "size": [draw(st.floats(0.04, 0.3)) for _ in range(3)],
        "material": draw(st.sampled_from(["plastic", "painted metal", "bare metal"])),
        "vents": draw(st.booleans()),
        "air": draw(st.integers(-100, 450)) / 10,
    }
    return Rig(trigger={"request": "20V", "resistance": draw(st.integers(0, 100)) / 1000}, branch=branches, box=box)


def relaxed(rig, cable_ohm):
    """Temperatures and bus of a rig by plain sums in tiny steps, with nothing of the program but what is stated."""
    a, b, c = rig.box.size_m
    shed = {"bare metal": 5.0}.get(rig.box.material, 8.0) * 2 * (a * b + b * c + c * a) * (2.0 if rig.box.vents else 1)
    around = rig.box.air_c.typ
    inside, warm = around, {}
    trigger_ohm, current_all = rig.trigger.resistance.typ, 0.0
    wires = [(x.name, place, w) for x in rig.branches for place, w in (("wire", x.wire), ("lead", x.lead)) if w]
    warm = {(name, place): around for name, place, _ in wires}
    amps = {x.name: 0.0 for x in rig.branches}
    for _ in range(4000):
        ohm = {
            (name, place): 2 * w.length_m / 58e6 / (pi / 4 * awg_m(w.awg) ** 2) * (1 + ALPHA * (warm[name, place] - 20))
            for name, place, w in wires
        }
        bus = 20.0 - current_all * (cable_ohm + trigger_ohm)
        lost, temps, total = current_all**2 * trigger_ohm, {}, 0.0
        for x in rig.branches:
            path = ohm[x.name, "wire"] + x.wire.contacts_ohm
            power = x.load.power_w
            if x.converter:
                lead = ohm[x.name, "lead"] + x.lead.contacts_ohm
                out = (9.0 - sqrt(81.0 - 4 * lead * power)) / (2 * lead)
                taken = 9.0 * out / x.converter.efficiency + x.converter.idle_w
                lost += taken - 9.0 * out
                temps[x.name, "converter"] = taken - 9.0 * out
                temps[x.name, "lead"] = out
                power = taken
            amps[x.name] += 0.3 * (power / (bus - path * amps[x.name]) - amps[x.name])
            lost += amps[x.name] ** 2 * path
            temps[x.name, "wire"] = amps[x.name]
            total += amps[x.name]
        current_all += 0.3 * (total - current_all)
        inside += 0.3 * (around + lost / shed - inside)
        for name, place, w in wires:
            d = awg_m(w.awg)
            per_m = (1 + ALPHA * (warm[name, place] - 20)) / 58e6 / (pi / 4 * d * d)
            base = inside if place == "wire" else around
            warm[name, place] += 0.3 * (base + temps[name, place] ** 2 * per_m / (10 * pi * d) - warm[name, place])
    found = {f"{name}/{place}:c": each for (name, place), each in warm.items()}
    for x in rig.branches:
        if x.converter:
            found[f"{x.name}/converter:c"] = inside + x.converter.rise_k_w * temps[x.name, "converter"]
    return found | {"air:c": inside}, bus


@given(rigs())
def test_temperatures_against_an_independent_relaxation(rig):
    plain = network_spec(rig, None, 20.0)
    spec = warming(plain._replace(series=(("cable", TRIPLE_OHM), *plain.series)), rig, None)
    found = corners(spec)
    assume(found.typical is not None and found.typical.nodes["bus"].voltage_v > 14)
    wanted, bus = relaxed(rig, 0.15)
    for node, temperature in wanted.items():
        least, typical, most = found.nodes[node].voltage_v
        assert typical == pytest.approx(temperature, abs=0.01), node
        assert least <= typical <= most
    assert found.typical.nodes["bus"].voltage_v == pytest.approx(bus, abs=1e-4)


TRIPLE_OHM = Triple.exact(0.15)


@given(rigs())
def test_what_is_lost_leaves_through_the_surface(rig):
    found = corners(warming(network_spec(rig, None, 20.0), rig, None))
    assume(found.typical is not None)
    typical = found.points[TYPICAL]
    through = rig.box.shed_w_k().typ * (typical.nodes["air:c"].voltage_v - rig.box.around_c.typ)
    assert heat_inside_w(typical.losses) == pytest.approx(through, rel=1e-6, abs=1e-6)


def warmed(air=25.0, ohm=0.1, load=None, rise=2.0, off=frozenset()):
    lamp = Branch("lamp", load or Load("3A"), wire=Copper(ohm, 0.0, rise))
    found = operating_point(Network(Source(12.0), (lamp,), heat=Heat(air)), off)
    assert isinstance(found, OperatingPoint)
    return found.nodes["lamp/wire:c"].voltage_v, found.nodes["lamp/in"].current_a, found.losses["lamp/wire"]


@given(st.floats(-20, 60), st.floats(0.1, 30), st.floats(0.01, 0.3))
def test_warmer_air_is_a_warmer_wire(air, more, ohm):
    for load in (Load("3A"), Load("20W")):
        low, high = warmed(air, ohm, load), warmed(air + more, ohm, load)
        assert high[0] > low[0] and high[2] > low[2] and high[1] >= low[1] - 1e-12


@given(st.floats(0.1, 4), st.floats(0.01, 1))
def test_more_current_is_a_warmer_wire(amps, more):
    low, high = warmed(load=Load(current=amps)), warmed(load=Load(current=amps + more))
    assert high[0] > low[0] and high[2] > low[2]


@given(st.floats(0.01, 0.3), st.floats(1.01, 2))
def test_a_longer_wire_to_a_constant_power_carries_more_and_is_warmer(ohm, times):
    low, high = warmed(ohm=ohm, load=Load("20W")), warmed(ohm=ohm * times, load=Load("20W"))
    assert high[0] > low[0] and high[1] > low[1] and high[2] > low[2]


@given(st.floats(0.5, 20), st.floats(0.05, 60), st.floats(0.1, 40))
def test_a_wire_that_takes_most_of_the_voltage_settles(load_ohm, wire_ohm, rise):
    wire = Copper(wire_ohm, 0.0, rise)
    lamp = Branch("lamp", Load(resistance=load_ohm), wire=wire)
    warm, solution = settled(Network(Source(12.0), (lamp,), heat=Heat(25.0)))
    ohm, reached = warm.branches[0].wire_ohm, warm.branches[0].wire_c
    assert ohm == pytest.approx(wire_ohm * (1 + ALPHA * (reached - 20)))
    now = 25.0 + rise * solution.current_a**2 * (1 + ALPHA * (reached - 20))
    assert reached == pytest.approx(now, abs=0.01) or reached > 999


def test_many_circuits_settle_as_each_alone():
    lamp = Branch("lamp", Load("20W"), wire=Copper(0.2, 0.01, 2.0))
    volts = np.array([6.0, 9.0, 15.0, 1.0])
    together, solution = settled(Network(Source(volts), (lamp,), heat=Heat(25.0, 0.1)))
    for at, each in enumerate(volts.tolist()):
        alone, one = settled(Network(Source(each), (lamp,), heat=Heat(25.0, 0.1)))
        if each == 1.0:
            assert np.isnan(one.bus_v) and np.isnan(solution.bus_v[at])
        else:
            assert alone.branches[0].wire_c == pytest.approx(together.branches[0].wire_c[at], abs=1e-5)
            assert one.current_a == pytest.approx(solution.current_a[at], abs=1e-7)
