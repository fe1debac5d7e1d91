"""Every packet of a waveform: candidates by their preambles, each read, a bad one reported and the next one sought."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pdcheck.bits.line import PREAMBLE_BITS
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.waveform.clock import (
    GAINS,
    QUIET_S,
    Floats,
    Lock,
    Preamble,
    find_preambles,
    lock_on,
    looks_coded,
    read_bits,
    read_bits_again,
    without_glitches,
)
from pdcheck.intake.waveform.edges import Waveform, forget
from pdcheck.intake.waveform.frame import SET_BITS, SURE_PAIRS, Attempt, decode
from pdcheck.intake.waveform.quick import read_quickly

FEWEST_PAIRS = 5
"""A packet is looked for after so many pairs 0 1 of a preamble."""

_BLOCK_EDGES = 1 << 18
_LONGEST_PACKET_EDGES = 1 << 13
_HEADLESS_EDGES = 80
_LATEST_S = 2e-3
_HEAD_BITS = PREAMBLE_BITS + SET_BITS + 8
_HEAD_EDGES = 2 * _HEAD_BITS + 2
_EDGES_IN_VAIN = 5_000_000
"""Edges of one capture that may be read the slow way or in vain, so that a hostile one cannot hold the program up."""


class _Line:
    """Edges of one stretch, raw and without glitches, where the line goes quiet, and what slow reading is left."""

    def __init__(self, raw: Floats, captured_s: float, left: int) -> None:
        self.raw = raw
        self.times = without_glitches(raw)
        self.quiet = np.flatnonzero(np.diff(self.times) > QUIET_S)
        self.captured_s = captured_s
        self.left = left

    def burst_end(self, edge: int) -> int:
        """The last edge before the line goes quiet."""
        at = int(np.searchsorted(self.quiet, edge))
        return int(self.quiet[at]) if at < len(self.quiet) else len(self.times) - 1

    def may_spend(self, edges: int) -> bool:
        """Whether so many edges may still be read the slow way or in vain; they are then counted."""
        self.left -= edges
        return self.left >= 0


def find_packets(waveform: Waveform) -> list[Packet | BadPacket]:
    """All of ``packets_of`` in a list.

    >>> find_packets(Waveform("CC", np.arange(9) * 1e-3, 0, 0.0, 1.0))
    []
    """
    return list(packets_of(waveform))


def packets_of(waveform: Waveform) -> Iterator[Packet | BadPacket]:
    """Every packet on a line, in order of time, and a BadPacket for each that was there and cannot be decoded.

    BMC has no polarity, so an inverted channel and either idle level give the same packets. Source of the coding:
    PD R3.2 V1.1, Tables 5.1 to 5.17 [checked]. The CRC is compared and a wrong one noted in ``problems``, no more.
    """
    found: list[Packet | BadPacket] = []
    done_s = from_s = -np.inf
    left = _EDGES_IN_VAIN
    times = waveform.times
    for begin in range(0, len(times), _BLOCK_EDGES):
        end = begin + _BLOCK_EDGES
        final = end >= len(times)
        block = np.array(times[begin : len(times) if final else end + _LONGEST_PACKET_EDGES])
        until_s = np.inf if final else float(times[end])
        line = _Line(block, waveform.end_s, left)
        from_s = max(from_s, done_s)
        spans, done_s = _search(line, (done_s, until_s), found)
        found += _headless(line, spans, (from_s, until_s))
        from_s, left = until_s, line.left
        # A packet of the next block may begin before it, by a preamble that was found late.
        sure_s = until_s - _LATEST_S
        yield from sorted(
            (_cut(packet, waveform) for packet in found if packet.time_s < sure_s), key=lambda packet: packet.time_s
        )
        found = [packet for packet in found if packet.time_s >= sure_s]
        forget(times)


def _cut(packet: Packet | BadPacket, waveform: Waveform) -> Packet | BadPacket:
    """A bad packet with whether the capture begins or ends inside it: then the line has no quiet on that side."""
    if isinstance(packet, Packet):
        return packet
    times = waveform.times
    at = int(np.searchsorted(times, packet.time_s))
    burst = times[at : at + _LONGEST_PACKET_EDGES]
    pauses = np.flatnonzero(np.diff(burst) > QUIET_S)
    end_s = float(burst[int(pauses[0])] if len(pauses) else burst[-1]) if len(burst) else packet.time_s
    begun = packet.time_s - waveform.start_s < QUIET_S
    return packet._replace(cut=begun or waveform.end_s - end_s < QUIET_S)


def _search(
    line: _Line, window: tuple[float, float], found: list[Packet | BadPacket]
) -> tuple[list[tuple[float, float]], float]:
    """Packets whose preamble begins inside a window; gives back the spans they cover and the time all is said up to."""
    done_s, until_s = window
    times = line.times
    report_after = done_s
    spans: list[tuple[float, float]] = []
    preambles = find_preambles(times, FEWEST_PAIRS)
    quick = read_quickly(times, preambles, line.quiet)
    for number, preamble in enumerate(preambles):
        if times[preamble.first] >= until_s:
            break
        last = preamble.first + 3 * preamble.pairs
        if times[last] <= done_s:
            continue
        if (
            line.left < 0
            and (preamble.pairs < SURE_PAIRS or times[preamble.first] <= report_after)
            and number not in quick
        ):
            continue
        burst_end = line.burst_end(last)
        reading = quick.get(number)
        if reading:
            start_s = _start_of_packet(times, preamble, reading.lock, reading.preamble_bits)
            found.append(reading.packet._replace(time_s=start_s))
            done_s = report_after = reading.packet.end_s
            spans.append((start_s, float(times[burst_end])))
            continue
        lock = lock_on(times, preamble)
        attempt = _best_attempt(line, preamble, lock)
        start_s = _start_of_packet(times, preamble, lock, attempt.preamble_bits)
        if attempt.packet:
            found.append(attempt.packet._replace(time_s=start_s))
            done_s = report_after = attempt.packet.end_s
        elif preamble.pairs >= SURE_PAIRS and start_s > report_after:
            found.append(BadPacket(start_s, attempt.reason))
            done_s = float(times[attempt.last_edge])
            report_after = float(times[burst_end])
        else:
            continue
        spans.append((start_s, float(times[burst_end])))
    return spans, done_s


def _headless(line: _Line, spans: list[tuple[float, float]], window: tuple[float, float]) -> list[Packet | BadPacket]:
    """Bursts that are coded as packets are and in which no preamble was found."""
    times = line.times
    begins = np.concatenate([[0], line.quiet + 1])
    ends = np.append(line.quiet, len(times) - 1)
    long_enough = ends - begins >= _HEADLESS_EDGES
    starts, stops = times[begins[long_enough]], times[ends[long_enough]]
    span_starts = np.array([start for start, _ in spans])
    span_stops = np.array([stop for _, stop in spans])
    covered = np.searchsorted(span_stops, starts) < np.searchsorted(span_starts, stops, side="right")
    mine = ~covered & (starts >= window[0]) & (starts < window[1])
    return [
        BadPacket(float(times[begin]), "coded bits without a preamble before them")
        for begin, end in zip(begins[long_enough][mine].tolist(), ends[long_enough][mine].tolist(), strict=True)
        if looks_coded(times[begin : end + 1])
    ]


def _start_of_packet(times: Floats, preamble: Preamble, lock: Lock, after_lock: int | None) -> float:
    """The time of the preamble's first edge, also where jitter broke the row of pairs that was found.

    With the number of preamble bits after the lock known the first edge is sought 64 bits before the last one; where
    there is none, in a preamble that came in late, it is the first of those that follow each other closely.
    """
    if after_lock is not None:
        expected = lock.boundary - (PREAMBLE_BITS - after_lock) * lock.period
        at = int(np.searchsorted(times, expected - 0.8 * lock.period))
        near = [n for n in range(at, min(at + 4, len(times))) if abs(times[n] - expected) < 0.8 * lock.period]
        headed = [n for n in near if n == 0 or times[n] - times[n - 1] > 1.35 * lock.period] or near
        if headed and (preamble.first <= headed[0] or _close(times[headed[0] : preamble.first + 1], lock.period)):
            return float(times[min(headed, key=lambda n: abs(times[n] - expected))])
    first = preamble.first
    while first and 0.2 * lock.period < times[first] - times[first - 1] < 1.4 * lock.period:
        if times[lock.edge] - times[first - 1] > (PREAMBLE_BITS + 0.5) * lock.period:
            break
        first -= 1
    return float(times[first])


def _close(times: Floats, period: float) -> bool:
    return bool((np.diff(times) < 3 * period).all())


def _best_attempt(line: _Line, preamble: Preamble, lock: Lock) -> Attempt:
    """Read what follows a preamble, again and in other ways where the first reading is not sound.

    Each reading goes as far as an ordered set could end, and on to the end of the packet only if there is one.
    """
    best = Attempt(None, "", 0, lock.edge)
    start = lock._replace(edge=0)
    clean = _levelled(line.times[lock.edge : lock.edge + _HEAD_EDGES], lock)
    whole = False
    for gains in GAINS:
        attempt = decode(read_bits(clean, start, gains, line.captured_s, _HEAD_BITS), lock, preamble.pairs)
        if attempt.preamble_bits is not None:
            if not whole:
                whole = True
                clean = _levelled(line.times[lock.edge : lock.edge + _LONGEST_PACKET_EDGES], lock)
            attempt = decode(read_bits(clean, start, gains, line.captured_s), lock, preamble.pairs)
        if attempt.sound:
            return attempt
        if (attempt.packet is not None, attempt.bits) > (best.packet is not None, best.bits):
            best = attempt
        if preamble.pairs < SURE_PAIRS:
            line.may_spend(_HEAD_EDGES)
            return best
    first = int(np.searchsorted(line.raw, line.times[lock.edge]))
    burst = line.burst_end(lock.edge) - lock.edge
    for count in (_HEAD_EDGES, _LONGEST_PACKET_EDGES):
        if not line.may_spend(min(count, burst)):
            break
        raw = _levelled(line.raw[first : first + count], lock)
        attempt = decode(read_bits_again(raw, start, line.captured_s), lock, preamble.pairs)
        if attempt.sound:
            return attempt
        if attempt.preamble_bits is None:
            break
    return best


def _levelled(edges: Floats, lock: Lock) -> list[float]:
    """Edge times from the lock's on, with what one direction lags behind the other taken out."""
    if lock.lag_s:
        edges = edges.copy()
        edges[0::2] -= lock.lag_s
        edges[1::2] += lock.lag_s
    listed: list[float] = edges.tolist()
    return listed
