"""Origin, Limit and Range: a number never travels without saying where it comes from."""

from __future__ import annotations

from pdcheck.named import NamedTuple


class Origin(NamedTuple):
    """Where a fact comes from, and how far it can be trusted.

    ``mark`` is one of ``standard``, ``handbook``, ``common practice``, ``memory``, ``checked``, ``rig`` (the user's own
    figure) or ``physics``.

    >>> print(Origin("PD R3.2 V1.1, 4.4", "checked"))
    PD R3.2 V1.1, 4.4 [checked]
    """

    text: str
    mark: str

    def __str__(self) -> str:
        if self.mark == "common practice":
            return "common practice, no source" if not self.text else f"{self.text} [common practice, no source]"
        return f"{self.text} [{self.mark}]"


class Limit(NamedTuple):
    """One number of a standard or of the trade: name, value, unit, origin."""

    name: str
    value: float
    unit: str
    origin: Origin


class Range(NamedTuple):
    """A fact of a standard that has two sides.

    ``min``, ``typ`` and ``max`` are in ``unit`` (an SI unit: V, A, W, ohm, F, s, or ``1`` for a ratio or a count);
    ``None`` means that the source gives no such value, so nothing is claimed on that side. ``note`` says when the row
    holds, where it does not always.

    >>> Range("vSafe5V", 4.75, 5.0, 5.5, "V", Origin("PD R3.2 V1.1, Tables 7.23 to 7.25", "checked")).require_max()
    5.5
    """

    name: str
    min: float | None
    typ: float | None
    max: float | None
    unit: str
    origin: Origin
    note: str = ""

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


COMMON_PRACTICE = Origin("", "common practice")
PD_TEXT = Origin("PD R3.2 V1.1", "checked")


def checked(where: str) -> Origin:
    """A place in the PD standard, compared with a second text.

    >>> print(checked("Table 6.9"))
    PD R3.2 V1.1, Table 6.9 [checked]
    """
    return PD_TEXT._replace(text=f"{PD_TEXT.text}, {where}")
