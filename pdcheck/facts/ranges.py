"""Range: a fact with a least, a typical and a greatest value, any of them left open, and where it comes from."""

from __future__ import annotations

from pdcheck.facts.origin import Origin
from pdcheck.named import NamedTuple


class Range(NamedTuple):
    """A fact of a standard that has two sides.

    ``min``, ``typ`` and ``max`` are in ``unit`` (an SI unit: V, A, W, ohm, F, s, or ``1`` for a ratio or a count);
    ``None`` means that the source gives no such value, so nothing is claimed on that side. ``note`` says when the row
    holds, where it does not always.

    >>> Range("vSafe5V", 4.75, 5.0, 5.5, "V", Origin("PD R3.2 V1.1, Tables 7.23 to 7.25", "checked")).allows(5.5)
    True
    """

    name: str
    min: float | None
    typ: float | None
    max: float | None
    unit: str
    origin: Origin
    note: str = ""

    def allows(self, value: float) -> bool:
        """Whether ``value``, in the row's own unit, lies within the sides that are given; the ends belong to it.

        >>> row = Range("tSinkRequest", 0.1, None, None, "s", Origin("PD R3.2 V1.1, Table 6.68", "checked"))
        >>> row.allows(0.099), row.allows(0.1), row.allows(60.0)
        (False, True, True)
        """
        return (self.min is None or value >= self.min) and (self.max is None or value <= self.max)

    def require_min(self) -> float:
        """The least value, for a caller that relies on its being given.

        Raises LookupError where the row has none: a mistake in the program, never in its input.
        """
        if self.min is None:
            raise LookupError(f"{self.name} has no least value")
        return self.min

    def require_max(self) -> float:
        """The greatest value, for a caller that relies on its being given.

        Raises LookupError where the row has none: a mistake in the program, never in its input.
        """
        if self.max is None:
            raise LookupError(f"{self.name} has no greatest value")
        return self.max
