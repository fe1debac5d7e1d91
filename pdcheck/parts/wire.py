"""Wire: a pair of conductors by gauge or cross-section, with the contacts at its ends."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any, ClassVar, Literal

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts import copper, heat
from pdcheck.parts.fields import Celsius, Gauge, Henrys, Metres, OhmsOrZero, Part, SquareMillimetres
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.quantities import format_quantity, key_by_unit, quoted, tokens

UNKNOWN_WIRE = "?"
"""A wire of which nothing is known."""
GUESSED_WIRE = "20AWG 1m 10mOhm"
"""What such a wire is taken as [common practice]."""
_LONGEST = 200  # characters
_EXAMPLE = "a wire such as 20AWG 0.4m 10mOhm"

CURRENT = LimitRule(
    "wire-current",
    "fail",
    "Too much current for a wire",
    copper.STILL_AIR,
    "Use a thicker wire, and fuse the branch for the wire, not for the source.",
    "carries {value} in the worst case and stays cool up to {limit}",
)
INSULATION = LimitRule(
    "wire-insulation",
    "fail",
    "A wire too hot for its insulation",
    heat.PVC,
    "Use a thicker wire, or one with silicone insulation, and write that into the rig file as insulation.",
    "gets {value} in the worst case and its insulation takes {limit}",
)
CONTACT = LimitRule(
    "contact-heat",
    "warn",
    "Contacts that heat",
    heat.CONTACT.origin,
    "Clean or tighten them, solder them, or use larger ones.",
    "its contacts carry {value} in the worst case; "
    f"above {{limit}} they turn more than {format_quantity(heat.CONTACT.value, 'W')} into heat",
    about="wire",
)


class Wire(Part, init=False):
    """A two-conductor run: ``length_m`` is one way, ``contacts_ohm`` the total of the pair; as text ``"20AWG 0.4m"``.

    ``temperature_c`` is that of the copper where it is known; a wire without one takes what the caller assumes.
    ``insulation_c`` is what its insulation takes (PVC, 70 degrees C, where it is not stated).
    ``guess``: nobody knows it (``"?"``), and a usual one counts.

    >>> wire = Wire(awg=20, length="0.4m", contacts="10mOhm")
    >>> f"{wire.resistance_ohm():.5f}", wire == Wire("20AWG 0.4m 10mOhm")
    ('0.03665', True)
    """

    rules_out: ClassVar[dict[str, tuple[str, ...]]] = {"awg": ("mm2",), "mm2": ("awg",)}

    length_m: Metres
    awg: Gauge | None = None
    mm2: SquareMillimetres | None = None
    contacts_ohm: OhmsOrZero = 0.0
    stranded: bool = False
    temperature_c: Celsius | None = None
    inductance_h: Henrys | None = None
    insulation_c: Celsius | None = None
    guess: bool = False

    @classmethod
    def _spoken(cls, said: Any) -> dict[str, Any]:
        if isinstance(said, str) and said.strip() == UNKNOWN_WIRE:
            return {**wire_words(GUESSED_WIRE), "guess": True}
        return wire_words(said)

    @model_validator(mode="after")
    def _one_size(self) -> Wire:
        if (self.awg is None) == (self.mm2 is None):
            what = "has no size" if self.awg is None else "has two sizes"
            raise InputError(f"the wire {what}", expected="awg or mm2, one of them")
        return self

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
        own_c = temperature_c if self.temperature_c is None else self.temperature_c
        return 2 * self.length_m * self._ohm_per_m(own_c) + self.contacts_ohm

    def limits(self, branch: str, place: Literal["wire", "lead"]) -> Iterator[PartLimit]:
        """What it carries as the wire before a branch's converter, or the lead behind it."""
        node = f"{branch}/{'in' if place == 'wire' else 'load'}"
        yield PartLimit(CURRENT, node, "current", "at_most", self.ampacity_a(), f"{branch} {place}", place, branch)
        if self.contacts_ohm:
            most_a = math.sqrt(heat.CONTACT.value / self.contacts_ohm)
            yield PartLimit(CONTACT, node, "current", "at_most", most_a, f"{branch} {place}", place, branch)

    def warm_limits(self, branch: str, place: Literal["wire", "lead"]) -> Iterator[PartLimit]:
        """What its insulation takes [degrees C]; a wire of no length has no temperature."""
        if not self.length_m:
            return
        node = f"{branch}/{place}:c"
        most = heat.INSULATION.value if self.insulation_c is None else self.insulation_c
        yield PartLimit(INSULATION, node, "temperature", "at_most", most, f"{branch} {place}", place, branch)

    @property
    def rise_k_a2(self) -> float:
        """How far a current warms it [K/A2], its copper at 20 degrees C: R' / (h pi d), one wire in still air."""
        per_metre = self._ohm_per_m(copper.REFERENCE_TEMPERATURE.value)
        return per_metre / (copper.HEAT_TRANSFER.value * math.pi * self.diameter_m)

    def ampacity_a(self, rise_k: float = copper.WIRE_RISE.value) -> float:
        """Current [A] that warms the wire by ``rise_k`` [K] in still air; common practice, see facts.copper.

        >>> round(Wire(awg=24, length_m=1).ampacity_a(), 2)
        2.26
        """
        return copper.ampacity_a(self._ohm_per_m(copper.REFERENCE_TEMPERATURE.value), self.diameter_m, rise_k)

    @property
    def diameter_m(self) -> float:
        """Diameter of its copper [m], taken as one round wire."""
        if self.awg is not None:
            return copper.awg_diameter_m(self.awg)
        return 2e-3 * math.sqrt((self.mm2 or 0.0) / math.pi)


def wire_words(text: Any) -> dict[str, object]:
    """The keys of a file that the words of a wire stand for: its size, its length one way, its contacts if known.

    >>> wire_words("AWG 20, 40cm 10mOhm")
    {'awg': '20AWG', 'length': '40cm', 'contacts': '10mOhm'}
    """
    if not isinstance(text, str) or len(text) > _LONGEST:
        raise InputError(f"{quoted(text)} is not a wire", expected=_EXAMPLE)
    said: dict[str, object] = {}
    for word in tokens(re.sub(r"(?i)\bawg\s+(?=[0-9])", "AWG", text)):
        gauge = re.fullmatch(r"(?i)(?:awg)?([0-9]{1,2})(?:awg)?", word)
        key, value = ("awg", f"{gauge[1]}AWG") if gauge and "awg" in word.lower() else _sized(word)
        if key in said:
            raise InputError(f"{quoted(word)}: {key} is given twice", expected=_EXAMPLE)
        said[key] = value
    if "length" not in said:
        raise InputError(f"{quoted(text)} has no length", expected="a wire such as 20AWG 0.4m, one way")
    return said


def _sized(word: str) -> tuple[str, str]:
    key = key_by_unit(word, {"mm2": "mm2", "ohm": "contacts", "m": "length"})
    if key is None:
        raise InputError(f"{quoted(word)} is no size, length or contacts of a wire", expected=_EXAMPLE)
    return key, word
