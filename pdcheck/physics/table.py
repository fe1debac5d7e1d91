"""A converter whose efficiency changes with its input voltage, behind a wire: the current in pieces, each convex.

Along the input voltage x of the converter the efficiency is a straight line between two points of the table, so its
input current J(x) = (P_out / efficiency(x) + P_idle) / x is convex along each line, and so is the bus voltage that
belongs to it, h(x) = x + R J(x). The branch sits on the highest x with h(x) = bus voltage. ``table_port`` cuts that
highest solution into one piece a line, from the highest bus voltage down; where a table is so odd that the highest
solution jumps, the jump falls between two pieces, and a line that no highest solution is on has an empty piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from pdcheck.named import NamedTuple
from pdcheck.physics.number import Number, anywhere, greater, lesser, pick, where

_BISECTIONS = 100
_NEWTON_STEPS = 100
_LOWEST_INPUT_V = 1e-6
_INFINITY = float("inf")


class Line(NamedTuple):
    """One straight line of the table, ``efficiency = offset + gradient x``, between two input voltages [V]."""

    low_x: Number
    high_x: Number
    offset: Number
    gradient: Number


class TablePort(NamedTuple):
    """All pieces of one branch, from the highest bus voltage down.

    Piece k reaches down to the bus voltage ``low_v[k]`` [V] and the input voltage ``low_x[k]`` [V], on ``lines[k]``.
    """

    resistance_ohm: Number
    output_w: Number
    idle_w: Number
    lines: tuple[Line, ...]
    low_v: tuple[Number, ...] = ()
    low_x: tuple[Number, ...] = ()

    @property
    def least_v(self) -> Number:
        """The bus voltage [V] below which this power cannot be had."""
        return self.low_v[-1]

    def _place(self, bus_v: Number) -> Number:
        """The piece that holds just below a bus voltage [V]: at a joint, the lower one."""
        return lesser(sum(bus_v <= low for low in self.low_v), len(self.low_v) - 1)

    def joint_v(self, bus_v: Number) -> Number:
        """The next bus voltage [V] further down at which a piece ends."""
        return pick(self.low_v, self._place(bus_v))

    def input_v(self, bus_v: Number) -> Number:
        """The converter's input voltage [V] at a bus voltage [V]."""
        place = self._place(bus_v)
        return self._input(bus_v, self._line(place), pick(self.low_x, place))

    def current(self, bus_v: Number) -> tuple[Number, Number]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        place = self._place(bus_v)
        line = self._line(place)
        current, slope = self._current(self._input(bus_v, line, pick(self.low_x, place)), line)
        return current, slope / greater(1.0 + self.resistance_ohm * slope, 1e-300)

    def _line(self, place: Number) -> Line:
        if isinstance(place, int):
            return self.lines[place]
        return Line(*(pick(figures, place) for figures in zip(*self.lines, strict=True)))

    def _current(self, input_v: Number, line: Line) -> tuple[Number, Number]:
        """The input current [A] at an input voltage [V] on one line, and its slope [A/V]."""
        efficiency = line.offset + line.gradient * input_v
        current = (self.output_w / efficiency + self.idle_w) / input_v
        return current, -(current + self.output_w * line.gradient / (efficiency * efficiency)) / input_v

    def _bus(self, input_v: Number, line: Line) -> tuple[Number, Number]:
        """The bus voltage [V] that belongs to an input voltage [V], and its slope [V/V]."""
        current, slope = self._current(input_v, line)
        return input_v + self.resistance_ohm * current, 1.0 + self.resistance_ohm * slope

    def _input(self, bus_v: Number, line: Line, low_x: Number) -> Number:
        """The input voltage [V] on one line: Newton's steps from above, which never pass it, since h is convex."""
        x = lesser(bus_v, line.high_x)
        for _ in range(_NEWTON_STEPS):
            at, slope = self._bus(x, line)
            moves = (at > bus_v) & (slope > 0.0)
            step = where(moves, (at - bus_v) / where(moves, slope, 1.0), 0.0)
            x = x - step
            if not anywhere(step > 1e-15 * x):
                break
        return greater(x, low_x)

    def _turn(self, line: Line) -> Number:
        """The input voltage [V] of a line's lowest bus voltage; its lower end where the bus falls all the way."""
        if isinstance(line.gradient, float) and line.gradient == 0.0:
            # Of a constant power P that is where x^2 = R P.
            return greater(line.low_x, (self.resistance_ohm * (self.output_w / line.offset + self.idle_w)) ** 0.5)
        turns = self._bus(line.low_x, line)[1] < 0.0
        low, high = line.low_x, where(turns, line.high_x, line.low_x)
        for _ in range(_BISECTIONS):
            middle = 0.5 * (low + high)
            if not anywhere((low < middle) & (middle < high)):
                break
            falls = self._bus(middle, line)[1] < 0.0
            low, high = where(falls, middle, low), where(falls, high, middle)
        return high

    def cut(self) -> TablePort:
        """The same with its pieces."""
        reached: Number = _INFINITY
        kept: list[Line] = []
        low_v: list[Number] = []
        low_x: list[Number] = []
        for line in self.lines:
            turn_x = self._turn(line)
            turn_v = self._bus(turn_x, line)[0]
            rises = True if line.high_x == _INFINITY else self._bus(line.high_x, line)[1] > 0.0
            # Not met by a power that is NaN, which no lead can bring: such a branch has no piece at all.
            reaches = (turn_v < reached) & rises
            reached = where(reaches, turn_v, reached)
            # An empty piece repeats the one above, so that what is past all of them is at the end of the last.
            above = (*kept[-1], low_x[-1]) if kept else (*line, turn_x)
            *figures, end_x = (where(reaches, new, old) for new, old in zip((*line, turn_x), above, strict=True))
            kept.append(Line(*figures))
            low_v.append(reached)
            low_x.append(end_x)
        return self._replace(lines=tuple(kept), low_v=tuple(low_v), low_x=tuple(low_x))


def table_port(
    axis_v: Sequence[float], values: Sequence[Number], output_w: Number, idle_w: Number, resistance_ohm: Number
) -> TablePort:
    """The branch of a converter with an efficiency table, cut into convex pieces.

    Args:
        axis_v: input voltages of the table [V], rising.
        values: the efficiency at each of them, for the output current at hand.
        output_w: power at the converter's output [W], above 0.
        idle_w: what the converter draws of its own [W].
        resistance_ohm: loop resistance of the input wire [ohm].

    >>> port = table_port((10.0, 20.0), (0.8, 0.9), 18.0, 0.0, 0.0)
    >>> port.low_v, port.current(15.0)[0]
    ((20.0, 10.0, 1e-06), 1.4117647058823528)
    """
    lines = [Line(_LOWEST_INPUT_V, axis_v[0], values[0], 0.0)]
    for (low, high), (first, last) in zip(pairwise(axis_v), pairwise(values), strict=True):
        gradient = (last - first) / (high - low)
        lines.append(Line(low, high, first - gradient * low, gradient))
    lines.append(Line(axis_v[-1], _INFINITY, values[-1], 0.0))
    return TablePort(resistance_ohm, output_w, idle_w, tuple(reversed(lines))).cut()
