"""Starting from 0 V: would a constant-power converter hold a current-limited source down (latch low)?

While the bus rises, the source gives at most its limit. A converter that starts at a low voltage draws its full power
there, P / V, which is more current than at the operating point. If that is more than is left for it anywhere on the
way up, the bus stops rising: it latches low, or the converter stops and starts over and over.
"""

from __future__ import annotations

from math import isnan

from pdcheck.circuit.network import Branch, Network
from pdcheck.named import NamedTuple
from pdcheck.physics.bus import BusSolution, solve_bus
from pdcheck.physics.number import ON_THE_LIMIT, Condition, Number, greater, lesser, mapped, where
from pdcheck.physics.ports import Port

POINTS = 256
NEARLY_NOTHING = 1e-6
# Circuits taken together, so that the points of all of them stay within a few megabytes.
_TOGETHER = 2000


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
    """The bus or input voltage [V] at which a branch starts to draw; None where nothing says."""
    return branch.load.starts_at_v if branch.converter is None else branch.converter.starts_at_v


class _Rise(NamedTuple):
    """The way up of one branch with a converter, beside the others: each as the bus sees it, from where it draws."""

    open_v: Number
    series_ohm: Number
    limit_a: Number
    bus_a: float
    others: tuple[tuple[float, Port], ...]
    output_w: Number
    end_v: Number
    """The input voltage [V] in the end, NaN where the bus collapses."""

    def wanted_and_available(self, branch: Branch, input_v: Number) -> tuple[Number, Number]:
        """What the branch wants [A] at an input voltage [V], and what the source has left for it there."""
        assert branch.converter is not None
        wanted = branch.converter.input_power_for(self.output_w, input_v) / input_v
        bus_v = input_v + branch.wire_ohm * wanted
        stiff = self.series_ohm <= 0.0
        through = where(stiff, float("inf"), (self.open_v - bus_v) / where(stiff, 1.0, self.series_ohm))
        left = lesser(self.limit_a, through) - self.bus_a
        for start_v, port in self.others:
            # Below its least voltage a converter pulls as hard as it ever does.
            taken = port.current(greater(greater(bus_v, port.least_v), NEARLY_NOTHING))[0]
            left = left - where(start_v <= bus_v, taken, 0.0)
        return wanted, where(bus_v < self.open_v, greater(left, 0.0), 0.0)

    def stuck(self, branch: Branch, input_v: Number) -> Condition:
        """Whether the branch wants more than there is."""
        wanted, available = self.wanted_and_available(branch, input_v)
        return wanted > available * (1.0 + ON_THE_LIMIT)


def _rise(
    network: Network, ports: list[Port], solution: BusSolution, limit_a: Number, index: int
) -> tuple[float, _Rise] | None:
    """The start of a branch and its way up; None where it does not start by itself."""
    branch = network.branches[index]
    start_v, output_a = start_voltage(branch), branch.output_a()
    if branch.converter is None or output_a is None or start_v is None:
        return None
    starts = [(start_voltage(each), port) for each, port in zip(network.branches, ports, strict=False)]
    others = tuple((start, port) for at, (start, port) in enumerate(starts) if at != index and start is not None)
    end_v = solution.bus_v - branch.wire_ohm * solution.port_a[index]
    output_w = branch.converter.output_v * output_a
    return start_v, _Rise(network.source.open_v, network.series_ohm, limit_a, network.bus_a, others, output_w, end_v)


def start_up(network: Network, limit_a: float) -> tuple[Latch, ...]:
    """The branches that latch low when the bus rises from 0 V on a source that gives at most ``limit_a`` [A].

    Each branch with a converter is followed from its start-up voltage to its operating point, with full load from the
    first moment, and the other branches drawing what they draw at each bus voltage (converters among them once they
    have started). Source: Kirchhoff's laws, P = V x I [any circuits textbook].

    >>> from pdcheck.circuit.network import Source
    >>> from pdcheck.parts.converter import Converter
    >>> from pdcheck.parts.loads import Load
    >>> box = Branch("box", Load("9W"), Converter(kind="boost", output="12V", efficiency=0.9, start="3V"))
    >>> [latch] = start_up(Network(Source(5.0), (box,)), limit_a=3.0)
    >>> latch.input_v, round(latch.wanted_a, 6), latch.available_a, round(latch.start_v, 3)
    (3.0, 3.333333, 3.0, 3.333)
    >>> start_up(Network(Source(5.0), (box,)), limit_a=3.5)
    ()
    """
    ports = network.ports()
    solution = solve_bus(ports, network.source.open_v, network.series_ohm)
    if isnan(solution.bus_v):
        return ()
    rises = (_rise(network, ports, solution, limit_a, index) for index in range(len(network.branches)))
    followed = (
        _follow(branch, *rise, solution.current_a <= limit_a * (1.0 + ON_THE_LIMIT))
        for branch, rise in zip(network.branches, rises, strict=True)
        if rise is not None
    )
    return tuple(latch for latch in followed if latch is not None)


def _follow(branch: Branch, start_v: float, rise: _Rise, runs: bool) -> Latch | None:
    if start_v >= rise.end_v:
        return None
    lowest = max(start_v, NEARLY_NOTHING * rise.end_v)
    inputs = [lowest + (rise.end_v - lowest) * step / POINTS for step in range(POINTS)]
    blocked = [input_v for input_v in inputs if rise.stuck(branch, input_v)]
    if not blocked:
        return None
    latch = Latch(branch.name, blocked[0], *rise.wanted_and_available(branch, blocked[0]), None)
    if not runs or blocked[-1] == inputs[-1]:
        return latch
    low = blocked[-1]
    high = min(input_v for input_v in inputs if input_v > low)
    while high - low > ON_THE_LIMIT * high:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rise.stuck(branch, middle) else (low, middle)
    return latch._replace(start_v=high)


def latching(network: Network, limit_a: Number) -> Condition:
    """Whether some branch latches low, in each of many circuits: as ``start_up``, told without where.

    ``limit_a`` [A] and the source's voltage are arrays, one figure for each circuit.

    >>> import numpy as np
    >>> from pdcheck.circuit.network import Source
    >>> from pdcheck.parts.converter import Converter
    >>> from pdcheck.parts.loads import Load
    >>> box = Branch("box", Load("9W"), Converter(kind="boost", output="12V", efficiency=0.9, start="3V"))
    >>> latching(Network(Source(np.array([5.0, 5.0])), (box,)), np.array([3.0, 3.5])).tolist()
    [True, False]
    """
    import numpy as np

    ports = network.ports()
    solution = solve_bus(ports, network.source.open_v, network.series_ohm)
    found = np.zeros(solution.bus_v.shape, dtype=np.bool_)
    for index, branch in enumerate(network.branches):
        start = _rise(network, ports, solution, limit_a, index)
        if start is None:
            continue
        start_v, whole = start
        for first in range(0, len(found), _TOGETHER):
            part = slice(first, first + _TOGETHER)
            # One row for each circuit: its points stand beside each other.
            rise: _Rise = mapped(whole, lambda array: array[part, None])  # noqa: B023
            lowest = np.maximum(start_v, NEARLY_NOTHING * rise.end_v)
            inputs = lowest + (rise.end_v - lowest) * np.arange(POINTS) / POINTS
            # NaN, a circuit that collapses and has no point to start to, compares false in all of this.
            found[part] |= (start_v < rise.end_v[:, 0]) & rise.stuck(branch, inputs).any(axis=1)
    return found
