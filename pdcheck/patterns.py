"""Patterns that are compiled when they are first needed: many a run needs few of them, and compiling takes longer."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache


def later(text: str, flags: int = re.IGNORECASE) -> Callable[[], re.Pattern[str]]:
    """What gives a pattern, compiled at the first call.

    >>> later("[0-9]+V")().findall("5V 9v")
    ['5V', '9v']
    """
    return cache(lambda: re.compile(text, flags))
