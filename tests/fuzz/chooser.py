"""Chooser: the bytes of a fuzzer as choices, so that small changes of the bytes are small changes of what is made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

Any_ = TypeVar("Any_")


class Chooser:
    """Takes choices from the front of some bytes; when they are used up every choice is the first one.

    >>> Chooser(bytes([7, 1])).one_of("abc")
    'b'
    """

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0

    def byte(self) -> int:
        """The next byte, or 0."""
        self.at += 1
        return self.data[self.at - 1] if self.at <= len(self.data) else 0

    def one_of(self, choices: Sequence[Any_]) -> Any_:
        """One of up to 256 choices."""
        return choices[self.byte() % len(choices)]

    def up_to(self, most: int) -> int:
        """A number from 0 to ``most``, below 256."""
        return self.byte() % (most + 1)

    def chance(self, one_in: int) -> bool:
        """True once in so many; never when the bytes are used up."""
        return self.byte() % one_in == one_in - 1

    def text(self, most: int = 40) -> str:
        """Some characters: a length, then so many bytes as UTF-8 as far as they are that."""
        length = self.up_to(most)
        piece = self.data[self.at : self.at + length]
        self.at += length
        return piece.decode("utf-8", "replace")

    def rest(self) -> bytes:
        """All that is left."""
        piece = self.data[self.at :]
        self.at = len(self.data)
        return piece
