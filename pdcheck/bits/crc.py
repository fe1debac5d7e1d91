"""The CRC-32 that closes every message: its constants, and how to compute, append and check it."""

from __future__ import annotations

import zlib

POLYNOMIAL = 0x04C11DB7
"""Most significant bit first, without the leading x^32; this and what follows: PD R3.2 V1.1, chapter 5 [checked]."""

INITIAL = 0xFFFFFFFF
FINAL_XOR = 0xFFFFFFFF

RESIDUAL = 0xC704DD7B
"""What the standard's shift register holds after header, payload and a right CRC."""

RESIDUAL_REFLECTED = 0x2144DF1C
"""The same residual as ``zlib.crc32`` gives it over message and CRC: bits reversed, final XOR applied."""

CRC_BYTES = 4


def crc32(message: bytes) -> int:
    """The CRC over header and payload (bytes without CRC), as an integer of 32 bits.

    Source: PD R3.2 V1.1, chapter 5 [checked]; the parameters are those of zlib's ``crc32``.

    >>> hex(crc32(bytes.fromhex("a1612c9101082cd1020013c10300dcb00400a54006003c21dcc0")))
    '0xc6e7c648'
    """
    return zlib.crc32(message)


def with_crc(message: bytes) -> bytes:
    """Header and payload followed by their CRC, little-endian, as sent before EOP.

    >>> with_crc(bytes.fromhex("4100")).hex()
    '4100bb6cbba8'
    """
    return message + crc32(message).to_bytes(CRC_BYTES, "little")


def crc_matches(raw: bytes) -> bool:
    """True when the last four bytes of ``raw`` are the CRC of those before; False for fewer than five bytes.

    >>> crc_matches(with_crc(b"any bytes")), crc_matches(b"any bytes"), crc_matches(b"")
    (True, False, False)
    """
    return len(raw) > CRC_BYTES and zlib.crc32(raw) == RESIDUAL_REFLECTED
