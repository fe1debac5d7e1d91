"""Words of which a key of kit or rig, or an option, can only have one; nothing heavy is loaded for them."""

from __future__ import annotations

from typing import Literal, get_args

Fallback = Literal["next-lower", "5V", "none"]
"""What a trigger does without its voltage, the usual first."""
FALLBACKS = "{}, {} or {}".format(*get_args(Fallback))
CableClass = Literal["3A", "5A", "EPR"]
"""Cables by what they carry, the least first."""
