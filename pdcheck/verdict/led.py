"""LedResult: a string of LEDs on each voltage, with a series resistor or a driver."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from pdcheck.circuit.led import LedOnVoltage
from pdcheck.facts.origin import COMMON_PRACTICE
from pdcheck.marks import told
from pdcheck.parts.loads.led import Driver
from pdcheck.result import Result

_FORMULAS: dict[Driver, str] = {
    "resistor": f"R = (V - n x Vf) / I; Ohm's law; Vf from your LED's sheet [{COMMON_PRACTICE}]",
    "driver": f"V >= n x Vf + headroom, for a step-down driver [{COMMON_PRACTICE}]",
}


@dataclass(frozen=True, repr=False)
class LedResult(Result):
    """A string of LEDs on each voltage."""

    SCHEMA: ClassVar[str] = "led/2"
    TITLE: ClassVar[str] = "A string of LEDs on each voltage"
    ROWS: ClassVar[tuple[str, ...]] = ("on",)

    count: int
    vf_v: float
    way: Driver
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
