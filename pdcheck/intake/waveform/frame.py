"""From bits to a packet: ordered set, 4b5b bytes, EOP; or the reason why not."""

from __future__ import annotations

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
from pdcheck.intake.packet import Packet
from pdcheck.intake.waveform.clock import Bits, Lock
from pdcheck.named import NamedTuple

SURE_PAIRS = 10
"""After so many pairs 0 1 a packet was there: if it cannot be decoded, that is reported."""

SET_BITS = 4 * SYMBOL_BITS

_LEAD_PAIRS = 5
_CARRIER_PAIRS = PREAMBLE_BITS
_SET_NAMES = {tuple(K_CODES[code] for code in codes): name for name, codes in ORDERED_SETS.items()}
_EOP = K_CODES["EOP"]


class Attempt(NamedTuple):
    """What one reading of a candidate came to: a packet or a reason, how many bits it took, the last edge used.

    ``sound``: the CRC is right, or all K-codes of a reset; ``preamble_bits``: how many came after the lock, if known.
    """

    packet: Packet | None
    reason: str
    bits: int
    last_edge: int
    sound: bool = False
    preamble_bits: int | None = None


class OrderedSet(NamedTuple):
    """An ordered set found in some bits: its name, where it begins, how many of its K-codes are wrong, how."""

    name: str
    place: int
    wrong: int
    problems: tuple[str, ...]


