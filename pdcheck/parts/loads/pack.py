"""A battery pack behind its charger: a constant power, at its worst when constant current ends."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Self

from pdcheck.facts.cautions import PACK_CAUTIONS, Caution
from pdcheck.facts.origin import Origin
from pdcheck.parts.efficiency import counted
from pdcheck.parts.fields import Amps, Efficiency, Part, Volts, VoltsOrZero, count_of
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.parts.loads.load import VOLTAGE_LOW, Load
from pdcheck.physics.number import Number
from pdcheck.physics.ports import PowerPort
from pdcheck.quantities import format_quantity

MOST_CELLS = 100


class Pack(Part, init=False):
    """Cells in series, each charged to ``end_v`` [V] with ``current_a`` [A], by a charger of that ``efficiency``.

    ``headroom_v`` [V] is what a step-down charger needs above the pack at its end; None where nobody says that it steps
    down.

    >>> Pack(cells=3, end="4.2V", current="1A").pack_v
    12.6
    """

    cells: Annotated[int, count_of("cells in series", MOST_CELLS)]
    end_v: Volts
    current_a: Amps
    efficiency: Efficiency | None = None
    headroom_v: VoltsOrZero | None = None

    @property
    def pack_v(self) -> float:
        """Voltage of the whole pack at the end [V]."""
        return round(self.cells * self.end_v, 12)

    @property
    def power_w(self) -> float:
        """Power into the pack [W] at the end of constant current, the most that it ever takes."""
        return self.pack_v * self.current_a

    @property
    def needs_v(self) -> float:
        """The least voltage [V] that fills it, where its charger steps down; 0 where nobody says."""
        return 0.0 if self.headroom_v is None else self.pack_v + self.headroom_v


HEADROOM = LimitRule(
    "pack-headroom",
    "fail",
    "Too little voltage for a step-down charger",
    Origin("n x end voltage plus headroom", "common practice"),
    "Set a higher voltage, or use a charger that steps up.",
    "its charger needs {limit} and gets {value} in the worst case: the pack never gets full",
    short="never full",
    about="load",
    off_words="its charger needs {limit} and gets at most {value}: the pack never gets full",
)


class PackLoad(Load, init=False):
    """A pack on its charger. What it draws at the end of constant current counts, with no soft start before it.

    >>> load = PackLoad(pack={"cells": 3, "end": "4.2V", "current": "1A", "efficiency": "90%"})
    >>> load.port(0.5), load.words()
    (PowerPort(resistance_ohm=0.5, power_w=14.0), '3 cells up to 12.6 V at 1 A')
    """

    key: ClassVar[str] = "pack"
    can_be_halved: ClassVar[bool] = False
    cautions: ClassVar[tuple[Caution, ...]] = PACK_CAUTIONS

    pack: Pack

    def words(self) -> str:
        """How many cells, up to which voltage, at which current."""
        pack = self.pack
        volts, amps = format_quantity(pack.pack_v, "V"), format_quantity(pack.current_a, "A")
        return f"{pack.cells} cell{'s' if pack.cells > 1 else ''} up to {volts} at {amps}"

    @property
    def bench(self) -> str:
        """It takes as much as stated for a moment only."""
        volts = format_quantity(self.pack.pack_v, "V")
        return (
            f"Before you join the pack, look at the charger with nothing at its output: never more than {volts}. Stay "
            "with it. It takes the most when the pack is nearly full, just before the current falls: read then."
        )

    def port(self, resistance_ohm: Number) -> PowerPort:
        """What a voltage before a loop resistance [ohm] sees of its charger."""
        return PowerPort(resistance_ohm, self.pack.power_w / counted(self.pack.efficiency))

    def meant_w(self, design_v: float | None) -> float:
        """What goes into the pack [W]."""
        return self.pack.power_w

    def tolerance(self, factor: Number) -> Self:
        """The charge current off by a factor."""
        pack = self.pack.model_copy(update={"current_a": self.pack.current_a * factor})
        return self.model_copy(update={"pack": pack})

    def limits(self, branch: str, *, straight: bool, design_v: float | None = None) -> Iterator[PartLimit]:
        """What voltages its charger takes, asked for behind a converter too; if it steps down, what fills the pack."""
        stepping = self.pack.headroom_v is not None
        for limit in super().limits(branch, straight=True):
            if not (stepping and limit.rule is VOLTAGE_LOW and limit.figure is None):
                yield limit
        if stepping:
            least = self.pack.needs_v
            yield PartLimit(HEADROOM, f"{branch}/load", "voltage", "at_least", least, branch, "load", branch)

    def losses(self, voltage_v: Number, current_a: Number) -> dict[str, Number]:
        """What its charger turns into heat [W]."""
        return {"charger": voltage_v * current_a * (1.0 - counted(self.pack.efficiency))}

    def inside(self, voltage_v: Number, current_a: Number) -> dict[str, tuple[Number, Number]]:
        """The pack itself: its volts and its amperes."""
        return {"pack": (self.pack.pack_v + 0.0 * voltage_v, self.pack.current_a + 0.0 * voltage_v)}

    @property
    def needs_v(self) -> float:
        """The voltage of the full pack, and its charger's headroom [V], where it steps down."""
        return self.pack.needs_v

    @property
    def starts_at_v(self) -> float | None:
        """Not known, but where its charger steps down."""
        return self.pack.needs_v or None
