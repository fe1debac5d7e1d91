"""CableResult: what a cable may carry, and what it costs at a current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.bits.cable import CableReading
from pdcheck.bits.objects import Reading
from pdcheck.bits.problems import Problem
from pdcheck.circuit.drop import drop
from pdcheck.marks import AMONG, UNTOLD, told
from pdcheck.named import NamedTuple
from pdcheck.parts.cable import Cable, CableFigures
from pdcheck.quantities import Triple, format_quantity, over
from pdcheck.result import Result


class MarkerRecord(NamedTuple):
    """What an e-marker says of its cable, and by which revision it was read."""

    revision: str
    revision_from: str
    product_id: int | None
    certification: int | None
    plug_type: str | None
    speed: str | None
    latency: str | None
    objects: tuple[Reading, ...]


class CableCost(NamedTuple):
    """What a cable costs at a current."""

    at_a: float
    drop_v: Triple
    loss_w: Triple


@dataclass(frozen=True, repr=False)
class CableResult(Result):
    """A cable, the e-marker that says so where there is one, and what it costs at a current [A] where one is asked."""

    SCHEMA: ClassVar[str] = "cable/2"
    TITLE: ClassVar[str] = "What a cable may carry and what it drops"

    cable: Annotated[Cable, UNTOLD]
    reading: Annotated[CableReading | None, UNTOLD] = None
    at: Annotated[float | None, UNTOLD] = None

    @told
    def figures(self) -> Annotated[CableFigures, AMONG]:
        """What it may carry."""
        return CableFigures(self.cable)

    @told
    def vendor_id(self) -> int | None:
        """The vendor, by its e-marker."""
        return None if self.reading is None else self.reading.vendor_id

    @told
    def problems(self) -> tuple[Problem, ...]:
        """What is odd about it, and whether the current is more than it carries."""
        if self.reading is not None:
            found = self.reading.problems
        else:
            found = tuple(Problem("description", each) for each in self.cable.problems)
        return found if self.works else (*found, Problem("over-current", self.too_much))

    @told
    def assumed(self) -> tuple[str, ...]:
        """What nobody said and was counted with."""
        loop, assumed = self.cable.loop_ohm()
        if not assumed or self.at is None:
            return self.cable.assumed
        limit = format_quantity(loop.max, "ohm")
        text = f"loop resistance not measured: at worst {limit}, the standard's limit; half of it as typical"
        return (*self.cable.assumed, text)

    @told
    def marker(self) -> Annotated[MarkerRecord | None, AMONG]:
        """What the e-marker says besides."""
        read = self.reading
        if read is None:
            return None
        known = (read.product_id, read.certification, read.plug_type, read.speed, read.latency)
        return MarkerRecord(read.revision, read.decided_by, *known, read.readings)

    @told
    def cost(self) -> Annotated[CableCost | None, AMONG]:
        """Drop and loss at the current that was asked for."""
        if self.at is None:
            return None
        ends = [drop(each, self.at) for each in self.cable.resistance]
        return CableCost(self.at, Triple(*(each.drop_v for each in ends)), Triple(*(each.loss_w for each in ends)))

    @property
    def works(self) -> bool:
        """Whether it carries the current that was asked for."""
        return self.at is None or not over(self.at, self.cable.current_a)

    @property
    def too_much(self) -> str:
        """That the current is more than it carries."""
        return f"{self.at or 0:g} A is more than the {self.cable.current_a:g} A that this cable carries"

    def answer(self) -> str:
        """What it may carry."""
        cable = self.cable
        carries = f"{cable.construction}, {cable.current_a:g} A, {cable.voltage_v:g} V{', EPR' if cable.is_epr else ''}"
        return carries if self.works else f"{carries}; {self.too_much}"
