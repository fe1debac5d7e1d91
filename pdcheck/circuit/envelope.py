"""The envelope: the greatest output current of one branch at each output voltage, and what sets the limit.

The other branches keep running. Everything gets worse as the branch delivers more (the bus sags, every current
rises), so "carries it" turns to "does not" once, and a bisection finds where. An output that cannot be held without any
load (a boost whose input is above its output) counts as out of reach.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import isnan

from pdcheck.circuit.corners import TYPICAL, Corner, NetworkSpec, networks
from pdcheck.circuit.network import Branch, Network, Source, position
from pdcheck.circuit.point import Bound, Met, Node, is_warm, nodes_of
from pdcheck.circuit.warm import settled
from pdcheck.named import NamedTuple
from pdcheck.parts.loads.current import CurrentLoad
from pdcheck.parts.loads.power import PowerLoad
from pdcheck.physics.bus import solve_bus
from pdcheck.quantities import Triple

_RESOLUTION = 1e-7
# Where nothing limits at all (no resistance, no limit known) the search ends here [A or W].
_FAR = 1e5
_LEAST = 1e-9

BoundsAt = Callable[[float | None], Sequence[Bound]]
"""The bounds at an output voltage [V] that is tried; None without a converter."""


class EnvelopePoint(NamedTuple):
    """The greatest output at one output voltage [V].

    ``current_a`` and ``power_w`` are at the converter's output, ``load_w`` at the end of the lead: min is the worst
    corner, typ everything as stated, max the best. ``first`` is what is met first at the worst corner, ``first_typ``
    as stated. Without a converter ``output_v`` is the voltage at the load, and the current is that of a constant power.
    """

    output_v: float
    current_a: Triple
    power_w: Triple
    load_w: Triple
    first: Met
    first_typ: Met


class Reach(NamedTuple):
    """The greatest output of one branch in one network: at the converter's output [V, A], and at the load [W]."""

    output_v: float
    current_a: float
    load_w: float
    first: Met


def envelope(
    spec: NetworkSpec,
    branch_name: str,
    bounds: BoundsAt,
    voltages: Sequence[float],
    off: frozenset[str] = frozenset(),
) -> list[EnvelopePoint]:
    """The greatest output of a branch at each output voltage, over the corners of tolerance.

    Args:
        spec: the network on one contract. The branch's own load is left out of account.
        branch_name: the branch whose output is asked for.
        bounds: limits on any nodes, at an output voltage of the branch, in the order in which they are named where
            several are met at once.
        voltages: output voltages [V]; not used (one point) for a branch without a converter.
        off: other branches that are switched off; bounds on them do not count.

    Raises:
        InputError: no such branch.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.parts.converter import Converter
    >>> from pdcheck.parts.loads import Load
    >>> box = BranchSpec("box", Load("1W"), Converter(kind="buck-boost", output="12V", efficiency=0.9))
    >>> spec = NetworkSpec(Triple.exact(20.0), (box,), series=(("cable", Triple.exact(0.2)),))
    >>> [point] = envelope(spec, "box", lambda output_v: [Bound("source", "current", "at_most", 3.0)], [12.0])
    >>> round(point.current_a.min, 4), point.first.node
    (4.365, 'source')
    """
    at_corners = list(networks(spec))
    index = position(at_corners[0][1].branches, branch_name)
    places: Sequence[float | None] = voltages if spec.branches[index].converter is not None else [None]
    return [_point(at_corners, index, bounds(output_v), output_v, off) for output_v in places]


def _point(
    at_corners: Sequence[tuple[Corner, Network]],
    index: int,
    bounds: Sequence[Bound],
    output_v: float | None,
    off: frozenset[str],
) -> EnvelopePoint:
    reaches = {corner: greatest_output(network, index, bounds, output_v, off) for corner, network in at_corners}
    typical = reaches[TYPICAL]
    worst = min(reaches.values(), key=lambda reach: reach.load_w)

    def over(value: Callable[[Reach], float]) -> Triple:
        values = [value(reach) for reach in reaches.values()]
        return Triple(min(values), value(typical), max(values))

    return EnvelopePoint(
        typical.output_v if output_v is None else output_v,
        over(lambda reach: reach.current_a),
        over(lambda reach: reach.output_v * reach.current_a),
        over(lambda reach: reach.load_w),
        worst.first,
        typical.first,
    )


