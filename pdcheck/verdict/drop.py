"""DropResult: the loop resistance from two readings, beside what a cable may have, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.circuit.drop import Drop
from pdcheck.facts.cable import IR_DROP, MARKED_CURRENT, UNMARKED_CURRENT, loop_limit_ohm
from pdcheck.marks import AMONG, told
from pdcheck.named import NamedTuple
from pdcheck.quantities import Triple, format_quantity, over
from pdcheck.result import Result


class LoopLimit(NamedTuple):
    """The most that the loop of a cable of some rating may have, and whether this one keeps within."""

    rated_a: float
    limit_ohm: float
    within: bool
    origin: str


class CostAt(NamedTuple):
    """What a loop costs at a current."""

    current_a: float
    cost: Annotated[Drop, AMONG]


@dataclass(frozen=True, repr=False)
class DropResult(Result):
    """A loop resistance from the voltages at both ends and the current between them."""

    SCHEMA: ClassVar[str] = "drop/1"
    TITLE: ClassVar[str] = "A loop resistance from two readings"
    ROWS: ClassVar[tuple[str, ...]] = ("costs",)

    source_v: float
    sink_v: float
    current_a: float
    loop_ohm: Triple
    costs: tuple[CostAt, ...]

    @told
    def drop_v(self) -> float:
        """What was lost between the two readings."""
        return self.source_v - self.sink_v

    @told
    def formula(self) -> str:
        """The formula, with its source."""
        return "R = (V source - V sink) / I, Ohm's law"

    @told
    def limits(self) -> tuple[LoopLimit, ...]:
        """What the standard allows a cable of each rating."""
        ratings = (UNMARKED_CURRENT.value, MARKED_CURRENT.value)
        most = self.loop_ohm.max
        return tuple(
            LoopLimit(rated, loop_limit_ohm(rated), not over(most, loop_limit_ohm(rated)), str(IR_DROP))
            for rated in ratings
        )

    @property
    def works(self) -> bool:
        """Whether the loop is within what any cable may have."""
        return any(limit.within for limit in self.limits)

    def answer(self) -> str:
        """The loop resistance."""
        return format_quantity(self.loop_ohm.typ, "ohm", 3)
