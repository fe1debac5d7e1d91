"""A charger of which no more is known than the power printed on it: its offers by the power rules."""

from __future__ import annotations

import re
from typing import Any

_ALONE = re.compile(
    r"(?i)(?:usb[ -]?c\s+|pd\s+|max\.?\s+)*([0-9]{1,3}(?:[.,][0-9]{1,2})?)\s?w(?:atts?)?"
    r"(?:[ ,]+(?:pd|gan|max\.?|usb[ -]?c|power delivery|charger|adapter|supply))*"
)


def power_alone(text: Any) -> float | None:
    """The power [W] of a text that says nothing else; None for any other.

    >>> power_alone("65W"), power_alone("USB-C 30 W charger"), power_alone("65W; 5V 3A"), power_alone("74Wh")
    (65.0, 30.0, None, None)
    """
    found = _ALONE.fullmatch(text.strip()) if isinstance(text, str) else None
    return None if found is None else float(found[1].replace(",", "."))
