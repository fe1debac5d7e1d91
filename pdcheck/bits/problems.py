"""Problem: something odd about a word or a message, attached to it and never a reason to refuse it."""

from __future__ import annotations

from typing import NamedTuple


class Problem(NamedTuple):
    """``code`` is for programs, ``text`` for people, ``where`` names the object or the field."""

    code: str
    text: str
    where: str = ""

    def __str__(self) -> str:
        return f"{self.where}: {self.text}" if self.where else self.text
