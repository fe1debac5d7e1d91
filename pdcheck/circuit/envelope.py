"""The envelope: the greatest output current of one branch at each output voltage, and the part that sets the limit.

The other branches keep running. Everything gets worse as the branch delivers more (the bus sags, every current
rises), so "carries it" turns to "does not" once, and a bisection finds where. An output that cannot be held without any
load (a boost whose input is above its output) counts as out of reach.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from pdcheck.circuit.corners import TYPICAL, Corner, NetworkSpec, network_at, spec_corners
from pdcheck.circuit.network import Branch, Converter, Network
from pdcheck.circuit.ports import Port, PowerPort, converter_port
from pdcheck.circuit.solve import ON_THE_LIMIT, BusSolution, network_ports, solve_bus
from pdcheck.errors import InputError
from pdcheck.quantities import Triple

LimitedBy = Literal[
    "source", "cable", "trigger", "wire", "converter input", "converter output", "lead", "collapse", "nothing"
]

_BISECTIONS = 60
_RESOLUTION = 1e-7
# Where nothing limits at all (no resistance, no limit known) the search ends here [A or W].
_FAR = 1e5
_LEAST = 1e-9


class Limits(NamedTuple):
    """What the parts around the converter may carry; None: not known, not judged.

    ``source_w`` is compared with the contract's nominal voltage times current, as ratings are meant.
    """

    source_a: float | None = None
    source_w: float | None = None
    cable_a: float | None = None
    trigger_a: float | None = None
    wire_a: float | None = None
    lead_a: float | None = None


class EnvelopePoint(NamedTuple):
    """The greatest output at one output voltage [V].

    ``current_a`` and ``power_w`` are at the converter's output, ``load_w`` at the end of the lead: min is the worst
    corner, typ everything as stated, max the best. ``limited_by`` is the part at the worst corner, ``limited_by_typ``
    as stated. Without a converter ``output_v`` is the voltage at the load, and the current is that of a constant power.
    """

    output_v: float
    current_a: Triple
    power_w: Triple
    load_w: Triple
    limited_by: LimitedBy
    limited_by_typ: LimitedBy


class Reach(NamedTuple):
    """The greatest output of one branch in one network: at the converter's output [V, A], and at the load [W]."""

    output_v: float
    current_a: float
    load_w: float
    limited_by: LimitedBy


def envelope(
    spec: NetworkSpec,
    branch_name: str,
    limits: Limits,
    voltages: Sequence[float],
    off: frozenset[str] = frozenset(),
) -> list[EnvelopePoint]:
    """The greatest output of a branch at each output voltage, over the corners of tolerance.

    Args:
        spec: the network on one contract. The branch's own load is left out of account.
        branch_name: the branch whose output is asked for.
        limits: what the parts may carry.
        voltages: output voltages [V]; not used (one point) for a branch without a converter.
        off: other branches that are switched off.

    Raises:
        InputError: no such branch.

    >>> from pdcheck.circuit.corners import BranchSpec
    >>> from pdcheck.circuit.network import ConstantPower, Converter
    >>> box = BranchSpec("box", ConstantPower(0.0), Converter("buck-boost", 12.0, 0.9))
    >>> spec = NetworkSpec(Triple.exact(20.0), (box,), cable=Triple.exact(0.2))
    >>> [point] = envelope(spec, "box", Limits(source_a=3.0), [12.0])
    >>> round(point.current_a.min, 4), point.limited_by
    (4.365, 'source')
    """
    index = _position(spec, branch_name)
    places: Sequence[float | None] = voltages if spec.branches[index].converter is not None else [None]
    networks = [(corner, network_at(spec, corner)) for corner in spec_corners(spec)]
    return [_point(networks, index, limits, output_v, spec.source_v.typ, off) for output_v in places]


def _position(spec: NetworkSpec, branch_name: str) -> int:
    for index, branch in enumerate(spec.branches):
        if branch.name == branch_name:
            return index
    known = ", ".join(branch.name for branch in spec.branches)
    raise InputError(f"no branch named {branch_name!r}", expected=f"one of {known}")


def _point(
    networks: list[tuple[Corner, Network]],
    index: int,
    limits: Limits,
    output_v: float | None,
    nominal_v: float,
    off: frozenset[str],
) -> EnvelopePoint:
    reaches = {
        corner: greatest_output(network, index, limits, output_v, nominal_v, off) for corner, network in networks
    }
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
        worst.limited_by,
        typical.limited_by,
    )


