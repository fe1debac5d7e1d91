"""The CC line: bit rate, preamble, 4b5b symbols, K-codes, ordered sets; each once, with its origin."""

from __future__ import annotations

from pdcheck.facts.origin import Limit, Origin, checked

ORIGIN = checked("Tables 5.1 to 5.17")

BIT_RATE_MIN = Limit("fBitRate min", 270e3, "bit/s", ORIGIN)
BIT_RATE_NOMINAL = Limit("fBitRate nominal", 300e3, "bit/s", ORIGIN)
BIT_RATE_MAX = Limit("fBitRate max", 330e3, "bit/s", ORIGIN)

SWING = Limit("vSwing nominal", 1.125, "V", Origin("PD, transmitter swing on CC, 1.05 to 1.2 V", "memory"))

PREAMBLE_BITS = 64
"""Alternating, starting with 0 and ending with 1; not 4b5b coded."""

PREAMBLE = (0, 1) * (PREAMBLE_BITS // 2)

SYMBOL_BITS = 5

DATA_SYMBOLS = (
    0b11110,
    0b01001,
    0b10100,
    0b10101,
    0b01010,
    0b01011,
    0b01110,
    0b01111,
    0b10010,
    0b10011,
    0b10110,
    0b10111,
    0b11010,
    0b11011,
    0b11100,
    0b11101,
)
"""4b5b: the symbol of each nibble 0..F, written most significant bit first, sent least significant bit first."""

K_CODES = {
    "Sync-1": 0b11000,
    "Sync-2": 0b10001,
    "Sync-3": 0b00110,
    "RST-1": 0b00111,
    "RST-2": 0b11001,
    "EOP": 0b01101,
}
"""The symbols that stand for no nibble, in the same writing."""

ORDERED_SETS = {
    "SOP": ("Sync-1", "Sync-1", "Sync-1", "Sync-2"),
    "SOP'": ("Sync-1", "Sync-1", "Sync-3", "Sync-3"),
    "SOP''": ("Sync-1", "Sync-3", "Sync-1", "Sync-3"),
    "SOP'_Debug": ("Sync-1", "RST-2", "RST-2", "Sync-3"),
    "SOP''_Debug": ("Sync-1", "RST-2", "Sync-3", "Sync-2"),
    "Hard_Reset": ("RST-1", "RST-1", "RST-1", "RST-2"),
    "Cable_Reset": ("RST-1", "Sync-1", "RST-1", "Sync-3"),
}
"""Four K-codes each, in the order sent."""

RESETS = ("Hard_Reset", "Cable_Reset")
"""Preamble and ordered set alone: no payload, no CRC, no EOP."""

K_CODES_NEEDED = 3
"""A receiver shall accept an ordered set with four K-codes in place and may accept one with three."""

MESSAGE_BYTES_MIN = 6
"""Header (2) and CRC (4)."""

MESSAGE_BYTES_MAX = 268
"""Header (2), extended header (2), 260 bytes of data, CRC (4)."""

NIBBLE_OF_SYMBOL = {symbol: nibble for nibble, symbol in enumerate(DATA_SYMBOLS)}


def symbol_bits(symbol: int) -> tuple[int, ...]:
    """The five bits of a symbol in the order sent, least significant first.

    >>> symbol_bits(K_CODES["Sync-1"])
    (0, 0, 0, 1, 1)
    """
    return tuple(symbol >> place & 1 for place in range(SYMBOL_BITS))


def symbols_of(raw: bytes) -> list[int]:
    """The 4b5b symbols of some bytes, low nibble of a byte first.

    >>> [f"{symbol:05b}" for symbol in symbols_of(bytes([0x1F]))]
    ['11101', '01001']
    """
    return [DATA_SYMBOLS[nibble] for byte in raw for nibble in (byte & 15, byte >> 4)]


def packet_bits(raw: bytes, sop: str) -> list[int]:
    """Every bit of a packet in the order sent: preamble, ordered set, and for a message its bytes and EOP.

    ``raw`` is header, payload and CRC as sent, empty for a reset; ``sop`` a key of ``ORDERED_SETS``, else ValueError.
    Source: PD R3.2 V1.1, Tables 5.1 to 5.17 [checked].

    >>> len(packet_bits(b"", "Hard_Reset")), len(packet_bits(bytes(6), "SOP"))
    (84, 149)
    """
    if sop not in ORDERED_SETS:
        raise ValueError(f"no ordered set {sop!r}; there are {', '.join(ORDERED_SETS)}")
    if sop in RESETS and raw:
        raise ValueError(f"{sop} carries no bytes")
    symbols = [K_CODES[name] for name in ORDERED_SETS[sop]]
    if sop not in RESETS:
        symbols += [*symbols_of(raw), K_CODES["EOP"]]
    return [*PREAMBLE, *(bit for symbol in symbols for bit in symbol_bits(symbol))]
