"""Figures and names as people read them: a triple with its ends, hours, a source with its cable."""

from __future__ import annotations

from pdcheck.parts.limits import rounded
from pdcheck.quantities import Triple, format_quantity

_DESCRIBED = {"source": "your charger", "cable": "your cable", "unknown": "an unknown cable"}


def pair_named(source: str, cable: str) -> str:
    """A source with its cable, in words.

    >>> pair_named("wall-45", "thin-2m"), pair_named("source", "unknown")
    ('wall-45 with thin-2m', 'your charger with an unknown cable')
    """
    return f"{_DESCRIBED.get(source, source)} with {_DESCRIBED.get(cable, cable)}"


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


def shown_triple(triple: Triple, unit: str) -> str:
    """A triple as typ with its ends, or one figure where they agree.

    >>> shown_triple(Triple(14.0, 15.0, 16.0), "V"), shown_triple(Triple(1.0, 1.0, 1.0), "A")
    ('15.00 V (14.00..16.00)', '1.000 A')
    """
    places = 3 if unit == "A" else 2
    if round(triple.min, places) == round(triple.max, places):
        return f"{triple.typ:.{places}f} {unit}"
    return f"{triple.typ:.{places}f} {unit} ({triple.min:.{places}f}..{triple.max:.{places}f})"


def shown(triple: Triple, unit: str, digits: int = 3) -> str:
    """A figure of three digits at most, with its ends where they differ in these digits.

    >>> shown(Triple(13.81, 14.53, 15.26), "V"), shown(Triple(12.0, 12.0, 12.0), "V")
    ('14.5 V (13.8 to 15.3)', '12 V')
    """
    typ, least, most = (format_quantity(each, unit, digits) for each in (triple.typ, triple.min, triple.max))
    if least == most:
        return typ
    same = least.split()[1] == most.split()[1] == typ.split()[1]
    return f"{typ} ({least.split()[0] if same else least} to {most.split()[0] if same else most})"
