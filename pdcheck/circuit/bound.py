"""Bound: a limit on what happens at a node of the circuit, handed in by those who know the parts."""

from __future__ import annotations

from typing import Literal

from pdcheck.named import NamedTuple
from pdcheck.parts.limits import Quantity, Sense
from pdcheck.physics.number import ON_THE_LIMIT, Condition, Number

# Keeps a limit of nothing from being divided by.
_NO_LIMIT = 1e-12


class Bound(NamedTuple):
    """At a node (``source``, ``bus``, ``NAME/in``, ``NAME/out``, ``NAME/load``) the most or the least of a quantity.

    What is warm has nodes of its own (see ``warm.py``), whose one figure stands where others have their voltage.
    ``limit`` is in V, A, W or degrees C; of many circuits it may be an array with one for each.
    """

    node: str
    quantity: Quantity
    sense: Sense
    limit: float

    @property
    def branch(self) -> str:
        """The branch that the node belongs to; empty for source and bus."""
        return self.node.rpartition("/")[0]

    def value(self, voltage_v: Number, current_a: Number) -> Number:
        """The quantity of a node at a voltage [V] and a current [A]."""
        if self.quantity == "power":
            return voltage_v * current_a
        return current_a if self.quantity == "current" else voltage_v

    def holds(self, value: Number) -> Condition:
        """Whether a value of the quantity is within the limit, or on it; not where it is NaN.

        >>> Bound("source", "current", "at_most", 3.0).holds(3.0)
        True
        """
        return self.margin(value) >= 0.0

    def margin(self, value: Number) -> Number:
        """How far a value is within the limit, as a part of it; below 0 where it is past it."""
        way = 1.0 if self.sense == "at_most" else -1.0
        return way * (self.limit * (1.0 + way * ON_THE_LIMIT) - value) / (abs(self.limit) + _NO_LIMIT)


Met = Bound | Literal["collapse", "nothing"]
"""What is met first when a load grows: a bound, the collapse of the bus, a wire or a lead, or nothing at all."""
