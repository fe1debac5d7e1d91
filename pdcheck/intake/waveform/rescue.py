"""A second, slower reading of a packet: the likeliest bits over all edges at once, pulses left out where that fits."""

from __future__ import annotations

from pdcheck.intake.waveform.clock import PERIOD_MAX_S, PERIOD_MIN_S, Bits, Lock
from pdcheck.named import NamedTuple

_SURVIVORS = 4
_FARTHEST = 0.4
_PULSE_COST = 0.12
_PULSE_BITS = 0.45
_PHASE_GAIN, _PERIOD_GAIN = 0.25, 0.015


class _Path(NamedTuple):
    """Bits up to an edge: summed squared error in bits, the clock there, and how it came there."""

    cost: float
    boundary: float
    period: float
    before: _Path | None
    bit: int
    edge: int


def read_bits_again(edges: list[float], lock: Lock, captured_s: float) -> Bits:
    """Bits from a lock on, as ``read_bits`` gives them, by the path of least squared error through the edges.

    ``edges`` are raw, in seconds, ``lock.edge`` the index of the boundary in them. At every edge the few best paths are
    kept; a path may leave out a short pulse at a price. Several times slower than ``read_bits`` and less easily misled.
    """
    live: dict[int, list[_Path]] = {lock.edge: [_Path(0.0, lock.boundary, lock.period, None, 0, lock.edge)]}
    final: _Path | None = None
    for at in range(lock.edge, len(edges)):
        paths = live.pop(at, None)
        if not paths:
            if not live:
                break
            continue
        paths.sort(key=lambda path: path.cost)
        for path in paths[:_SURVIVORS]:
            grown = _grow(path, edges, live)
            if not grown and (final is None or path.edge > final.edge):
                final = path
    return _unrolled(final, edges, captured_s)


def _grow(path: _Path, edges: list[float], live: dict[int, list[_Path]]) -> bool:
    """Add every way to go on by one bit from a path; False when there is none."""
    cost, boundary, period, _, _, at = path
    grown = False
    for first, first_cost in _next_edges(edges, at, period):
        one = (edges[first] - boundary) / period
        if one > 1 + _FARTHEST:
            continue
        error = one - 1
        if error > -_FARTHEST:
            _keep(live, path, 0, first, error, cost + first_cost + error * error)
            grown = True
        half = one - 0.5
        if not -_FARTHEST < half < _FARTHEST:
            continue
        for second, second_cost in _next_edges(edges, first, period):
            error = (edges[second] - boundary) / period - 1
            if -_FARTHEST < error < _FARTHEST:
                price = first_cost + second_cost + half * half + error * error
                _keep(live, path, 1, second, (error + half) / 2, cost + price)
                grown = True
    return grown


def _next_edges(edges: list[float], at: int, period: float) -> list[tuple[int, float]]:
    """The next edge, and the one after a short pulse, each with its price."""
    last = len(edges) - 1
    if at >= last:
        return []
    found = [(at + 1, 0.0)]
    if at + 3 <= last and edges[at + 2] - edges[at + 1] < _PULSE_BITS * period:
        found.append((at + 3, _PULSE_COST))
        if at + 5 <= last and edges[at + 4] - edges[at + 3] < _PULSE_BITS * period:
            found.append((at + 5, 2 * _PULSE_COST))
    return found


def _keep(live: dict[int, list[_Path]], path: _Path, bit: int, edge: int, error: float, cost: float) -> None:
    boundary = path.boundary + path.period * (1 + _PHASE_GAIN * error)
    period = min(max(path.period * (1 + _PERIOD_GAIN * error), PERIOD_MIN_S), PERIOD_MAX_S)
    live.setdefault(edge, []).append(_Path(cost, boundary, period, path, bit, edge))


def _unrolled(path: _Path | None, edges: list[float], captured_s: float) -> Bits:
    """The bits along a path, and the last one that only the quiet closes."""
    if path is None:
        return Bits([], [], [], True)
    end = path
    values: list[int] = []
    ends: list[float] = []
    places: list[int] = []
    while path.before is not None:
        values.append(path.bit)
        ends.append(path.boundary)
        places.append(path.edge)
        path = path.before
    values.reverse()
    ends.reverse()
    places.reverse()
    cut_off = captured_s < end.boundary + 1.4 * end.period
    if not cut_off:
        half = end.edge + 1 < len(edges) and edges[end.edge + 1] < end.boundary + 0.75 * end.period
        values.append(int(half))
        ends.append(end.boundary + end.period)
        places.append(end.edge + int(half))
    return Bits(values, ends, places, cut_off)
