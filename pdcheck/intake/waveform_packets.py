"""From edges to packets: ordered set, 4b5b bytes, EOP; what cannot be decoded is reported, and the next one read."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pdcheck.bits.crc import CRC_BYTES, crc32, crc_matches
from pdcheck.bits.line import (
    BIT_RATE_MAX,
    BIT_RATE_MIN,
    K_CODES,
    K_CODES_NEEDED,
    MESSAGE_BYTES_MAX,
    MESSAGE_BYTES_MIN,
    NIBBLE_OF_SYMBOL,
    ORDERED_SETS,
    PREAMBLE_BITS,
    RESETS,
    SYMBOL_BITS,
)
from pdcheck.intake.packet import BadPacket, Packet
from pdcheck.intake.waveform_clock import (
    GAINS,
    QUIET_S,
    Bits,
    Floats,
    Ints,
    Lock,
    Preamble,
    find_preambles,
    lock_on,
    looks_coded,
    read_bits,
    without_glitches,
)
from pdcheck.intake.waveform_edges import Waveform

FEWEST_PAIRS = 5
"""A packet is looked for after so many pairs 0 1 of a preamble."""

SURE_PAIRS = 10
"""After so many a packet was there: if it cannot be decoded, that is reported."""

_BLOCK_EDGES = 1 << 20
_LONGEST_PACKET_EDGES = 1 << 13
_CARRIER_PAIRS = PREAMBLE_BITS
_HEADLESS_EDGES = 80
_SET_SYMBOLS = {name: tuple(K_CODES[code] for code in codes) for name, codes in ORDERED_SETS.items()}
_EOP = K_CODES["EOP"]
_SET_BITS = 4 * SYMBOL_BITS


class Attempt(NamedTuple):
    """What one reading of a candidate came to: a packet or a reason, how many bits it took, the last edge used."""

    packet: Packet | None
    reason: str
    bits: int
    last_edge: int
    sound: bool = False


class OrderedSet(NamedTuple):
    """An ordered set found in some bits: its name, where it begins, how many of its K-codes are wrong, how."""

    name: str
    place: int
    wrong: int
    problems: tuple[str, ...]


def find_packets(waveform: Waveform) -> list[Packet | BadPacket]:
    """Every packet on a line, in order of time, and a BadPacket for each that was there and cannot be decoded.

    BMC has no polarity, so an inverted channel and either idle level give the same packets. Source of the coding:
    PD R3.2 V1.1, Tables 5.1 to 5.17 [checked]. The CRC is compared and a wrong one noted in ``problems``, no more.

    >>> find_packets(Waveform("CC", np.arange(9) * 1e-3, 0, 0.0, 1.0))
    []
    """
    found: list[Packet | BadPacket] = []
    done_s = from_s = -np.inf
    times = waveform.times
    for begin in range(0, len(times), _BLOCK_EDGES):
        end = begin + _BLOCK_EDGES
        final = end >= len(times)
        block = times[begin : len(times) if final else end + _LONGEST_PACKET_EDGES]
        until_s = np.inf if final else float(times[end])
        edges = without_glitches(block)
        quiet = np.flatnonzero(np.diff(edges) > QUIET_S)
        spans, done_s = _search(edges, quiet, waveform.end_s, (done_s, until_s), found)
        found += _headless(edges, quiet, spans, (from_s, until_s))
        from_s = until_s
    return sorted(found, key=lambda packet: packet.time_s)


def _search(
    times: Floats, quiet: Ints, captured_s: float, window: tuple[float, float], found: list[Packet | BadPacket]
) -> tuple[list[tuple[float, float]], float]:
    """Packets whose preamble begins inside a window; gives back the spans they cover and the time all is said up to."""
    done_s, until_s = window
    report_after = done_s
    spans: list[tuple[float, float]] = []
    for preamble in find_preambles(times, FEWEST_PAIRS):
        if times[preamble.first] >= until_s:
            break
        last = preamble.first + 3 * preamble.pairs
        if times[last] <= done_s:
            continue
        at = int(np.searchsorted(quiet, last))
        burst_end = int(quiet[at]) if at < len(quiet) else len(times) - 1
        attempt = _best_attempt(times[: min(burst_end, last + _LONGEST_PACKET_EDGES) + 1], preamble, captured_s)
        start_s = _start_of_packet(times, preamble)
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


def _headless(
    times: Floats, quiet: Ints, spans: list[tuple[float, float]], window: tuple[float, float]
) -> list[Packet | BadPacket]:
    """Bursts that are coded as packets are and in which no preamble was found."""
    begins = np.concatenate([[0], quiet + 1])
    ends = np.append(quiet, len(times) - 1)
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


def _start_of_packet(times: Floats, preamble: Preamble) -> float:
    """The first edge of the preamble, also where jitter broke the row of pairs that was found."""
    first = preamble.first
    last = first + 3 * preamble.pairs
    period = lock_on(times, preamble).period
    while first and 0.3 * period < times[first] - times[first - 1] < 1.35 * period:
        if times[last] - times[first - 1] > (PREAMBLE_BITS + 0.5) * period:
            break
        first -= 1
    return float(times[first])


def _best_attempt(times: Floats, preamble: Preamble, captured_s: float) -> Attempt:
    """Read what follows a preamble, again with other loop gains where the first reading is not sound."""
    lock = lock_on(times, preamble)
    edges = times[lock.edge :].tolist()
    best: Attempt | None = None
    for gains in GAINS:
        bits = read_bits(edges, Lock(lock.boundary, lock.period, 0), gains, captured_s)
        attempt = _decode(bits, lock, preamble.pairs)
        if attempt.sound:
            return attempt
        if best is None or (attempt.packet is not None, attempt.bits) > (best.packet is not None, best.bits):
            best = attempt
    assert best is not None
    return best


def _decode(bits: Bits, lock: Lock, pairs: int) -> Attempt:
    """One reading as a packet: find the ordered set, then the bytes up to EOP."""
    lead = 2 * min(pairs, FEWEST_PAIRS)
    values = [0, 1] * (lead // 2) + bits.values
    if bits.cut_off:
        values.append(0)  # the last bit has begun; EOP would end in this one

    def ended(place: int, reason: str) -> Attempt:
        used = min(max(place - lead, 0), len(bits.edges))
        return Attempt(None, reason, place, lock.edge + (bits.edges[used - 1] if used else 0))

    head = _ordered_set(values, lead, pairs)
    if head is None:
        if bits.cut_off and len(values) < lead + PREAMBLE_BITS + _SET_BITS:
            return ended(len(values), "the capture ends before the ordered set is complete")
        if pairs > _CARRIER_PAIRS:
            length_ms = 2e3 * pairs * lock.period
            return ended(lead, f"alternating bits for {length_ms:.3g} ms without an ordered set")
        return ended(lead, "no ordered set after the preamble")
    place = head.place + _SET_BITS
    if head.name in RESETS:
        return _packet(bits, lock, head, place - lead, b"")
    nibbles: list[int] = []
    while place + SYMBOL_BITS <= len(values):
        a, b, c, d, e = values[place : place + SYMBOL_BITS]
        symbol = a | b << 1 | c << 2 | d << 3 | e << 4
        place += SYMBOL_BITS
        nibble = NIBBLE_OF_SYMBOL.get(symbol)
        if nibble is not None:
            nibbles.append(nibble)
            continue
        count, half = divmod(len(nibbles), 2)
        if symbol != _EOP:
            return ended(place, f"symbol {symbol:05b} after {count} bytes is no 4b5b code of data or EOP")
        if half:
            return ended(place, f"EOP in the middle of a byte, after {count} bytes")
        if not MESSAGE_BYTES_MIN <= count <= MESSAGE_BYTES_MAX:
            return ended(place, f"EOP after {count} bytes, expected {MESSAGE_BYTES_MIN} to {MESSAGE_BYTES_MAX}")
        raw = bytes(low | high << 4 for low, high in zip(nibbles[::2], nibbles[1::2], strict=True))
        if place - lead > len(bits.values) and not crc_matches(raw):
            break
        return _packet(bits, lock, head, place - lead, raw)
    count = len(nibbles) // 2
    if bits.cut_off:
        return ended(place, f"the capture ends inside the packet, after {count} bytes")
    return ended(place, f"the line goes quiet after {count} bytes, without EOP")


def _packet(bits: Bits, lock: Lock, head: OrderedSet, used: int, raw: bytes) -> Attempt:
    """The attempt that came to a packet, after ``used`` bits beyond the lock."""
    problems = list(head.problems)
    if used > len(bits.values):
        problems.append("the capture ends in the last bit")
        used = len(bits.values)
    end_s = bits.ends[used - 1] if used > 0 else lock.boundary
    rate = used / (end_s - lock.boundary) if used > 0 else 1 / lock.period
    if not BIT_RATE_MIN.value * 0.995 <= rate <= BIT_RATE_MAX.value * 1.005:
        low, high = BIT_RATE_MIN.value / 1e3, BIT_RATE_MAX.value / 1e3
        problems.append(f"bit rate {rate / 1e3:.1f} kbit/s is outside {low:g} to {high:g} kbit/s")
    sound = not head.wrong
    if head.name not in RESETS:
        sound = crc_matches(raw)
        if not sound:
            given = int.from_bytes(raw[-CRC_BYTES:], "little")
            problems.append(f"CRC is {given:08X}, the bytes make {crc32(raw[:-CRC_BYTES]):08X}")
    packet = Packet(lock.boundary, end_s, head.name, raw, rate, tuple(problems))
    return Attempt(packet, "", used, lock.edge + (bits.edges[used - 1] if used > 0 else 0), sound)


def _ordered_set(values: list[int], lead: int, pairs: int) -> OrderedSet | None:
    """The ordered set after a preamble: one with all K-codes right, else one with a single wrong one.

    ``values`` begin with ``lead`` bits known to alternate. The preamble may go on after them.
    """
    symbols = [
        values[at] | values[at + 1] << 1 | values[at + 2] << 2 | values[at + 3] << 3 | values[at + 4] << 4
        for at in range(min(len(values) - SYMBOL_BITS + 1, lead + PREAMBLE_BITS + _SET_BITS))
    ]
    second_best: tuple[int, int, OrderedSet] | None = None
    for place in range(len(symbols) - 3 * SYMBOL_BITS):
        seen = tuple(symbols[place : place + _SET_BITS : SYMBOL_BITS])
        for order, (name, codes) in enumerate(_SET_SYMBOLS.items()):
            right = sum(a == b for a, b in zip(seen, codes, strict=True))
            if right == 4:
                return OrderedSet(name, place, 0, ())
            if right < K_CODES_NEEDED or pairs < 2 * FEWEST_PAIRS or not _alternates(values, lead, place):
                continue
            if name in RESETS and len(values) > place + _SET_BITS + 2:
                continue
            distance = sum((a ^ b).bit_count() for a, b in zip(seen, codes, strict=True))
            if second_best is None or (distance, order) < second_best[:2]:
                at = next(n for n in range(4) if seen[n] != codes[n])
                problem = f"K-code {at + 1} of 4 of the ordered set is {seen[at]:05b} in place of {codes[at]:05b}"
                second_best = (distance, order, OrderedSet(name, place, 1, (problem,)))
    return second_best[2] if second_best else None


def _alternates(values: list[int], lead: int, place: int) -> bool:
    """Whether the bits from the known ones up to a place go on alternating, ending in 1."""
    return place <= lead or (all(values[at] != values[at - 1] for at in range(lead, place)) and values[place - 1] == 1)
