"""Starting from 0 V: would a constant-power converter hold a current-limited source down (latch low)?

While the bus rises, the source gives at most its limit. A converter that starts at a low voltage draws its full power
there, P / V, which is more current than at the operating point. If that is more than is left for it anywhere on the
way up, the bus stops rising: it latches low, or the converter stops and starts over and over.
"""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.network import Branch, ConstantPower, LedDriver, Network
from pdcheck.circuit.ports import Port, input_power, output_current
from pdcheck.circuit.solve import ON_THE_LIMIT, BusSolution, network_ports, solve_bus

POINTS = 256
NEARLY_NOTHING = 1e-6


class Latch(NamedTuple):
    """A branch that cannot start: stuck at ``input_v`` [V], where it wants ``wanted_a`` and can get ``available_a``.

    ``start_v`` is the least start-up voltage [V] from which it would rise past that; None where no start-up voltage
    helps, because there is no operating point at this current either.
    """

    branch: str
    input_v: float
    wanted_a: float
    available_a: float
    start_v: float | None


def start_voltage(branch: Branch) -> float | None:
    """The bus or input voltage [V] at which a branch starts to draw; None where nothing says.

    A converter: as stated, else its least input voltage. An LED driver: string and headroom. A plain resistance, a
    current and a string with a resistor draw from 0 V. Of a constant power on the bus itself nobody knows.
    """
    if branch.converter is not None:
        if branch.converter.start_v is not None:
            return branch.converter.start_v
        return branch.converter.input_min_v
    if isinstance(branch.load, LedDriver):
        return branch.load.string_v + branch.load.headroom_v
    return None if isinstance(branch.load, ConstantPower) else 0.0


def start_up(network: Network, limit_a: float, off: frozenset[str] = frozenset()) -> tuple[Latch, ...]:
    """The branches that latch low when the bus rises from 0 V on a source that gives at most ``limit_a`` [A].

    Each branch with a converter is followed from its start-up voltage to its operating point, with full load from the
    first moment, and the other branches drawing what they draw at each bus voltage (converters among them once they
    have started). Branches in ``off`` draw nothing. Source: Kirchhoff's laws, P = V x I [any circuits textbook].

    >>> from pdcheck.circuit.network import Converter, Source
    >>> box = Branch("box", ConstantPower(9.0), Converter("boost", 12.0, 0.9, start_v=3.0))
    >>> [latch] = start_up(Network(Source(5.0), (box,)), limit_a=3.0)
    >>> latch.input_v, round(latch.wanted_a, 6), latch.available_a, round(latch.start_v, 3)
    (3.0, 3.333333, 3.0, 3.333)
    >>> start_up(Network(Source(5.0), (box,)), limit_a=3.5)
    ()
    """
    ports = network_ports(network, off)
    if ports is None:
        return ()
    solution = solve_bus(ports, network.source.open_v, network.series_ohm)
    if solution is None:
        return ()
    latches = (
        _follow(network, ports, index, limit_a, solution)
        for index, branch in enumerate(network.branches)
        if branch.converter is not None and branch.name not in off
    )
    return tuple(latch for latch in latches if latch is not None)


def _follow(network: Network, ports: list[Port], index: int, limit_a: float, solution: BusSolution) -> Latch | None:
    branch = network.branches[index]
    converter, start_v = branch.converter, start_voltage(branch)
    output_a = None if converter is None else output_current(converter, branch)
    end_v = solution.bus_v - branch.wire_ohm * solution.port_a[index]
    if converter is None or output_a is None or start_v is None or start_v >= end_v:
        return None

    def wanted_and_available(input_v: float) -> tuple[float, float]:
        wanted = input_power(converter, input_v, output_a) / input_v
        return wanted, _available(network, ports, index, input_v + branch.wire_ohm * wanted, limit_a)

    def stuck(input_v: float) -> bool:
        wanted, available = wanted_and_available(input_v)
        return wanted > available * (1.0 + ON_THE_LIMIT)

    lowest = max(start_v, NEARLY_NOTHING * end_v)
    inputs = [lowest + (end_v - lowest) * step / POINTS for step in range(POINTS)]
    blocked = [input_v for input_v in inputs if stuck(input_v)]
    if not blocked:
        return None
    latch = Latch(branch.name, blocked[0], *wanted_and_available(blocked[0]), None)
    if solution.current_a > limit_a * (1.0 + ON_THE_LIMIT) or blocked[-1] == inputs[-1]:
        return latch
    low = blocked[-1]
    high = min(input_v for input_v in inputs if input_v > low)
    while high - low > ON_THE_LIMIT * high:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if stuck(middle) else (low, middle)
    return latch._replace(start_v=high)


def _available(network: Network, ports: list[Port], index: int, bus_v: float, limit_a: float) -> float:
    """What the source has left [A] for one branch at a bus voltage [V], the other branches drawing theirs."""
    if bus_v >= network.source.open_v:
        return 0.0
    left = limit_a
    if network.series_ohm > 0.0:
        left = min(left, (network.source.open_v - bus_v) / network.series_ohm)
    left -= network.bus_a
    for other, branch in enumerate(network.branches):
        start_v = start_voltage(branch)
        if other != index and start_v is not None and start_v <= bus_v:
            # Below its least voltage a converter pulls as hard as it ever does.
            left -= ports[other].current(max(bus_v, ports[other].least_v, NEARLY_NOTHING))[0]
    return max(left, 0.0)
