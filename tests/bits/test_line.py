"""The line's tables against the published ones typed once more, and the CRC against its shift register."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pdcheck.bits import crc, line

PUBLISHED = (
    "0 11110, 1 01001, 2 10100, 3 10101, 4 01010, 5 01011, 6 01110, 7 01111, 8 10010, 9 10011, A 10110, B 10111, "
    "C 11010, D 11011, E 11100, F 11101"
)
PUBLISHED_K_CODES = "Sync-1 11000, Sync-2 10001, Sync-3 00110, RST-1 00111, RST-2 11001, EOP 01101"
CAPTURED = bytes.fromhex("a161 2c910108 2cd10200 13c10300 dcb00400 a5400600 3c21dcc0 48c6e7c6")


def test_data_symbols_are_the_published_ones() -> None:
    for digit, symbol in (pair.split() for pair in PUBLISHED.split(", ")):
        assert line.DATA_SYMBOLS[int(digit, 16)] == int(symbol, 2)


def test_no_symbol_stands_for_two_things() -> None:
    assert len({*line.DATA_SYMBOLS, *line.K_CODES.values()}) == 16 + 6


def test_k_codes_are_the_published_ones() -> None:
    written = [f"{name} {code:05b}" for name, code in line.K_CODES.items()]
    assert ", ".join(written) == PUBLISHED_K_CODES


def test_ordered_sets_differ_in_two_k_codes_or_more() -> None:
    for one, other in combinations(line.ORDERED_SETS.values(), 2):
        assert sum(a != b for a, b in zip(one, other, strict=True)) >= 2


def test_a_packet_is_preamble_set_bytes_and_eop() -> None:
    bits = "".join(map(str, line.packet_bits(b"\x41\x00" + bytes(4), "SOP")))
    assert bits[:64] == "01" * 32
    assert bits[64:84] == "00011000110001110001"
    assert bits[84:94] == "1001001010"  # low nibble 1, high nibble 4
    assert bits[-5:] == "10110"
    assert len(bits) == 64 + 20 + 60 + 5


@pytest.mark.parametrize(("raw", "sop"), [(b"", "SOP3"), (b"x", "Hard_Reset")])
def test_what_cannot_be_sent_is_refused(raw: bytes, sop: str) -> None:
    with pytest.raises(ValueError, match=r"ordered set|carries no bytes"):
        line.packet_bits(raw, sop)


def shift_register(data: bytes) -> int:
    """The standard's CRC, bit by bit as the line carries them, before the final XOR."""
    state = crc.INITIAL
    for byte in data:
        for place in range(8):
            top = state >> 31
            state = state << 1 & 0xFFFFFFFF
            if top ^ (byte >> place & 1):
                state ^= crc.POLYNOMIAL
    return state


@given(st.binary(max_size=40))
def test_crc_is_that_of_the_shift_register(message: bytes) -> None:
    reflected = int(f"{shift_register(message) ^ crc.FINAL_XOR:032b}"[::-1], 2)
    assert crc.crc32(message) == reflected
    assert shift_register(crc.with_crc(message)) == crc.RESIDUAL


def test_both_residuals_are_one() -> None:
    assert int(f"{crc.RESIDUAL:032b}"[::-1], 2) ^ crc.FINAL_XOR == crc.RESIDUAL_REFLECTED


def test_a_captured_message_has_its_crc() -> None:
    assert crc.crc_matches(CAPTURED)
    assert crc.with_crc(CAPTURED[:-4]) == CAPTURED


@given(st.binary(min_size=2, max_size=30), st.data())
def test_any_flipped_bit_is_found(message: bytes, data: st.DataObject) -> None:
    raw = bytearray(crc.with_crc(message))
    at = data.draw(st.integers(0, 8 * len(raw) - 1))
    raw[at // 8] ^= 1 << at % 8
    assert not crc.crc_matches(bytes(raw))
