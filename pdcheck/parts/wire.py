"""Wire: a pair of conductors by gauge or cross-section, with the contacts at its ends."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from pydantic import model_validator

from pdcheck.facts import copper
from pdcheck.facts.origin import Origin
from pdcheck.parts.fields import Celsius, Gauge, Metres, OhmsOrZero, Part, SquareMillimetres
from pdcheck.parts.limits import PartLimit, limit_rule
from pdcheck.parts.mistakes import mistake

CURRENT = limit_rule(
    "wire-current",
    "fail",
    "Too much current for a wire",
    copper.STILL_AIR,
    "Use a thicker wire, and fuse the branch for the wire, not for the source.",
    "carries {value} in the worst case and stays cool up to {limit}",
    about="load",
)


class Wire(Part):
    """A two-conductor run: ``length_m`` is one way, ``contacts_ohm`` the total of the pair.

    ``temperature_c`` is that of the copper where it is known; a wire without one takes what the caller assumes.

    >>> wire = Wire(awg=20, length_m="0.4m", contacts_ohm="10mOhm")
    >>> f"{wire.resistance_ohm():.5f}"
    '0.03665'
    """

    length_m: Metres
    awg: Gauge | None = None
    mm2: SquareMillimetres | None = None
    contacts_ohm: OhmsOrZero = 0.0
    stranded: bool = False
    temperature_c: Celsius | None = None

    @model_validator(mode="after")
    def _one_size(self) -> Wire:
        if (self.awg is None) == (self.mm2 is None):
            what = "has no size" if self.awg is None else "has two sizes"
            raise mistake(f"the wire {what}", expected="awg or mm2, one of them")
        return self

    @property
    def origin(self) -> Origin:
        """Where the resistance of the copper comes from."""
        return copper.FLEXIBLE if self.awg is None else copper.GAUGE

    def ohm_per_m(self, temperature_c: float = copper.REFERENCE_TEMPERATURE.value) -> float:
        """Resistance of one conductor [ohm/m]; the wire's own temperature, where it has one, goes before the given."""
        return self._ohm_per_m(temperature_c if self.temperature_c is None else self.temperature_c)

    def _ohm_per_m(self, temperature_c: float) -> float:
        if self.awg is None:
            # The metric table is of stranded conductors already.
            return copper.metric_ohm_per_m(self.mm2 or 0.0, temperature_c)
        return copper.awg_ohm_per_m(self.awg, temperature_c) * (copper.STRANDED_FACTOR.value if self.stranded else 1.0)

    def resistance_ohm(self, temperature_c: float = copper.REFERENCE_TEMPERATURE.value) -> float:
        """Resistance of the run, out and back, with its contacts [ohm], copper at ``temperature_c`` [degrees C].

        Source: ASTM B258 and IEC 60028 for a gauge, IEC 60228 class 5 (greatest value) for a cross-section. A wire with
        a temperature of its own keeps to that.
        """
        return 2 * self.length_m * self.ohm_per_m(temperature_c) + self.contacts_ohm

    def limits(self, branch: str, place: Literal["wire", "lead"]) -> Iterator[PartLimit]:
        """What it carries as the wire before a branch's converter, or the lead behind it."""
        node = f"{branch}/{'in' if place == 'wire' else 'load'}"
        yield PartLimit(CURRENT, node, "current", "at_most", self.ampacity_a(), f"{branch} {place}", place, branch)

    def ampacity_a(self, rise_k: float = copper.WIRE_RISE.value) -> float:
        """Current [A] that warms the wire by ``rise_k`` [K] in still air; common practice, see facts.copper.

        >>> round(Wire(awg=24, length_m=1).ampacity_a(), 2)
        2.26
        """
        if self.awg is not None:
            diameter = copper.awg_diameter_m(self.awg)
        else:
            diameter = 2e-3 * math.sqrt((self.mm2 or 0.0) / math.pi)
        return copper.ampacity_a(self._ohm_per_m(copper.REFERENCE_TEMPERATURE.value), diameter, rise_k)
