"""A plain resistance: a heater, a lamp once it is warm."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Self

from pydantic import model_validator

from pdcheck.errors import InputError
from pdcheck.facts.trade import BURNING_SHARE, DIM_SHARE, STRONG_SHARE, WEAK_SHARE
from pdcheck.parts.fields import Ohms, Watts
from pdcheck.parts.limits import LimitRule, PartLimit
from pdcheck.parts.loads.load import LESS_VOLTAGE, MORE_VOLTAGE, Load
from pdcheck.physics.number import Number, greater
from pdcheck.physics.ports import LinearPort

_NO_DEMAND = 1e-300


_NEAR_COLD = LimitRule(
    "load-dim",
    "warn",
    "A load that gets little of its power",
    DIM_SHARE.origin,
    MORE_VOLTAGE,
    "gets only {value} in the worst case: weak, but it works",
    short="weak",
    as_stated=True,
)
COLD = LimitRule(
    "load-weak",
    "fail",
    "A load that gets too little of its power",
    WEAK_SHARE.origin,
    "Set a higher voltage, or put a converter before it.",
    "gets only {value} in the worst case; below {limit} it does not do its job",
    if_words="{branch} is meant for {needs} or less",
    short="too weak",
    near=_NEAR_COLD,
    as_stated=True,
)
_NEAR_HOT = LimitRule(
    "load-strong",
    "warn",
    "A load that gets more than its power",
    STRONG_SHARE.origin,
    "It gets hotter than it is meant to: set a lower voltage, or put a converter before it.",
    "gets {value} in the worst case, more than it is meant for",
    short="too strong",
    as_stated=True,
)
HOT = LimitRule(
    "load-burns",
    "stop",
    "A load that gets far more than its power",
    BURNING_SHARE.origin,
    LESS_VOLTAGE,
    "gets {value} in the worst case; above {limit} it may burn",
    if_words="{branch} is meant for {needs} or more",
    short="may burn: do not connect",
    near=_NEAR_HOT,
    as_stated=True,
)


class ResistanceLoad(Load, init=False):
    """A resistance [ohm]; more load is fewer ohms. ``power_w`` is what it is there for, ``least_w`` what still does.

    >>> ResistanceLoad(resistance="6ohm").port(0.5)
    LinearPort(resistance_ohm=6.5, threshold_v=0.0)
    """

    key: ClassVar[str] = "resistance"
    figure: ClassVar[str] = "resistance_ohm"
    unit: ClassVar[str] = "ohm"
    example: ClassVar[str] = "6ohm"
    grows_with_voltage: ClassVar[bool] = True
    has_own_voltage: ClassVar[bool] = False

    resistance_ohm: Ohms
    power_w: Watts | None = None
    least_w: Watts | None = None
    average_w: Watts | None = None

    @model_validator(mode="after")
    def _least_of_a_power(self) -> Self:
        if self.least_w is not None and (self.power_w is None or self.least_w > self.power_w):
            raise InputError("the least is given", expected="a power at least as great beside it", key=("least",))
        return self

    def limits(self, branch: str, *, straight: bool, design_v: float | None = None) -> Iterator[PartLimit]:
        """Beside its voltage: enough of the power that it is there for, and not much more.

        Straight on the bus, without a power of its own, what it takes on the voltage that is asked for counts.
        """
        yield from super().limits(branch, straight=straight)
        told = self.meant_w(design_v if straight else None)
        weak = WEAK_SHARE.value if self.power_w is None or self.least_w is None else self.least_w / self.power_w
        open_too = (None,) if straight and self.power_w is None else ()
        for meant in (*(() if told is None else (told,)), *open_too):
            key = f"{branch}.load.power" if meant is None else ""
            cold = PartLimit(
                COLD, f"{branch}/load", "power", "at_least", meant, branch, "load", branch, key=key, settle_by="look"
            )
            yield cold._replace(share=weak, near_share=max(weak, DIM_SHARE.value))
            yield cold._replace(rule=HOT, sense="at_most", share=BURNING_SHARE.value, near_share=STRONG_SHARE.value)

    def meant_w(self, design_v: float | None) -> float | None:
        """The power [W] that is stated, else what it takes on that voltage [V]."""
        if self.power_w is not None or design_v is None:
            return self.power_w
        return design_v * design_v / self.resistance_ohm

    def port(self, resistance_ohm: Number) -> LinearPort:
        """What a voltage before a loop resistance [ohm] sees of it."""
        return LinearPort(resistance_ohm + self.resistance_ohm, 0.0)

    def tolerance(self, factor: Number) -> Self:
        """Its ohms off by a factor; more load is fewer of them by the same part."""
        return self.with_figure(self.resistance_ohm * (2.0 - factor))

    def demand(self, factor: Number) -> Self:
        """That many of them side by side."""
        return self.with_figure(self.resistance_ohm / greater(factor, _NO_DEMAND))

    @property
    def ohmmeter_ohm(self) -> float:
        """Its own resistance [ohm]."""
        return self.resistance_ohm
