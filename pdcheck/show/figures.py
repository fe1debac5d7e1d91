"""Words and voltages as people write them."""

from __future__ import annotations


def hex_word(word: int, digits: int = 8) -> str:
    """A word as hex digits, no mark before them.

    >>> hex_word(0x0801912C)
    '0801912C'
    """
    return f"{word:0{digits}X}"


def volts(millivolts: int) -> str:
    """Millivolts as volts.

    >>> volts(20000), volts(3300)
    ('20 V', '3.3 V')
    """
    return f"{millivolts / 1000:g} V"