def greatest_output(
    network: Network,
    index: int,
    limits: Limits,
    output_v: float | None,
    nominal_v: float,
    off: frozenset[str] = frozenset(),
) -> Reach:
    """The greatest output of one branch in one network, at one output voltage [V] (None without a converter)."""
    branch = network.branches[index]
    converter = branch.converter
    if converter is not None and output_v is not None:
        branch = branch._replace(converter=converter._replace(output_v=output_v))
    others = network_ports(network, off | {branch.name})
    if others is None:
        return Reach(output_v or 0.0, 0.0, 0.0, "collapse")

    def tried(demand: float) -> tuple[BusSolution | None, LimitedBy]:
        ports = list(others)
        ports[index] = _demanding(branch, demand)
        solution = solve_bus(ports, network.source.open_v, network.series_ohm)
        if solution is None:
            return None, "collapse"
        return solution, _limit(network, branch, limits, solution, index, demand, nominal_v)

    best, limited_by = tried(0.0)
    low, high = 0.0, 1.0
    if limited_by == "nothing":
        while limited_by == "nothing" and high <= _FAR:
            solution, limited_by = tried(high)
            if limited_by == "nothing":
                best, low, high = solution, high, 2.0 * high
        while limited_by != "nothing" and high - low > _RESOLUTION * high and high > _LEAST:
            middle = 0.5 * (low + high)
            solution, part = tried(middle)
            if part == "nothing":
                best, low = solution, middle
            else:
                high, limited_by = middle, part
    return _reach(branch, best, index, low, limited_by)


def _demanding(branch: Branch, demand: float) -> Port:
    if branch.converter is None:
        return PowerPort(branch.wire_ohm + branch.lead_ohm, demand)
    return converter_port(branch.converter, branch.wire_ohm, demand)


def _reach(branch: Branch, solution: BusSolution | None, index: int, demand: float, limited_by: LimitedBy) -> Reach:
    if branch.converter is not None:
        output_v = branch.converter.output_v
        return Reach(output_v, demand, (output_v - branch.lead_ohm * demand) * demand, limited_by)
    if solution is None:
        return Reach(0.0, 0.0, 0.0, limited_by)
    current = solution.port_a[index]
    return Reach(solution.bus_v - (branch.wire_ohm + branch.lead_ohm) * current, current, demand, limited_by)


def _limit(
    network: Network,
    branch: Branch,
    limits: Limits,
    solution: BusSolution,
    index: int,
    demand: float,
    nominal_v: float,
) -> LimitedBy:
    """The first part that is past its limit, in the order from source to load; ``nothing`` where none is."""
    total, own = solution.current_a, solution.port_a[index]

    def past(value: float, limit: float | None) -> bool:
        return limit is not None and value > limit * (1.0 + ON_THE_LIMIT)

    if past(total, limits.source_a) or past(total * nominal_v, limits.source_w):
        return "source"
    if network.source.limit_kind == "pps" and past(total, network.source.limit_a):
        return "source"
    if past(total, limits.cable_a):
        return "cable"
    if past(total, limits.trigger_a):
        return "trigger"
    if past(own, limits.wire_a):
        return "wire"
    converter = branch.converter
    if converter is None:
        return "lead" if past(own, limits.lead_a) else "nothing"
    input_v = solution.bus_v - branch.wire_ohm * own
    if past(own, converter.input_limit_a) or past(own * input_v, converter.input_limit_w):
        return "converter input"
    if not _input_fits(converter, input_v):
        return "converter input"
    if past(demand, converter.output_limit_a) or past(demand * converter.output_v, converter.output_limit_w):
        return "converter output"
    if past(demand, limits.lead_a):
        return "lead"
    return "collapse" if 2.0 * branch.lead_ohm * demand > converter.output_v else "nothing"


def _input_fits(converter: Converter, input_v: float) -> bool:
    least = converter.input_min_v or 0.0
    if converter.kind == "buck":
        least = max(least, converter.output_v + converter.dropout_v)
    most = converter.input_max_v if converter.input_max_v is not None else float("inf")
    if converter.kind == "boost":
        most = min(most, converter.output_v)
    return least * (1.0 - ON_THE_LIMIT) <= input_v <= most * (1.0 + ON_THE_LIMIT)
