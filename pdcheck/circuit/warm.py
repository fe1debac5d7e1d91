"""The circuit warm: wires, air and current settled together.

A wire's copper follows its own temperature, that follows its current and the air, the air in a box follows all that is
lost in it, and the current follows the wires. From the cold state the steps go on until nothing moves by more than a
millionth of a kelvin: it settles where a build that is switched on cold does.

What is in the box: the trigger, wires, converters, and what a load's own driver or resistor loses. What is not: the
cable, the leads behind converters, and the loads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pdcheck.circuit.network import Copper, Network
from pdcheck.circuit.point import losses_of, nodes_of
from pdcheck.facts.copper import at_temperature
from pdcheck.physics.heat import inside_air, wire_temperature
from pdcheck.physics.number import anywhere, greater, where

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pdcheck.physics.bus import BusSolution
    from pdcheck.physics.number import Number

OUTSIDE = ("cable", "lead")
"""Parts whose heat does not stay in the box, by the last word of their name."""
_SETTLED_K = 1e-7
_MOST_STEPS = 3000


def settled(network: Network, off: frozenset[str] = frozenset()) -> tuple[Network, BusSolution]:
    """A network with its wires as warm as they get, and its bus; as it is where no heat counts.

    >>> from pdcheck.circuit.network import Branch, Heat, Source
    >>> from pdcheck.parts.loads import Load
    >>> lamp = Branch("lamp", Load("3A"), wire=Copper(0.1, 0.0, 2.0))
    >>> warm, _ = settled(Network(Source(12.0), (lamp,), heat=Heat(25.0)))
    >>> round(warm.branches[0].wire_c, 2), round(warm.branches[0].wire_ohm, 5)
    (44.75, 0.10973)
    """
    if network.heat is None:
        return network, network.solve(off)
    reached = _at(network, [network.heat.air_c, *_starts(network)])
    solution = reached.solve(off)
    pace: list[Number] | None = None
    before: list[Number] | None = None
    for _ in range(_MOST_STEPS):
        if not anywhere(solution.bus_v == solution.bus_v):
            break
        now, wanted = _temperatures(reached), _wanted(reached, solution, off)
        steps = [there - here for here, there in zip(now, wanted, strict=True)]
        if not any(anywhere(abs(step) > _SETTLED_K) for step in steps):
            break
        pace = [1.0 + 0.0 * step for step in steps] if pace is None or before is None else _paced(pace, steps, before)
        before = steps
        reached = _at(network, [here + step * by for here, step, by in zip(now, steps, pace, strict=True)])
        solution = reached.solve(off)
    return reached, solution


def heat_inside_w(losses: Mapping[str, Number]) -> Number:
    """What of the losses [W], by part, stays in the box.

    >>> heat_inside_w({"cable": 1.0, "trigger": 0.2, "mount/converter": 2.0, "mount/lead": 0.3})
    2.2
    """
    return sum(watts for part, watts in losses.items() if part.rpartition("/")[2] not in OUTSIDE)


def _paced(pace: Sequence[Number], steps: Sequence[Number], before: Sequence[Number]) -> list[Number]:
    """How much of each step is taken: less where it goes to and fro, as on a wire that takes most of the voltage."""
    return [
        where((step * last < 0.0) & (abs(step) > 0.3 * abs(last)), 0.5 * by, by)
        for by, step, last in zip(pace, steps, before, strict=True)
    ]


def _conductors(network: Network) -> list[tuple[int, str, Copper]]:
    return [
        (at, place, copper)
        for at, branch in enumerate(network.branches)
        for place, copper in (("wire", branch.wire), ("lead", branch.lead))
        if copper is not None
    ]


def _starts(network: Network) -> list[Number]:
    assert network.heat is not None
    return [greater(copper.least_c, network.heat.air_c) for _, _, copper in _conductors(network)]


def _temperatures(network: Network) -> list[Number]:
    assert network.heat is not None
    wires = [getattr(network.branches[at], f"{place}_c") for at, place, _ in _conductors(network)]
    return [network.heat.inside_c, *wires]


def _at(network: Network, temperatures: Sequence[Number]) -> Network:
    """The network with the air in its box, and each of its wires, at these temperatures [degrees C]."""
    assert network.heat is not None
    branches = list(network.branches)
    for (at, place, copper), wire_c in zip(_conductors(network), temperatures[1:], strict=True):
        ohms = copper.cool_ohm * at_temperature(wire_c) + copper.fixed_ohm
        branches[at] = branches[at]._replace(**{f"{place}_ohm": ohms, f"{place}_c": wire_c})
    return network._replace(branches=tuple(branches), heat=network.heat._replace(inside_c=temperatures[0]))


def _wanted(network: Network, solution: BusSolution, off: frozenset[str]) -> list[Number]:
    """The temperatures that the currents of a solved network lead to."""
    heat = network.heat
    assert heat is not None
    nodes = nodes_of(network, solution, off)
    losses, _ = losses_of(network, solution, nodes, off)
    inside = inside_air(heat.air_c, heat_inside_w(losses) + 0.0 * solution.bus_v, heat.shed_w_k)
    found = [inside]
    for at, place, copper in _conductors(network):
        branch = network.branches[at]
        current = nodes[f"{branch.name}/{'in' if place == 'wire' else 'load'}"].current_a
        # A lead leads out of the box.
        around = inside if place == "wire" else heat.air_c
        found.append(greater(copper.least_c, wire_temperature(around, current, copper.rise_k_a2)))
    return found
