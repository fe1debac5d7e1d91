"""Words of which a key of kit or rig, or an option, can only have one; nothing heavy is loaded for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, get_args

Fallback = Literal["next-lower", "5V", "none"]
"""What a trigger does without its voltage, the usual first."""
CableClass = Literal["3A", "5A", "EPR"]
"""Cables by what they carry, the least first."""


def either(words: Sequence[str]) -> str:
    """Some words in a sentence that asks for one of them.

    >>> either(["buck", "boost", "none"])
    'buck, boost or none'
    """
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))


FALLBACKS = either(get_args(Fallback))
