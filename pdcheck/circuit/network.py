"""The circuit in plain numbers: a source, the resistance of cable and trigger, and branches from the bus to loads.

    source --cable--+--trigger-- bus --+-- wire -- NAME/in [converter] NAME/out -- lead -- NAME/load
                                       +-- wire -- ...

Resistances are loop resistances: the way out and the way back together. SI units throughout.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Literal, NamedTuple

from pdcheck.errors import InputError

LimitKind = Literal["trip", "pps"]
ConverterKind = Literal["buck", "boost", "buck-boost"]


class Source(NamedTuple):
    """An open-circuit voltage and, if known, the current it may give.

    ``limit_kind``: ``pps`` holds the current at the limit and lets the voltage fall; ``trip`` is a fixed supply, whose
    limit is only flagged when it is passed, since what follows (a trip, a droop) is the maker's choice.
    """

    open_v: float
    limit_a: float | None = None
    limit_kind: LimitKind = "trip"


class EfficiencyTable(NamedTuple):
    """Efficiency over input voltage [V] and output current [A], bilinear between the points, held beyond the ends.

    ``values[i][j]`` belongs to ``input_v[i]`` and ``output_a[j]``; both axes rise.

    >>> table = EfficiencyTable((10.0, 20.0), (1.0, 3.0), ((0.90, 0.80), (0.94, 0.88)))
    >>> round(table.at(15.0, 2.0), 6)
    0.88
    >>> table.at(5.0, 0.1)
    0.9
    """

    input_v: tuple[float, ...]
    output_a: tuple[float, ...]
    values: tuple[tuple[float, ...], ...]

    def over_input(self, output_a: float) -> tuple[float, ...]:
        """The efficiency at each point of the input axis, for one output current [A]."""
        return tuple(_interpolate(self.output_a, row, output_a) for row in self.values)

    def at(self, input_v: float, output_a: float) -> float:
        """The efficiency at one input voltage [V] and output current [A]."""
        return _interpolate(self.input_v, self.over_input(output_a), input_v)


def _interpolate(axis: tuple[float, ...], values: tuple[float, ...], at: float) -> float:
    index = bisect_right(axis, at)
    if index == 0:
        return values[0]
    if index == len(axis):
        return values[-1]
    low, high = axis[index - 1], axis[index]
    share = (at - low) / (high - low)
    return values[index - 1] + share * (values[index] - values[index - 1])


class Converter(NamedTuple):
    """A switching converter: its input takes ``output_v x output_a / efficiency + idle_w``.

    Everything that is a limit (None: not known) is judged, never enforced: the operating point is the one with the
    converter at work.
    """

    kind: ConverterKind
    output_v: float
    efficiency: float | EfficiencyTable
    idle_w: float = 0.0
    dropout_v: float = 0.0
    input_min_v: float | None = None
    input_max_v: float | None = None
    input_limit_a: float | None = None
    input_limit_w: float | None = None
    output_limit_a: float | None = None
    output_limit_w: float | None = None
    start_v: float | None = None


class ConstantPower(NamedTuple):
    """A load that holds its power [W] at its own terminals."""

    power_w: float


class ConstantCurrent(NamedTuple):
    """A load that holds its current [A] for as long as its terminals are above 0 V."""

    current_a: float


class Resistance(NamedTuple):
    """A plain resistor [ohm], above 0."""

    resistance_ohm: float


class LedString(NamedTuple):
    """``leds`` LEDs in series with a resistor [ohm]; dark below ``leds x vf_v``, linear above."""

    leds: int
    vf_v: float
    resistor_ohm: float

    @property
    def string_v(self) -> float:
        """Forward voltage of the whole string [V]."""
        return self.leds * self.vf_v


class LedDriver(NamedTuple):
    """``leds`` LEDs in series behind a driver that holds their current: a constant power at the driver's input."""

    leds: int
    vf_v: float
    current_a: float
    headroom_v: float = 0.0
    efficiency: float = 1.0

    @property
    def string_v(self) -> float:
        """Forward voltage of the whole string [V]."""
        return self.leds * self.vf_v

    @property
    def power_w(self) -> float:
        """Power at the driver's input [W]."""
        return self.string_v * self.current_a / self.efficiency


Load = ConstantPower | ConstantCurrent | Resistance | LedString | LedDriver


class Branch(NamedTuple):
    """One path from the bus to a load. Without a converter the load hangs on the bus through wire and lead."""

    name: str
    load: Load
    converter: Converter | None = None
    wire_ohm: float = 0.0
    lead_ohm: float = 0.0


class Network(NamedTuple):
    """A source, the loop resistance of cable and trigger [ohm], what the bus itself draws [A], and the branches."""

    source: Source
    branches: tuple[Branch, ...]
    cable_ohm: float = 0.0
    trigger_ohm: float = 0.0
    bus_a: float = 0.0

    @property
    def series_ohm(self) -> float:
        """Loop resistance between the source and the bus [ohm]."""
        return self.cable_ohm + self.trigger_ohm

    def branch(self, name: str) -> Branch:
        """The branch of that name.

        Raises:
            InputError: there is none.
        """
        for branch in self.branches:
            if branch.name == name:
                return branch
        raise InputError(
            f"no branch named {name!r}",
            expected="one of " + (", ".join(b.name for b in self.branches) or "none at all"),
        )
