"""What the cells of a matrix can be sorted by; nothing heavy is loaded for the names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pdcheck.verdict.finding import BEST_FIRST

SORT_KEYS: dict[str, Callable[[Any], tuple[object, ...]]] = {
    "verdict": lambda cell: (BEST_FIRST.index(cell.verdict), -cell.max_w),
    "max_w": lambda cell: (-cell.max_w,),
    "hours": lambda cell: (0.0 if cell.hours is None else -cell.hours.min,),
    "rule": lambda cell: (cell.rule or "",),
    "source": lambda cell: (cell.source,),
    "cable": lambda cell: (cell.cable,),
    "rig": lambda cell: (cell.rig,),
}
"""What cells can be sorted by: the best verdict and the most watts first, names as they stand in a dictionary."""
