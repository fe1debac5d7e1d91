"""One circuit alone against the same among many: python -m tests.bench.circuits [--count 100000] [--seed 1].

Random circuits, steep efficiency tables and long wires among them, each with a factor of its own on its loads: what
is solved with floats, one after the other, is solved again with arrays, all of a network together. Counted are those
that differ in collapse, in voltage or current by more than 1e-6, and in the greatest load by more than 1e-6.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from math import isnan
from typing import Any, NamedTuple

import numpy as np

from pdcheck.circuit.carried import greatest_factors
from pdcheck.circuit.corners import BranchSpec, Conductor, NetworkSpec
from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import Bound
from pdcheck.parts.converter import Converter
from pdcheck.parts.efficiency import EfficiencyTable
from pdcheck.parts.loads import Load
from pdcheck.physics.bus import BusSolution
from pdcheck.physics.number import taken
from pdcheck.quantities import Triple

CELLS = 100
WITHIN = 1e-6


class Difference(NamedTuple):
    """Where one circuit alone and the same among many differ: in what, and by how much of it."""

    what: str
    by: float
    network: Network


def random_table(chance: random.Random) -> EfficiencyTable:
    """A table as steep as 30 to 90 % within half a volt, or as tame as a data sheet."""
    axis = [chance.uniform(3.0, 30.0)]
    while len(axis) < chance.randint(1, 5):
        axis.append(axis[-1] + chance.choice((0.1, 0.5, 1.0, chance.uniform(1.0, 15.0))))
    amps = sorted(chance.sample(range(1, 50), chance.randint(1, 3)))
    values = [[chance.uniform(0.3, 1.0) for _ in amps] for _ in axis]
    return EfficiencyTable(input=axis, output=[each / 10 for each in amps], values=values)


def random_branch(chance: random.Random, name: str) -> Branch:
    """A load of any kind, behind a converter or not, behind wires short and long."""
    kind = chance.randrange(5)
    led = {"count": chance.randint(1, 6), "vf": chance.uniform(1.8, 3.6), "current": chance.uniform(0.01, 1.0)}
    told: dict[str, Any] = (
        {"power": chance.uniform(0.1, 60.0)},
        {"current": chance.uniform(0.01, 4.0)},
        {"resistance": chance.uniform(2.0, 200.0)},
        {"led": led | {"driver": "resistor", "resistor": chance.uniform(1.0, 100.0)}},
        {"led": led | {"efficiency": chance.uniform(0.6, 1.0)}},
    )[kind]
    converter = None
    if chance.random() < 0.7:
        efficiency = random_table(chance) if chance.random() < 0.7 else chance.uniform(0.5, 1.0)
        converter = Converter(
            kind="buck-boost",
            output_v=chance.uniform(3.0, 24.0),
            efficiency=efficiency,
            idle_w=chance.choice((0.0, chance.uniform(0.0, 1.0))),
            start_v=chance.choice((None, chance.uniform(2.0, 12.0))),
        )
    ohms = (0.0, chance.uniform(0.001, 0.5), chance.uniform(0.5, 5.0))
    return Branch(name, Load(**told), converter, chance.choice(ohms), chance.choice(ohms[:2]))


def random_network(chance: random.Random, cells: int = CELLS) -> tuple[Network, np.ndarray[Any, Any]]:
    """Branches on many sources and cables, and a factor for each on what their loads demand."""
    branches = tuple(random_branch(chance, f"b{at}") for at in range(chance.randint(1, 3)))
    rng = np.random.default_rng(chance.randrange(2**32))
    holds = rng.uniform(0.1, 5.0, cells) if chance.random() < 0.3 else None
    ohms = rng.choice([0.0, 1.0, 1.0, 10.0], cells) * rng.uniform(0.0, 1.0, cells)
    source = Source(rng.uniform(3.0, 50.0, cells), holds)
    return Network(
        source, branches, (("cable", ohms), ("trigger", 0.0)), chance.choice((0.0, 0.05))
    ), 10.0 ** rng.uniform(-2.0, 1.5, cells)


def demanding(network: Network, factor: Any) -> Network:
    """The network with its loads asking for that many times as much."""
    return network._replace(branches=tuple(each._replace(load=each.load.demand(factor)) for each in network.branches))


def one_of(value: Any, cell: int) -> Any:
    """One circuit of many, in floats."""
    found = taken(value, cell)
    return type(found)(*(float(each) if hasattr(each, "dtype") else each for each in found))


def alone(network: Network, cell: int, factor: float) -> Network:
    """One circuit of a network, in floats."""
    source, ohms = one_of(network.source, cell), float(network.series[0][1][cell])
    return demanding(network._replace(source=source, series=(("cable", ohms), *network.series[1:])), factor)


def differences(network: Network, factor: np.ndarray[Any, Any]) -> Iterator[Difference]:
    """Where the circuits of a network differ between alone and together."""
    together = demanding(network, factor).solve()
    for cell, times in enumerate(factor.tolist()):
        one = alone(network, cell, times)
        yield from _compared(one, one.solve(), together, cell)


def _compared(network: Network, single: BusSolution, together: BusSolution, cell: int) -> Iterator[Difference]:
    bus_v = float(together.bus_v[cell])
    if isnan(bus_v) != isnan(single.bus_v):
        yield Difference("collapse", 1.0, network)
    if isnan(bus_v) or isnan(single.bus_v):
        return
    held = together.constant_current
    if bool(held if isinstance(held, bool) else held[cell]) != single.constant_current:
        yield Difference("whether the source holds its current", 1.0, network)
    pairs = {"bus voltage": (bus_v, single.bus_v), "source voltage": (float(together.source_v[cell]), single.source_v)}
    for at, amps in enumerate(single.port_a):
        pairs[f"current {at}"] = (float(np.broadcast_to(together.port_a[at], together.bus_v.shape)[cell]), amps)
    for what, (found, expected) in pairs.items():
        by = abs(found - expected) / max(abs(expected), 1e-3)
        if by > WITHIN:
            yield Difference(what, by, network)


def load_differences(network: Network) -> Iterator[Difference]:
    """Where the greatest loads of the circuits of a network differ between one cell and all of them."""
    branches = tuple(
        BranchSpec(each.name, each.load, each.converter, Conductor(0.0, each.wire_ohm), Conductor(0.0, each.lead_ohm))
        for each in network.branches
    )
    source = network.source
    spec = NetworkSpec(
        Triple.exact(source.open_v),
        branches,
        source.holds_a,
        (("cable", Triple.exact(network.series[0][1])),),
        bus_a=network.bus_a,
    )
    bounds = [Bound("source", "current", "at_most", 5.0), Bound(f"{branches[0].name}/in", "voltage", "at_least", 3.0)]
    together = greatest_factors(spec, bounds)
    for cell in range(0, len(together.factor), 10):
        factor = float(together.factor[cell])

        def holds(times: float, cell: int = cell) -> bool:
            one = alone(network._replace(source=source._replace(holds_a=None)), cell, times)
            found = one.solve()
            most = 5.0 if source.holds_a is None else min(5.0, float(source.holds_a[cell]))
            entry_v = found.bus_v - one.branches[0].wire_ohm * found.port_a[0]
            return bool(found.current_a <= most * (1 + 1e-9)) and bool(entry_v >= 3.0 * (1 - 1e-9))

        # Beyond a hundred thousand times what is stated nothing is on the bench.
        below = factor == 0.0 or holds(factor * (1 - WITHIN))
        beyond = factor < 1e5 and holds(max(factor, 1e-6) * (1 + WITHIN))
        if beyond or not below:
            yield Difference("greatest load", 1.0, alone(network, cell, factor))


def main() -> None:
    """Count and tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.circuits", description=str(__doc__).splitlines()[0])
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    solved = collapsed = 0
    found: list[Difference] = []
    with np.errstate(all="ignore"):
        for _ in range(options.count // CELLS):
            network, factor = random_network(chance)
            found += differences(network, factor)
            found += load_differences(network)
            dark = int(np.isnan(demanding(network, factor).solve().bus_v).sum())
            solved, collapsed = solved + CELLS - dark, collapsed + dark
    print(f"{solved + collapsed} circuits, {solved} with an operating point, {collapsed} without; {len(found)} differ")
    for each in found[:10]:
        print(f"{each.what} by {each.by:.3g}: {each.network}")


if __name__ == "__main__":
    main()
