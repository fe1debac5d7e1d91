"""Collapse: which element has no solution, and at how many watts it happens."""

from __future__ import annotations

from math import isnan

from pdcheck.circuit.network import Branch, Network, Source
from pdcheck.circuit.point import nodes_of
from pdcheck.named import NamedTuple
from pdcheck.physics.bus import TANGENT, BusSolution
from pdcheck.physics.ports import CurrentPort, Port, PowerPort

_BISECTIONS = 60


def greatest_power(voltage_v: float, resistance_ohm: float) -> float:
    """Greatest power [W] that a voltage [V] can deliver through a resistance [ohm], above 0.

    Source: maximum power transfer, V^2 / (4 R) [any circuits textbook].

    >>> greatest_power(20.0, 0.25)
    400.0
    """
    return voltage_v * voltage_v / (4.0 * resistance_ohm)


class Collapse(NamedTuple):
    """No operating point: the loads ask for more than an element can deliver.

    ``element`` is ``NAME/lead`` (the converter's output cannot push the load's power through the lead), ``NAME/wire``
    (the branch's wire cannot, even on a bus that does not sag), ``source`` (a constant-current source holds the bus
    down) or ``bus`` (everything together). ``greatest_w`` is the greatest power [W] that this element can pass on: at
    the load for a lead, at the branch's input for a wire, at the bus for ``bus`` and ``source``. ``wanted_w`` is what
    would be asked of it there on a source without any resistance. ``scale`` is the greatest factor on what all loads
    demand that the network does carry, with ``load_w`` [W] at all loads' terminals then.
    """

    element: str
    wanted_w: float
    greatest_w: float
    scale: float
    load_w: float


def greatest_scale(network: Network, off: frozenset[str] = frozenset()) -> tuple[float, BusSolution | None]:
    """The greatest factor from 0 to 1 on what all loads demand that the network carries, and its solution.

    None where it does not even carry none of it. More load never turns a collapse into a solution, so a bisection
    finds it, to 1e-12.
    """
    solution = network.demanding(0.0).solve(off)
    if isnan(solution.bus_v):
        return 0.0, None
    low, high = 0.0, 1.0
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        tried = network.demanding(middle).solve(off)
        if isnan(tried.bus_v):
            high = middle
        else:
            low, solution = middle, tried
        if high - low <= 1e-12 * high:
            break
    return low, solution


def explain_collapse(network: Network, off: frozenset[str] = frozenset()) -> Collapse:
    """Say which element of a network without an operating point has no solution, and at how many watts it happens.

    >>> from pdcheck.parts.loads import Load
    >>> lamp = Branch("lamp", Load("40W"), wire_ohm=1.0)
    >>> collapse = explain_collapse(Network(Source(10.0), (lamp,)))
    >>> collapse.element, round(collapse.greatest_w, 6), round(collapse.scale, 6)
    ('lamp/wire', 25.0, 0.625)
    """
    scale, solution = greatest_scale(network, off)
    load_w = 0.0
    if solution is not None:
        nodes = nodes_of(network.demanding(scale), solution, off)
        load_w = sum(node.voltage_v * node.current_a for name, node in nodes.items() if name.endswith("/load"))
    element, wanted_w, greatest_w = _weakest(network, solution, off)
    return Collapse(element, wanted_w, greatest_w, scale, load_w)


def _weakest(network: Network, solution: BusSolution | None, off: frozenset[str]) -> tuple[str, float, float]:
    open_v = network.source.open_v
    alive = [branch for branch in network.branches if branch.name not in off]
    for branch in alive:
        behind = branch.load.port(branch.lead_ohm)
        if branch.converter is not None and isnan(branch.converter.output_a(behind)):
            return f"{branch.name}/lead", *_asked_and_had(behind, branch.converter.output_v)
    for branch in alive:
        if open_v < branch.port().least_v * (1.0 - TANGENT):
            return f"{branch.name}/wire", *_wire_limits(branch, open_v)
    greatest_w = 0.0
    if solution is not None:
        greatest_w = solution.bus_v * solution.current_a
    elif network.series_ohm > 0.0 and open_v > 0.0:
        greatest_w = greatest_power(open_v, network.series_ohm)
    wanted_w = open_v * sum(port.current(open_v)[0] for port in network.ports(off)) if open_v > 0.0 else 0.0
    unlimited = network._replace(source=Source(open_v))
    return "bus" if isnan(unlimited.solve(off).bus_v) else "source", wanted_w, greatest_w


def _asked_and_had(port: Port, voltage_v: float) -> tuple[float, float]:
    """Power [W] asked for through a port's resistance, and the greatest that a voltage [V] gives through it."""
    if isinstance(port, PowerPort):
        return port.power_w, greatest_power(voltage_v, port.resistance_ohm)
    if isinstance(port, CurrentPort):
        return voltage_v * port.current_a, voltage_v * voltage_v / port.resistance_ohm
    return 0.0, 0.0


def _wire_limits(branch: Branch, open_v: float) -> tuple[float, float]:
    port = branch.port()
    if isinstance(port, PowerPort | CurrentPort):
        return _asked_and_had(port, open_v)
    # With an efficiency table the power asked for depends on the voltage: found by scaling the branch alone.
    scale, solution = greatest_scale(Network(Source(open_v), (branch,)))
    if solution is None or scale <= 0.0:
        return 0.0, 0.0
    greatest_w = (open_v - branch.wire_ohm * solution.current_a) * solution.current_a
    return greatest_w / scale, greatest_w
