"""The operating point of the bus: the highest voltage at which what arrives equals what is drawn.

With the bus at V, a source of open-circuit voltage V0 behind R brings (V0 - V) / R, and the branches draw the sum of
I_b(V). All I_b are convex, so f(V) = V0 - V - R sum I_b(V) is concave: Newton's steps from V = V0 fall monotonically
onto its upper root and never step over it. Where a tangent points the wrong way (f' >= 0) or leads out of the domain
while f is still negative, there is no root: the bus collapses. Where branches have efficiency tables, f is concave
in pieces, and the same steps go piece by piece from the top. At a current limit (constant-current source) f(V) =
I_limit - sum I_b(V), by the same reasoning.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from pdcheck.circuit.network import Network
from pdcheck.circuit.ports import NOTHING, TANGENT, CurrentPort, LinearPort, Port, PowerPort, branch_port
from pdcheck.circuit.table_port import TablePiece, TablePort

Piece = PowerPort | CurrentPort | LinearPort | TablePiece

# Values this close to a limit [relative] are on it: far below what matters, far above rounding.
ON_THE_LIMIT = 1e-9
_NEWTON_STEPS = 200


class BusSolution(NamedTuple):
    """The solved bus: its voltage [V], the source's voltage [V] and current [A], and each port's current [A]."""

    bus_v: float
    source_v: float
    current_a: float
    constant_current: bool
    port_a: tuple[float, ...]


def intervals(ports: Sequence[Port]) -> Iterator[tuple[float, float, list[Piece]]]:
    """(low V, high V, pieces) from the top down: on each interval every branch is one convex piece."""
    least = max((port.least_v for port in ports), default=0.0)
    tables = [port for port in ports if isinstance(port, TablePort)]
    if not tables:
        yield least, float("inf"), [port for port in ports if not isinstance(port, TablePort)]
        return
    joints = sorted({piece.low_v for port in tables for piece in port.pieces if piece.low_v > least}, reverse=True)
    high = float("inf")
    for low in [*joints, least]:
        yield low, high, [port.piece(low) if isinstance(port, TablePort) else port for port in ports]
        high = low


def highest_root(
    ports: Sequence[Port], given: float, per_volt: float, per_ampere: float, start_v: float
) -> float | None:
    """The highest V <= start_v with given = per_volt x V + per_ampere x sum I_b(V), or None.

    The left side may not be the greater one at ``start_v``. A tangent that misses by less than 1e-10 of ``given``
    counts as a touch, so that exactly the maximum power transfer has a solution.
    """
    bus_v = start_v
    for low, high, pieces in intervals(ports):
        bus_v = min(bus_v, high)
        if bus_v < low * (1.0 - TANGENT):
            continue
        for _ in range(_NEWTON_STEPS):
            excess = given - per_volt * bus_v
            slope = -per_volt
            for piece in pieces:
                current, current_slope = piece.current(bus_v)
                excess -= per_ampere * current
                slope -= per_ampere * current_slope
            if excess >= 0.0:
                return bus_v
            touches = -excess <= TANGENT * given
            step = excess / slope if slope < 0.0 else bus_v
            if touches and (step <= 1e-14 * bus_v or step >= bus_v - low):
                return bus_v
            if step >= bus_v - low:
                break
            bus_v -= step
    return None


def solve_bus(
    ports: Sequence[Port], open_v: float, series_ohm: float, limit_a: float | None = None
) -> BusSolution | None:
    """Solve the bus for branches already reduced to ports; None where it collapses.

    Args:
        ports: the branches as the bus sees them.
        open_v: open-circuit voltage of the source [V].
        series_ohm: loop resistance between source and bus [ohm].
        limit_a: current at which the source turns into a constant-current one [A]; None for none.

    >>> solution = solve_bus([PowerPort(0.0, 36.0)], 20.0, 0.25)
    >>> round(solution.bus_v, 6), round(solution.current_a, 6)
    (19.539392, 1.842432)
    """
    if open_v <= 0.0:
        return None
    bus_v = highest_root(ports, open_v, 1.0, series_ohm, open_v)
    if bus_v is None:
        return None
    port_a = tuple([port.current(bus_v)[0] for port in ports])
    current = sum(port_a)
    if limit_a is None or current <= limit_a * (1.0 + ON_THE_LIMIT):
        return BusSolution(bus_v, open_v, current, False, port_a)
    start_v = open_v - series_ohm * limit_a
    bus_v = highest_root(ports, limit_a, 0.0, 1.0, start_v) if start_v > 0.0 else None
    if bus_v is None:
        return None
    port_a = tuple([port.current(bus_v)[0] for port in ports])
    return BusSolution(bus_v, bus_v + series_ohm * limit_a, limit_a, True, port_a)


def network_ports(network: Network, off: frozenset[str] = frozenset()) -> list[Port] | None:
    """Each branch as the bus sees it, in order, then the bus's own draw if any; None where a lead has no solution."""
    ports: list[Port] = []
    for branch in network.branches:
        port = NOTHING if branch.name in off else branch_port(branch)
        if port is None:
            return None
        ports.append(port)
    if network.bus_a:
        ports.append(CurrentPort(0.0, network.bus_a))
    return ports


def solve_network(network: Network, off: frozenset[str] = frozenset()) -> BusSolution | None:
    """The solved bus of a network without the branches in ``off``; None where the bus, a wire or a lead collapses."""
    ports = network_ports(network, off)
    if ports is None:
        return None
    source = network.source
    limit_a = source.limit_a if source.limit_kind == "pps" else None
    return solve_bus(ports, source.open_v, network.series_ohm, limit_a)