def greatest_output(
    network: Network,
    index: int,
    bounds: Sequence[Bound],
    output_v: float | None,
    off: frozenset[str] = frozenset(),
) -> Reach:
    """The greatest output of one branch in one network, at one output voltage [V] (None without a converter)."""
    output = _Output(network, index, bounds, output_v, off)
    low, high = 0.0, 1.0
    best, first = output.tried(low)
    if first == "nothing":
        while first == "nothing" and high <= _FAR:
            reach, first = output.tried(high)
            if first == "nothing":
                best, low, high = reach, high, 2.0 * high
        while first != "nothing" and high - low > _RESOLUTION * high and high > _LEAST:
            middle = 0.5 * (low + high)
            reach, met = output.tried(middle)
            if met == "nothing":
                best, low = reach, middle
            else:
                high, first = middle, met
    return best._replace(first=first)


class _Output:
    """One branch at an output voltage, its demand to be tried: amperes at a converter's output, else watts."""

    def __init__(
        self, network: Network, index: int, bounds: Sequence[Bound], output_v: float | None, off: frozenset[str]
    ) -> None:
        branch = network.branches[index]
        if branch.converter is not None and output_v is not None:
            branch = branch._replace(converter=branch.converter.with_output(output_v))
        self.network, self.index, self.branch, self.off = network, index, branch, off - {branch.name}
        self.others = network.ports(off | {branch.name})
        held = network.source.holds_a
        own = [] if held is None else [Bound("source", "current", "at_most", held)]
        self.bounds = [*own, *(bound for bound in bounds if bound.branch not in self.off)]
        if network.heat is None:
            # What is just switched on has no temperature to hold against anything.
            self.bounds = [bound for bound in self.bounds if not is_warm(bound.node)]

    def tried(self, demand: float) -> tuple[Reach, Met]:
        """What comes out with a demand, and the first that it meets."""
        branch = self._demanding(demand)
        branches = list(self.network.branches)
        branches[self.index] = branch
        network = self.network._replace(branches=tuple(branches))
        if network.heat is None:
            ports = list(self.others)
            ports[self.index] = branch.port()
            solution = solve_bus(ports, network.source.open_v, network.series_ohm)
        else:
            network, solution = settled(network._replace(source=Source(network.source.open_v)), self.off)
        if isnan(solution.bus_v):
            output_v = 0.0 if branch.converter is None else branch.converter.output_v
            return Reach(output_v, 0.0, 0.0, "collapse"), "collapse"
        nodes = nodes_of(network, solution, self.off)
        out, end = nodes[f"{branch.name}/out"], nodes[f"{branch.name}/load"]
        # Without a converter wire and lead are one, and the output is what the load has.
        volts = end.voltage_v if branch.converter is None else out.voltage_v
        return Reach(volts, out.current_a, end.voltage_v * end.current_a, "nothing"), self._met(nodes, out)

    def _demanding(self, demand: float) -> Branch:
        if self.branch.converter is None:
            return self.branch._replace(load=PowerLoad.model_construct(power_w=demand), turns=())
        return self.branch._replace(load=CurrentLoad.model_construct(current_a=demand), turns=())

    def _met(self, nodes: dict[str, Node], out: Node) -> Met:
        met = next((bound for bound in self.bounds if not bound.holds(bound.value(*nodes[bound.node]))), None)
        if met is not None:
            return met
        # Past half its voltage a lead brings less to the load for more current.
        lost = self.branch.converter is not None and 2.0 * self.branch.lead_ohm * out.current_a > out.voltage_v
        return "collapse" if lost else "nothing"
