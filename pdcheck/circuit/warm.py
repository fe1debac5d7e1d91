"""The circuit warm: wires, air and current settled together.

A wire's copper follows its own temperature, that follows its current and the air, the air in a box follows all that is
lost in it, and the current follows the wires. From the cold state the steps go on until nothing moves by more than a
millionth of a kelvin: it settles where a build that is switched on cold does.

The circuit itself is looked at with its loads at their peak, but what warms it is the mean over time: of the heat in
the box, and of the square of each current.

What is in the box: the trigger, wires, converters, and what a load's own driver or resistor loses. What is not: the
cable, the leads behind converters, and the loads.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pdcheck.circuit.network import Copper, Network, Warmth
from pdcheck.circuit.point import losses_of, nodes_of
from pdcheck.facts.copper import REFERENCE_TEMPERATURE, TEMPERATURE_COEFFICIENT, at_temperature
from pdcheck.facts.heat import HOTTEST_COPPER
from pdcheck.physics.bus import BusSolution
from pdcheck.physics.number import Number, anywhere, greater, lesser, where

OUTSIDE = ("cable", "lead")
"""Parts whose heat does not stay in the box, by the last word of their name."""
_SETTLED_K = 1e-7
_ALPHA = TEMPERATURE_COEFFICIENT.value
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
    turns = network.in_turn()
    now = [network.heat.air_c, *_starts(network)]
    pace: list[Number] | None = None
    before: list[Number] | None = None
    for _ in range(_MOST_STEPS):
        reached = [(part, *_solved(each, now, off)) for part, each in turns]
        warmth, wires_a2 = _mean(reached, off)
        wanted = _wanted(network, warmth.inside_w, wires_a2)
        steps = [there - here for here, there in zip(now, wanted, strict=True)]
        if not any(anywhere(abs(step) > _SETTLED_K) for step in steps):
            break
        pace = [1.0 + 0.0 * step for step in steps] if pace is None or before is None else _paced(pace, steps, before)
        before = steps
        now = [here + step * by for here, step, by in zip(now, steps, pace, strict=True)]
    # What it is at its peak, with its wires as warm as they get over time.
    changes = any(branch.turns for branch in network.branches)
    _, warm, solution = (1.0, *_solved(network, now, off)) if changes else reached[0]
    return warm._replace(heat=network.heat._replace(inside_c=now[0], mean=warmth)), solution


def heat_inside_w(losses: Mapping[str, Number]) -> Number:
    """What of the losses [W], by part, stays in the box.

    >>> heat_inside_w({"cable": 1.0, "trigger": 0.2, "mount/converter": 2.0, "mount/lead": 0.3})
    2.2
    """
    return sum(watts for part, watts in losses.items() if part.rpartition("/")[2] not in OUTSIDE)


def wire_temperature(air_c: Number, current_a: Number, rise_k_a2: Number) -> Number:
    """Temperature of a wire [degrees C] in air, at a current [A], with its copper at that same temperature.

    ``rise_k_a2`` [K/A2] is R' / (h pi d) of the wire at 20 degrees C. T = air + rise I^2 (1 + alpha (T - 20)), solved
    for T; where the copper grows faster than the air takes its heat it is given up at 1000 degrees C.

    Sources: heat balance of one wire [physics]; alpha = 0.00393 per K [IEC 60028, handbook].

    >>> round(wire_temperature(25.0, 4.0, 1.3), 3)
    48.097
    """
    warmed = rise_k_a2 * current_a * current_a
    left = 1.0 - _ALPHA * warmed
    holds = left > 0.0
    solved = (air_c + warmed * (1.0 - _ALPHA * REFERENCE_TEMPERATURE.value)) / where(holds, left, 1.0)
    return where(holds, lesser(solved, HOTTEST_COPPER.value), HOTTEST_COPPER.value + 0.0 * warmed)


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


def _solved(network: Network, temperatures: Sequence[Number], off: frozenset[str]) -> tuple[Network, BusSolution]:
    """The network with each of its wires at these temperatures [degrees C], of which the first is the air inside."""
    branches = list(network.branches)
    for (at, place, copper), wire_c in zip(_conductors(network), temperatures[1:], strict=True):
        ohms = copper.cool_ohm * at_temperature(wire_c) + copper.fixed_ohm
        branches[at] = branches[at]._replace(**{f"{place}_ohm": ohms, f"{place}_c": wire_c})
    warm = network._replace(branches=tuple(branches))
    return warm, warm.solve(off)


def _mean(reached: Sequence[tuple[float, Network, BusSolution]], off: frozenset[str]) -> tuple[Warmth, list[Number]]:
    """What warms a build that is each of some networks for a part of the time, and the mean of each conductor's
    squared current [A2]."""
    inside: Number = 0.0
    total: Number = 0.0
    lost: dict[str, Number] = {}
    wires: list[Number] = [0.0] * len(_conductors(reached[0][1]))
    for part, network, solution in reached:
        nodes = nodes_of(network, solution, off)
        losses, _ = losses_of(network, solution, nodes, off)
        inside = inside + part * (heat_inside_w(losses) + 0.0 * solution.bus_v)
        total = total + part * solution.current_a * solution.current_a
        for branch in network.branches:
            watts = part * losses.get(f"{branch.name}/converter", 0.0)
            lost[branch.name] = lost.get(branch.name, 0.0) + watts
        for index, (at, place, _) in enumerate(_conductors(network)):
            current = nodes[f"{network.branches[at].name}/{'in' if place == 'wire' else 'load'}"].current_a
            wires[index] = wires[index] + part * current * current
    return Warmth(inside, total, lost), wires


def _wanted(network: Network, inside_w: Number, wires_a2: Sequence[Number]) -> list[Number]:
    """The temperatures that what warms a network leads to."""
    heat = network.heat
    assert heat is not None
    # Heat balance of a box, P = h A (inside - outside) [any heat transfer text].
    inside = heat.air_c + (0.0 * inside_w if heat.shed_w_k is None else inside_w / heat.shed_w_k)
    found = [inside]
    for (_, place, copper), squared in zip(_conductors(network), wires_a2, strict=True):
        # A lead leads out of the box.
        around = inside if place == "wire" else heat.air_c
        # In this order what has no solution stays without one.
        found.append(greater(wire_temperature(around, squared**0.5, copper.rise_k_a2), copper.least_c))
    return found
