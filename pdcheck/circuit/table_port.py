"""A branch whose converter has an efficiency table: the current in pieces, each of them convex.

Along the input voltage x of the converter the efficiency is a straight line between two points of the table, so its
input current J(x) = (P_out / efficiency(x) + P_idle) / x is convex in each segment, and so is the bus voltage that
belongs to it, h(x) = x + R J(x). The branch sits on the highest x with h(x) = bus voltage. ``table_pieces`` cuts that
highest solution into pieces of one segment each, from the highest bus voltage down; where a table is so odd that the
highest solution jumps, the jump falls between two pieces.
"""

from __future__ import annotations

from typing import NamedTuple

from pdcheck.circuit.formulas import table_current

_BISECTIONS = 200
_NEWTON_STEPS = 100
_LOWEST_INPUT_V = 1e-6


class TablePiece(NamedTuple):
    """One segment of the table, ``efficiency = offset + gradient x``, between two bus voltages [V].

    ``low_x`` and ``high_x`` are the converter's input voltages [V] at the two ends.
    """

    low_v: float
    high_v: float
    low_x: float
    high_x: float
    resistance_ohm: float
    output_w: float
    idle_w: float
    offset: float
    gradient: float

    @property
    def least_v(self) -> float:
        """The bus voltage [V] at which this piece ends."""
        return self.low_v

    def bus_v(self, input_v: float) -> tuple[float, float]:
        """The bus voltage [V] that belongs to an input voltage [V], and its slope [V/V]."""
        current, slope = table_current(input_v, self.output_w, self.idle_w, self.offset, self.gradient)
        return input_v + self.resistance_ohm * current, 1.0 + self.resistance_ohm * slope

    def input_v(self, bus_v: float) -> float:
        """The converter's input voltage [V] at a bus voltage [V] of this piece: Newton's steps from above."""
        x = min(self.high_x, bus_v)
        for _ in range(_NEWTON_STEPS):
            at, slope = self.bus_v(x)
            if at <= bus_v or slope <= 0.0:
                break
            step = (at - bus_v) / slope
            x -= step
            if step <= 1e-15 * x:
                break
        return max(x, self.low_x)

    def current(self, bus_v: float) -> tuple[float, float]:
        """Current [A] and slope [A/V] at a bus voltage [V] of this piece."""
        x = self.input_v(bus_v)
        current, slope = table_current(x, self.output_w, self.idle_w, self.offset, self.gradient)
        along = 1.0 + self.resistance_ohm * slope
        return current, slope / max(along, 1e-300)


class TablePort(NamedTuple):
    """All pieces of one branch, from the highest bus voltage down."""

    pieces: tuple[TablePiece, ...]

    @property
    def least_v(self) -> float:
        """The bus voltage [V] below which this power cannot be had."""
        return self.pieces[-1].low_v

    def piece(self, bus_v: float) -> TablePiece:
        """The piece that holds at a bus voltage [V]; at a joint, the one above."""
        for piece in self.pieces:
            if bus_v >= piece.low_v:
                return piece
        return self.pieces[-1]

    def current(self, bus_v: float) -> tuple[float, float]:
        """Current [A] and slope [A/V] at a bus voltage [V]."""
        return self.piece(bus_v).current(bus_v)


def table_pieces(
    axis_v: tuple[float, ...], values: tuple[float, ...], output_w: float, idle_w: float, resistance_ohm: float
) -> tuple[TablePiece, ...]:
    """Cut the branch's highest solution into convex pieces.

    Args:
        axis_v: input voltages of the table [V], rising.
        values: the efficiency at each of them, for the output current at hand.
        output_w: power at the converter's output [W], above 0.
        idle_w: what the converter draws of its own [W].
        resistance_ohm: loop resistance of the input wire [ohm].
    """
    pieces: list[TablePiece] = []
    reached_v = float("inf")
    for low_x, high_x, offset, gradient in _segments(axis_v, values):
        whole = TablePiece(0.0, reached_v, low_x, high_x, resistance_ohm, output_w, idle_w, offset, gradient)
        if high_x < float("inf") and whole.bus_v(high_x)[1] <= 0.0:
            continue
        turn_x = low_x if whole.bus_v(low_x)[1] >= 0.0 else _turning_point(whole)
        turn_v = whole.bus_v(turn_x)[0]
        if turn_v >= reached_v:
            continue
        top_x = high_x if reached_v == float("inf") else _highest(whole, turn_x, reached_v)
        pieces.append(whole._replace(low_v=turn_v, low_x=turn_x, high_x=top_x))
        reached_v = turn_v
    return tuple(pieces)


def _segments(axis_v: tuple[float, ...], values: tuple[float, ...]) -> list[tuple[float, float, float, float]]:
    """(low x, high x, offset, gradient) of each straight line of the table, from the top; held beyond the ends."""
    segments = [(axis_v[-1], float("inf"), values[-1], 0.0)]
    for index in range(len(axis_v) - 1, 0, -1):
        low, high = axis_v[index - 1], axis_v[index]
        gradient = (values[index] - values[index - 1]) / (high - low)
        segments.append((low, high, values[index - 1] - gradient * low, gradient))
    segments.append((_LOWEST_INPUT_V, axis_v[0], values[0], 0.0))
    return segments


def _turning_point(segment: TablePiece) -> float:
    """The input voltage [V] of a segment's lowest bus voltage, where that lies inside the segment."""
    low = segment.low_x
    high = segment.high_x
    if high == float("inf"):
        high = 2.0 * low
        while segment.bus_v(high)[1] < 0.0:
            high *= 2.0
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if segment.bus_v(middle)[1] < 0.0:
            low = middle
        else:
            high = middle
    return high


def _highest(segment: TablePiece, turn_x: float, bus_v: float) -> float:
    """The highest input voltage [V] of a segment, from its turning point up, that goes with a bus voltage [V]."""
    low, high = turn_x, segment.high_x
    if segment.bus_v(high)[0] <= bus_v:
        return high
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if segment.bus_v(middle)[0] <= bus_v:
            low = middle
        else:
            high = middle
    return low
