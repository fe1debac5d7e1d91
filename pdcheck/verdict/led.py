"""LedResult: a string of LEDs on each voltage, with a series resistor or a driver."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Literal

from pdcheck.circuit.led import LedOnVoltage, on_driver, on_resistor, with_resistor
from pdcheck.errors import InputError
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.result import Result, told
from pdcheck.verdict.typed_values import quantity, voltages

Way = Literal["resistor", "driver"]
_FORMULAS = {
    "resistor": f"R = (V - n x Vf) / I; Ohm's law; Vf from your LED's sheet [{COMMON_PRACTICE}]",
    "driver": f"V >= n x Vf + headroom, for a step-down driver [{COMMON_PRACTICE}]",
}


@dataclass(frozen=True, repr=False)
class LedResult(Result):
    """A string of LEDs on each voltage."""

    SCHEMA: ClassVar[str] = "led/1"
    TITLE: ClassVar[str] = "A string of LEDs on each voltage"
    ROWS: ClassVar[tuple[str, ...]] = ("on",)

    count: int
    vf_v: float
    way: Way
    on: tuple[LedOnVoltage, ...]

    @told
    def string_v(self) -> float:
        """What the string takes [V]."""
        return round(self.count * self.vf_v, 12)

    @told
    def formula(self) -> str:
        """The formula, with its source."""
        return _FORMULAS[self.way]

    @property
    def works(self) -> bool:
        """Whether it lights on any of the voltages."""
        return any(row.lights for row in self.on)

    def answer(self) -> str:
        """The voltages that it lights on."""
        return "lights on " + (", ".join(f"{row.supply_v:g} V" for row in self.on if row.lights) or "none")


def led(
    count: int,
    vf: str | float,
    current: str | float | None = None,
    *,
    on: str | Iterable[str | float] = "5V,9V,12V,15V,20V",
    way: Way = "resistor",
    ohm: str | float | None = None,
    headroom: str | float = 0.0,
    efficiency: str | float = 1.0,
) -> LedResult:
    """A string of ``count`` LEDs of ``vf`` [V] on each voltage of ``on``: its resistor, or a driver's headroom.

    ``current`` [A] is that of the string; ``ohm`` instead is a series resistor that is there. A driver needs
    ``headroom`` [V] above the string. Raises ``InputError``.

    >>> result = led(3, "3.4V", "250mA", on="9V, 20V")
    >>> result, round(result.on[1].resistor_ohm, 1)
    (<LedResult: lights on 20 V>, 39.2)
    """
    vf_v, supplies = quantity(vf, "V", "vf"), voltages(on, "on")
    if (current is None) == (ohm is None):
        raise InputError("current or ohm is needed, one of them")
    if ohm is not None:
        if way == "driver":
            raise InputError("ohm is for a series resistor, not for a driver")
        rows = on_resistor(count, vf_v, quantity(ohm, "ohm", "ohm"), supplies)
    elif way == "driver":
        room, ratio = quantity(headroom, "V", "headroom", zero=True), quantity(efficiency, "%", "efficiency")
        amps = quantity(current or "", "A", "current")
        rows = on_driver(count, vf_v, amps, supplies, headroom_v=room, efficiency=ratio)
    else:
        rows = with_resistor(count, vf_v, quantity(current or "", "A", "current"), supplies)
    return LedResult(count, vf_v, way, tuple(rows))
