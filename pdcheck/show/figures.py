"""Words as people write them."""

from __future__ import annotations


def hex_word(word: int, digits: int = 8) -> str:
    """A word as hex digits, no mark before them.

    >>> hex_word(0x0801912C)
    '0801912C'
    """
    return f"{word:0{digits}X}"
