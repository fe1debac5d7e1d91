"""Origin and Limit: a number never travels without saying where it comes from."""

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


COMMON_PRACTICE = Origin("", "common practice")
PD_TEXT = Origin("PD R3.2 V1.1", "checked")


def checked(where: str) -> Origin:
    """A place in the PD standard, compared with a second text.

    >>> print(checked("Table 6.9"))
    PD R3.2 V1.1, Table 6.9 [checked]
    """
    return PD_TEXT._replace(text=f"{PD_TEXT.text}, {where}")