def decode(bits: Bits, lock: Lock, pairs: int) -> Attempt:
    """One reading as a packet: find the ordered set, then the bytes up to EOP."""
    lead = 2 * min(pairs, _LEAD_PAIRS)
    values = [0, 1] * (lead // 2) + bits.values
    if bits.cut_off:
        values.append(0)  # the last bit has begun; EOP would end in this one

    head = find_ordered_set(values, lead, pairs)
    preamble_bits = head.place - lead if head else None

    def ended(place: int, reason: str) -> Attempt:
        used = min(max(place - lead, 0), len(bits.edges))
        last_edge = lock.edge + (bits.edges[used - 1] if used else 0)
        return Attempt(None, reason, place, last_edge, False, preamble_bits)

    if head is None:
        if bits.cut_off and len(values) < lead + PREAMBLE_BITS + SET_BITS:
            return ended(len(values), "the capture ends before the ordered set is complete")
        if pairs > _CARRIER_PAIRS:
            length_ms = 2e3 * pairs * lock.period
            return ended(lead, f"alternating bits for {length_ms:.3g} ms without an ordered set")
        return ended(lead, "no ordered set after the preamble")
    place = head.place + SET_BITS
    if head.name in RESETS:
        return _packet(bits, lock, head, place - lead, b"", preamble_bits)
    nibbles: list[int] = []
    while place + SYMBOL_BITS <= len(values):
        a, b, c, d, e = values[place : place + SYMBOL_BITS]
        symbol = a | b << 1 | c << 2 | d << 3 | e << 4
        place += SYMBOL_BITS
        nibble = NIBBLE_OF_SYMBOL.get(symbol)
        if nibble is not None:
            nibbles.append(nibble)
            if len(nibbles) > 2 * MESSAGE_BYTES_MAX:
                return ended(place, f"more than {MESSAGE_BYTES_MAX} bytes without EOP")
            continue
        count, half = divmod(len(nibbles), 2)
        if place - lead > len(bits.values) and (symbol != _EOP or half):
            break
        if symbol != _EOP:
            return ended(place, f"symbol {symbol:05b} after {count} bytes is no 4b5b code of data or EOP")
        if half:
            return ended(place, f"EOP in the middle of a byte, after {count} bytes")
        if not MESSAGE_BYTES_MIN <= count <= MESSAGE_BYTES_MAX:
            return ended(place, f"EOP after {count} bytes, expected {MESSAGE_BYTES_MIN} to {MESSAGE_BYTES_MAX}")
        raw = bytes(low | high << 4 for low, high in zip(nibbles[::2], nibbles[1::2], strict=True))
        if place - lead > len(bits.values) and not crc_matches(raw):
            break
        return _packet(bits, lock, head, place - lead, raw, preamble_bits)
    count = len(nibbles) // 2
    if bits.cut_off:
        return ended(place, f"the capture ends inside the packet, after {count} bytes")
    return ended(place, f"the line goes quiet after {count} bytes, without EOP")


def _packet(bits: Bits, lock: Lock, head: OrderedSet, used: int, raw: bytes, preamble_bits: int | None) -> Attempt:
    """The attempt that came to a packet, after ``used`` bits beyond the lock."""
    problems = list(head.problems)
    if used > len(bits.values):
        problems.append("the capture ends in the last bit")
        used = len(bits.values)
    end_s = bits.ends[used - 1] if used > 0 else lock.boundary
    rate = used / (end_s - lock.boundary) if used > 0 else 1 / lock.period
    problems += rate_problems(rate)
    sound = not head.wrong
    if head.name not in RESETS:
        sound = crc_matches(raw)
        if not sound:
            given = int.from_bytes(raw[-CRC_BYTES:], "little")
            problems.append(f"CRC is {given:08X}, the bytes make {crc32(raw[:-CRC_BYTES]):08X}")
    packet = Packet(lock.boundary, end_s, head.name, raw, rate, tuple(problems))
    last_edge = lock.edge + (bits.edges[used - 1] if used > 0 else 0)
    return Attempt(packet, "", used, last_edge, sound, preamble_bits)


def rate_problems(rate: float) -> tuple[str, ...]:
    """What to say of a measured bit rate in bit/s; nothing within the allowed range and the error of measurement."""
    if BIT_RATE_MIN.value * 0.995 <= rate <= BIT_RATE_MAX.value * 1.005:
        return ()
    low, high = BIT_RATE_MIN.value / 1e3, BIT_RATE_MAX.value / 1e3
    return (f"bit rate {rate / 1e3:.1f} kbit/s is outside {low:g} to {high:g} kbit/s",)


def find_ordered_set(values: list[int], lead: int, pairs: int) -> OrderedSet | None:
    """The ordered set after a preamble: one with all K-codes right, else one with a single wrong one.

    ``values`` begin with ``lead`` bits known to alternate. The preamble may go on after them.
    """
    symbols = [
        values[at] | values[at + 1] << 1 | values[at + 2] << 2 | values[at + 3] << 3 | values[at + 4] << 4
        for at in range(min(len(values) - SYMBOL_BITS + 1, lead + PREAMBLE_BITS + SET_BITS))
    ]
    seen = list(zip(symbols, symbols[5:], symbols[10:], symbols[15:], strict=False))
    for place, four in enumerate(seen):
        if four in _SET_NAMES:
            return OrderedSet(_SET_NAMES[four], place, 0, ())
    if pairs < SURE_PAIRS:
        return None
    best: tuple[int, int, OrderedSet] | None = None
    for place, four in enumerate(seen):
        if not _alternates(values, lead, place):
            break
        if (place - lead) % 2:
            continue  # a preamble ends in 1
        for order, (codes, name) in enumerate(_SET_NAMES.items()):
            wrong = [at for at in range(4) if four[at] != codes[at]]
            if 4 - len(wrong) < K_CODES_NEEDED or (name in RESETS and len(values) > place + SET_BITS + 2):
                continue
            is_code, was_code = four[wrong[0]], codes[wrong[0]]
            distance = (is_code ^ was_code).bit_count()
            if best is None or (distance, order) < best[:2]:
                problem = f"K-code {wrong[0] + 1} of 4 of the ordered set is {is_code:05b} in place of {was_code:05b}"
                best = (distance, order, OrderedSet(name, place, 1, (problem,)))
    return best[2] if best else None


def _alternates(values: list[int], lead: int, place: int) -> bool:
    """Whether the bits from the known ones up to a place alternate; the place itself may begin anything."""
    return place <= lead or values[place - 1] == (place - lead - 1) % 2
