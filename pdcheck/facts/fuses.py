"""Fuses: the values that are sold, how much of its value each kind carries for hours, what blows one."""

from __future__ import annotations

from typing import Literal

from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin, Range
from pdcheck.named import NamedTuple

IEC_VALUES = Origin("IEC 60127, series R10", "memory")
BLADE_VALUES = Origin("ISO 8820-3", "memory")
RESETTABLE_VALUES = Origin("hold currents of leaded resettable fuses", "memory")

FUSE_SHARE = Limit("current through a fuse for hours, of its rating", 0.75, "1", COMMON_PRACTICE)
"""Of a value to UL 248-14, of a blade fuse, and of one that does not say what it is made to."""
IEC_SHARE = Limit("current through a fuse to IEC 60127 for hours, of its rating", 1.0, "1", COMMON_PRACTICE)
WARM_SHARE = Range(
    "hold current of a resettable fuse at 60 degrees C, of that at 20", 0.6, None, 0.7, "1", COMMON_PRACTICE
)
BLOWS = Range(
    "current that blows a fuse, of its rating",
    1.35,
    None,
    2.0,
    "1",
    COMMON_PRACTICE,
    "below the first it never does, above the second soon; between them it takes minutes to an hour",
)

_DECADE = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
R10_A = (*(round(each * scale, 4) for scale in (0.1, 1.0) for each in _DECADE), 10.0)
BLADE_A = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0)
HOLD_A = (0.1, 0.17, 0.2, 0.25, 0.3, 0.4, 0.5, 0.65, 0.75, 0.9, 1.1, 1.35, 1.6, 1.85, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 9.0)

FuseKind = Literal["UL", "IEC", "blade", "resettable"]


class FuseSort(NamedTuple):
    """A kind of fuse: its standard values [A] and where they come from, the share of one (0..1) carried for hours."""

    kind: FuseKind
    called: str
    values_a: tuple[float, ...]
    share: float
    origin: Origin


FUSES: dict[FuseKind, FuseSort] = {
    sort.kind: sort
    for sort in (
        FuseSort("UL", "to UL 248-14", R10_A, FUSE_SHARE.value, IEC_VALUES),
        FuseSort("IEC", "to IEC 60127", R10_A, IEC_SHARE.value, IEC_VALUES),
        FuseSort("blade", "blade", BLADE_A, FUSE_SHARE.value, BLADE_VALUES),
        FuseSort("resettable", "resettable", HOLD_A, WARM_SHARE.require_min(), RESETTABLE_VALUES),
    )
}
"""Every kind; a fuse of which only the value is known counts as the first."""

ANY_KIND: tuple[FuseKind, ...] = ("UL", "blade")
"""Kinds whose values hold for whatever melts: it carries no less of its value than these do."""
