"""Hours as people read them."""

from __future__ import annotations

from pdcheck.parts.limits import rounded
from pdcheck.quantities import Triple


def hours_text(hours: float, *, up: bool = False) -> str:
    """Hours as people read them, three digits at most, rounded down unless ``up``.

    >>> hours_text(6.579), hours_text(0.4), hours_text(123.7), hours_text(7.301, up=True)
    ('6.57 h', '24 min', '123 h', '7.31 h')
    """
    if hours < 1.0:
        return f"{rounded(hours * 60.0, up=up, digits=2):g} min"
    return f"{rounded(hours, up=up, digits=3):g} h"


def hours_line(hours: Triple) -> str:
    """Hours with their ends: at least, about, at most; one figure where they agree.

    >>> hours_line(Triple(2.16, 2.37, 2.6)), hours_line(Triple.exact(9.0))
    ('2.16 h at least, about 2.37 h, 2.6 h at most', '9 h')
    """
    lasts = hours_text(hours.min)
    if hours_text(hours.max) == lasts:
        return lasts
    return f"{lasts} at least, about {hours_text(hours.typ)}, {hours_text(hours.max, up=True)} at most"
