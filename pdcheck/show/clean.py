"""Text from files and captures made safe for a terminal: no control character passes through."""

from __future__ import annotations

import re

_CONTROL = r"[\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]|[\ud800-\udfff]"


def clean(text: str, longest: int = 400) -> str:
    """Control characters as visible escapes, and no more than ``longest`` characters.

    >>> clean("a\\x1b[31mb")
    'a\\\\x1b[31mb'
    """
    shown = text
    if not text.isprintable():
        shown = re.sub(_CONTROL, lambda match: match[0].encode("unicode_escape").decode("ascii"), text)
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"
