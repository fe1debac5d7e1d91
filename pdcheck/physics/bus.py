"""The operating point of the bus: the highest voltage at which what arrives equals what is drawn.

With the bus at V, a source of open-circuit voltage V0 behind R brings (V0 - V) / R, and the branches draw the sum of
I_b(V). All I_b are convex, so f(V) = V0 - V - R sum I_b(V) is concave: Newton's steps from V = V0 fall monotonically
onto its upper root and never step over it. Where a tangent points the wrong way (f' >= 0) or leads out of the domain
while f is still negative, there is no root: the bus collapses. Where branches have efficiency tables, f is concave
in pieces: no step goes past the end of a piece, and from there the same steps go on with the next one below. At a
current limit (constant-current source) f(V) = I_limit - sum I_b(V), by the same reasoning.

One circuit is solved with floats, many with arrays: the steps are the same.
"""

from __future__ import annotations

from collections.abc import Sequence

from pdcheck.named import NamedTuple
from pdcheck.physics.number import NAN, ON_THE_LIMIT, Number, anywhere, greater, taken, where
from pdcheck.physics.ports import Port
from pdcheck.physics.table import TablePort

TANGENT = 1e-10
"""How far past maximum power transfer [relative] still counts as on it: rounding decides nothing."""

# Far more than any bus takes: near a touch a step halves what is left, and each piece begins anew.
_MOST_STEPS = 5000


class BusSolution(NamedTuple):
    """The solved bus: its voltage [V], the source's voltage [V] and current [A], and each port's current [A].

    ``constant_current``: the source holds its current. All is NaN where the bus collapses.
    """

    bus_v: Number
    source_v: Number
    current_a: Number
    constant_current: Number
    port_a: tuple[Number, ...]


def highest_root(ports: Sequence[Port], given: Number, per_volt: float, per_ampere: Number, start_v: Number) -> Number:
    """The highest V <= start_v with given = per_volt x V + per_ampere x sum I_b(V), or NaN.

    The left side may not be the greater one at ``start_v``. A tangent that misses by less than 1e-10 of ``given``
    counts as a touch, so that exactly the maximum power transfer has a solution. For many circuits ``start_v`` is an
    array of one dimension; every other figure is another one, or the same for all.
    """
    fits = start_v > 0.0
    least: Number = 0.0
    for port in ports:
        floor = port.least_v
        # Not met where a power is NaN, which no lead can bring.
        fits = fits & (start_v >= floor * (1.0 - TANGENT))
        least = greater(least, floor)
    bus_v, many = start_v, not isinstance(start_v, float)
    found = NAN * start_v
    if many:
        cells = fits.nonzero()[0]
        bus_v, given, per_ampere, least, ports = taken((bus_v, given, per_ampere, least, tuple(ports)), cells)
    elif not fits:
        return NAN
    for _ in range(_MOST_STEPS):
        excess, slope, low = given - per_volt * bus_v, -per_volt, least
        for port in ports:
            current, rise = port.current(bus_v)
            excess, slope = excess - per_ampere * current, slope - per_ampere * rise
            if isinstance(port, TablePort):
                low = greater(low, port.joint_v(bus_v))
        falls = slope < 0.0
        step = where(falls, excess / where(falls, slope, -1.0), bus_v)
        leaves = step >= bus_v - low
        # On a port that is next to a short circuit the last step is less than the voltage can tell.
        stands = falls & (bus_v - step >= bus_v)
        root = (excess >= 0.0) | stands | ((-excess <= TANGENT * given) & (leaves | (step <= 1e-14 * bus_v)))
        ended = root | (leaves & (low <= least))
        if many:
            found[cells[root]] = bus_v[root]
            stays = (~ended).nonzero()[0]
            if not stays.size:
                break
            bus_v = where(leaves, low, bus_v - step)
            if stays.size < cells.size:
                cells = cells[stays]
                bus_v, given, per_ampere, least, ports = taken((bus_v, given, per_ampere, least, ports), stays)
        elif ended:
            return bus_v if root else NAN
        else:
            bus_v = low if leaves else bus_v - step
    return found


def solve_bus(ports: Sequence[Port], open_v: Number, series_ohm: Number, limit_a: Number | None = None) -> BusSolution:
    """Solve the bus for branches already reduced to ports.

    Args:
        ports: the branches as the bus sees them.
        open_v: open-circuit voltage of the source [V]; for many circuits an array.
        series_ohm: loop resistance between source and bus [ohm].
        limit_a: current at which the source turns into a constant-current one [A]; None for none.

    >>> from pdcheck.physics.ports import PowerPort
    >>> solution = solve_bus([PowerPort(0.0, 36.0)], 20.0, 0.25)
    >>> round(solution.bus_v, 6), round(solution.current_a, 6)
    (19.539392, 1.842432)
    """
    bus_v = highest_root(ports, open_v, 1.0, series_ohm, open_v)
    source_v = open_v + 0.0 * bus_v
    port_a = _drawn(ports, bus_v)
    total = sum(port_a) + 0.0 * bus_v
    held = False if limit_a is None else total > limit_a * (1.0 + ON_THE_LIMIT)
    if not anywhere(held):
        return BusSolution(bus_v, source_v, total, held, port_a)
    if isinstance(held, bool):
        bus_v = highest_root(ports, limit_a, 0.0, 1.0, open_v - series_ohm * limit_a)
        return BusSolution(bus_v, bus_v + series_ohm * limit_a, limit_a + 0.0 * bus_v, held, _drawn(ports, bus_v))
    cells = held.nonzero()[0]
    some_v, some_ohm, some_a, some = taken((open_v, series_ohm, limit_a, tuple(ports)), cells)
    bus_v[cells] = fallen = highest_root(some, some_a, 0.0, 1.0, some_v - some_ohm * some_a)
    source_v[cells], total[cells] = fallen + some_ohm * some_a, some_a + 0.0 * fallen
    return BusSolution(bus_v, source_v, total, held, _drawn(ports, bus_v))


def _drawn(ports: Sequence[Port], bus_v: Number) -> tuple[Number, ...]:
    return tuple([port.current(bus_v)[0] for port in ports])
