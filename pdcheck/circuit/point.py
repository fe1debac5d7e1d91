"""The operating point of a network: every node, every part's loss, and the limits that are held against nodes."""

from __future__ import annotations

from typing import Literal

from pdcheck.circuit.network import Branch, Heat, Network, Warmth
from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Quantity, Sense
from pdcheck.physics.bus import BusSolution
from pdcheck.physics.number import ON_THE_LIMIT, Condition, Number, greater

# Where nothing may be taken any more, any current is far too much.
_NOTHING_LEFT = 1e-9


class Node(NamedTuple):
    """Voltage [V] at a node and the current [A] through it towards the loads; of many circuits, arrays."""

    voltage_v: float
    current_a: float


class OperatingPoint(NamedTuple):
    """Nodes ``source``, ``bus`` and per branch ``NAME/in``, ``NAME/out``, ``NAME/load``; power in watts.

    ``losses``: by part, what is in series (``cable``, ``trigger``), ``bus`` (its own draw), ``NAME/wire``,
    ``NAME/converter``, ``NAME/lead``, and inside a load what it names itself, as ``NAME/resistor``. ``loads``: what is
    useful in each branch's load. ``source_w`` is the sum of both. ``constant_current``: the source holds its current,
    and has let its voltage fall to what the node ``source`` says.
    """

    nodes: dict[str, Node]
    losses: dict[str, float]
    loads: dict[str, float]
    source_w: float
    constant_current: bool


WARM = ":"
"""In the last word of a node's name: a temperature [degrees C], heat [W], or a current as it weighs in warm air."""


def is_warm(node: str) -> bool:
    """Whether a node is one of heat, which holds one figure and no voltage.

    >>> is_warm("mount/wire:c"), is_warm("mount:c/in")
    (True, False)
    """
    return WARM in node.rpartition("/")[2]


# Keeps a limit of nothing from being divided by.
_NO_LIMIT = 1e-12


class Bound(NamedTuple):
    """At a node (``source``, ``bus``, ``NAME/in``, ``NAME/out``, ``NAME/load``) the most or the least of a quantity.

    What is warm has nodes of its own (see ``warm.py``), whose one figure stands where others have their voltage.
    ``limit`` is in V, A, W or degrees C; of many circuits it may be an array with one for each.
    """

    node: str
    quantity: Quantity
    sense: Sense
    limit: float

    @property
    def branch(self) -> str:
        """The branch that the node belongs to; empty for source and bus."""
        return self.node.rpartition("/")[0]

    def value(self, voltage_v: Number, current_a: Number) -> Number:
        """The quantity of a node at a voltage [V] and a current [A]."""
        if self.quantity == "power":
            return voltage_v * current_a
        return current_a if self.quantity == "current" else voltage_v

    def holds(self, value: Number) -> Condition:
        """Whether a value of the quantity is within the limit, or on it; not where it is NaN.

        >>> Bound("source", "current", "at_most", 3.0).holds(3.0)
        True
        """
        return self.margin(value) >= 0.0

    def margin(self, value: Number) -> Number:
        """How far a value is within the limit, as a part of it; below 0 where it is past it."""
        way = 1.0 if self.sense == "at_most" else -1.0
        return way * (self.limit * (1.0 + way * ON_THE_LIMIT) - value) / (abs(self.limit) + _NO_LIMIT)


Met = Bound | Literal["collapse", "nothing"]
"""What is met first when a load grows: a bound, the collapse of the bus, a wire or a lead, or nothing at all."""


def nodes_of(network: Network, solution: BusSolution, off: frozenset[str] = frozenset()) -> dict[str, Node]:
    """Every node that goes with a solved bus; NaN where it collapses."""
    bus_v = solution.bus_v
    nodes = {"source": Node(solution.source_v, solution.current_a), "bus": Node(bus_v, solution.current_a)}
    for branch, input_a in zip(network.branches, solution.port_a, strict=False):
        entry, exit_, end = _branch_nodes(branch, bus_v, input_a, branch.name in off)
        nodes[f"{branch.name}/in"], nodes[f"{branch.name}/out"], nodes[f"{branch.name}/load"] = entry, exit_, end
        for place, inner in branch.load.inside(*end).items():
            nodes[f"{branch.name}/{place}"] = end if branch.name in off else Node(*inner)
    if network.heat is not None and network.heat.mean is not None:
        nodes |= _warm_nodes(network, network.heat, network.heat.mean, nodes, bus_v)
    return nodes


