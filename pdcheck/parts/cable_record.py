"""A cable as documents hold it."""

from __future__ import annotations

from typing import Annotated

from pdcheck.marks import AMONG, UNTOLD, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable, Construction
from pdcheck.quantities import Triple


class CableFigures(NamedTuple):
    """What every document says of a cable, in the units of the wire."""

    cable: Annotated[Cable, UNTOLD]

    @told
    def construction(self) -> Construction:
        """How it is made."""
        return self.cable.construction

    @told
    def emarker(self) -> bool:
        """Whether it says of itself what it carries."""
        return self.cable.emarker

    @told
    def pd(self) -> bool:
        """Whether PD gets through."""
        return self.cable.pd

    @told
    def current_ma(self) -> int:
        """The most that it carries."""
        return round(self.cable.current_a * 1000)

    @told
    def voltage_mv(self) -> int:
        """The most that may stand on it."""
        return round(self.cable.voltage_v * 1000)

    @told
    def epr(self) -> bool:
        """Whether a source takes it for EPR."""
        return self.cable.is_epr

    @told
    def loop_ohm(self) -> Triple | None:
        """Its loop resistance, where it was measured."""
        return self.cable.loop


class CableRecord(NamedTuple):
    """A cable as a kit holds it."""

    id: str
    title: str
    figures: Annotated[CableFigures, AMONG]
    length_m: float | None
    problems: tuple[str, ...]
    assumed: tuple[str, ...]

    @classmethod
    def of(cls, cable: Cable) -> CableRecord:
        """The record of a cable."""
        return cls(cable.id, cable.title, CableFigures(cable), cable.length_m, cable.problems, cable.assumed)