def _warm_nodes(network: Network, heat: Heat, mean: Warmth, nodes: dict[str, Node], bus_v: Number) -> dict[str, Node]:
    """Every temperature, and what is held against it, of a network whose heat has settled."""
    nothing, one = 0.0 * bus_v, 0.0 * bus_v + 1.0
    inside = heat.inside_c + nothing
    out = {
        "air:c": inside,
        "box:c": heat.air_c + heat.surface * (inside - heat.air_c),
        "box:w": mean.inside_w + nothing,
    }
    for name, ohm in network.series:
        # A cable lies outside the box, and rises as its plugs do.
        if name == "cable":
            out["cable:c"] = heat.air_c + heat.cable_k_a2 * mean.total_a2 + nothing
        else:
            out[f"{name}:c"] = inside + heat.module_k_w * ohm * mean.total_a2
    for branch in network.branches:
        name = branch.name
        for place in ("wire", "lead"):
            if getattr(branch, f"{place}_c") is not None:
                out[f"{name}/{place}:c"] = getattr(branch, f"{place}_c") + nothing
        if branch.converter is not None:
            lost = mean.lost_w[name] + nothing
            out |= {f"{name}/converter:w": lost, f"{name}/converter:c": inside + branch.rise_k_w * lost}
            if branch.converter.derate is not None:
                cool = branch.converter.derate.cool_a
                allowed = greater(branch.converter.derate.at(inside), _NOTHING_LEFT * cool)
                out[f"{name}/derated:a"] = nodes[f"{name}/out"].current_a * (cool / allowed)
    return {name: Node(value, one) for name, value in out.items()}


def _branch_nodes(branch: Branch, bus_v: Number, input_a: Number, off: bool) -> tuple[Node, Node, Node]:
    nothing = 0.0 * bus_v
    entry = Node(bus_v - branch.wire_ohm * input_a, input_a)
    if off:
        dark = Node(nothing, nothing)
        return Node(bus_v, nothing), dark, dark
    output_a = branch.output_a()
    exit_ = entry if branch.converter is None else Node(branch.converter.output_v + nothing, output_a + nothing)
    return entry, exit_, Node(exit_.voltage_v - branch.lead_ohm * exit_.current_a, exit_.current_a)


def describe(network: Network, solution: BusSolution, off: frozenset[str] = frozenset()) -> OperatingPoint:
    """Every node and loss that goes with a solved bus."""
    nodes = nodes_of(network, solution, off)
    losses, loads = losses_of(network, solution, nodes, off)
    source_w = solution.source_v * solution.current_a
    return OperatingPoint(nodes, losses, loads, source_w, solution.constant_current)


def losses_of(
    network: Network, solution: BusSolution, nodes: dict[str, Node], off: frozenset[str]
) -> tuple[dict[str, float], dict[str, float]]:
    """What each part loses, and what is useful in each load [W]."""
    squared = solution.current_a * solution.current_a
    losses = {name: squared * ohm for name, ohm in network.series}
    if network.bus_a:
        losses["bus"] = solution.bus_v * network.bus_a
    loads: dict[str, float] = {}
    for branch in network.branches:
        name = branch.name
        if name in off:
            continue
        (input_v, input_a), (output_v, output_a), (load_v, load_a) = (
            nodes[f"{name}/{end}"] for end in ("in", "out", "load")
        )
        losses[f"{name}/wire"] = input_a * input_a * branch.wire_ohm
        if branch.converter is not None:
            losses[f"{name}/converter"] = input_v * input_a - output_v * output_a
        losses[f"{name}/lead"] = output_a * output_a * branch.lead_ohm
        inside = branch.load.losses(load_v, load_a)
        losses |= {f"{name}/{part}": watts for part, watts in inside.items()}
        loads[name] = load_v * load_a - sum(inside.values())
    return losses, loads
