"""The circuit's differential equations: slopes, Jacobian and its solution in one pass along the bus, no matrix.

States: current of the cable, voltage of the bus capacitance, then current and capacitor voltage of each branch.
Branches meet at the bus only, so a linear system falls apart into one system of two unknowns for each branch and one
unknown in the middle: the change of the bus voltage.
"""

from __future__ import annotations

import math
from enum import Enum
from typing import Any

from pdcheck.circuit.transient.given import LEAST_INDUCTANCE_H, LEAST_RESISTANCE_OHM, Circuit
from pdcheck.circuit.transient.port import NOTHING, POWER, At, Port, drawn

_A_MOMENT_S = 1e-8
FADING = 20.0
"""An output that runs empty is known in closed form; it is looked at so many times, for whoever draws it."""


class Mode(Enum):
    """What the source's end of the cable does: holds its voltage, its current, lets a current run out, is open.

    ``SHORTED``: it holds its current, and the cable's inductance pulls more through the source's freewheeling path.
    """

    VOLTAGE = "voltage"
    CURRENT = "current"
    RUNNING_OUT = "running out"
    SHORTED = "shorted"
    OPEN = "open"


_OWN = (Mode.VOLTAGE, Mode.RUNNING_OUT)
"""The modes in which the source's own voltage drives the cable's current; while that runs out it stays as it was."""


class Equations:
    """Slopes, Jacobian, solution and observation for the switches as they are now; ``refresh`` after each change."""

    def __init__(self, circuit: Circuit, ports: list[Port]) -> None:
        source, cable, trigger = circuit.source, circuit.cable, circuit.trigger
        self.ports = ports
        self.loop_ohm = max(cable.resistance_ohm + trigger.resistance_ohm, LEAST_RESISTANCE_OHM)
        self.loop_h = max(cable.inductance_h, LEAST_INDUCTANCE_H)
        self.bulk_f, self.bulk_ohm = trigger.bulk_f, trigger.esr_ohm
        self.size = 2 + 2 * len(ports)
        self.mode = Mode.OPEN
        self.limit_a = source.plain.limit_a
        self.from_s = self.from_v = self.slew = 0.0
        self._moving: list[tuple[Any, ...]] = []
        self._still: list[tuple[float, int, float, float]] = []
        self._jacobian: list[tuple[int, float, float, float, float, float]] = []
        self._factors: list[tuple[int, float, float, float, float, float, float]] = []
        self.fastest, self.longest_s = 0.0, math.inf
        """The greatest angular frequency [1/s] of wire and capacitance at a constant power, 0 where there is none; and
        the longest step [s]."""
        self._still_slope = 0.0
        self._open_bus = 1.0
        self._hub = (0.0, 0.0, 0.0, 0.0, 0.0)

    def powers(self, time_s: float) -> list[float]:
        """The constant powers that are drawn behind a wire with inductance [W]."""
        return [row[7] if row[9] is None else row[9](time_s) for row in self._moving if row[6] == POWER]

    def own_v(self, time_s: float) -> float:
        """The source's own voltage [V], behind its resistance, before its limit acts."""
        return self.from_v + self.slew * (time_s - self.from_s)

    def refresh(self, time_s: float) -> None:
        """Read the switches of all branches."""
        self._moving, self._still = [], []
        self.fastest, self.longest_s = 0.0, math.inf
        for port in self.ports:
            port.read_law()
            self.longest_s = min(self.longest_s, max(port.emptied_s() / FADING, _A_MOMENT_S))
            if not port.joined:
                continue
            branch, ramp = port.branch, None
            if port.converter is None:
                kind, size, threshold_v = port.law
                ohm = branch.esr_ohm + branch.lead_ohm
            else:
                ohm, threshold_v = branch.esr_ohm, 0.0
                kind, size = (POWER, port.input_w(time_s)) if port.converter_on else (NOTHING, 0.0)
                ramp = port.input_w if port.rising else None
            if port.moving:
                at = 2 + 2 * port.index
                inverse = (1.0 / port.wire_h, 1.0 / branch.input_f)
                row = (at, port.wire_ohm, *inverse, branch.esr_ohm, ohm, kind, size, threshold_v, ramp)
                if kind == POWER:
                    self.fastest = max(self.fastest, (inverse[0] * inverse[1]) ** 0.5)
                self._moving.append(row)
            else:
                self._still.append((port.wire_ohm + branch.lead_ohm, kind, size, threshold_v))

    def _bus(self, open_v: float) -> tuple[float, float, float]:
        """Bus voltage, current into the branches without inductance, and its slope."""
        bus_v = open_v
        for _ in range(40):
            total = slope = 0.0
            for ohm, kind, size, threshold_v in self._still:
                current, change = drawn(kind, size, threshold_v, bus_v, ohm)
                total += current
                slope += change
            miss = bus_v - open_v + self.bulk_ohm * total
            if abs(miss) < 1e-10:
                break
            bus_v -= miss / max(1.0 + self.bulk_ohm * slope, 0.1)
        return bus_v, total, slope

    def slopes(self, time_s: float, state: list[float]) -> list[float]:
        """dy/dt [A/s, V/s]."""
        out = [0.0] * self.size
        cable_a = state[0]
        drawn_a = 0.0
        for row in self._moving:
            drawn_a += state[row[0]]
        bus_v = state[1] + self.bulk_ohm * (cable_a - drawn_a)
        if self._still:
            bus_v, still_a, _ = self._bus(bus_v)
        else:
            still_a = 0.0
        mode = self.mode
        if mode in _OWN:
            out[0] = (self.from_v + self.slew * (time_s - self.from_s) - self.loop_ohm * cable_a - bus_v) / self.loop_h
        elif mode is Mode.SHORTED:
            out[0] = (-self.loop_ohm * cable_a - bus_v) / self.loop_h
        out[1] = (cable_a - drawn_a - still_a) / self.bulk_f
        for at, wire_ohm, by_h, by_f, esr_ohm, ohm, kind, size, threshold_v, ramp in self._moving:
            current = state[at]
            open_v = state[at + 1] + esr_ohm * current
            if kind == NOTHING:
                taken = 0.0
            else:
                if ramp is not None:
                    size = ramp(time_s)  # noqa: PLW2901
                taken = drawn(kind, size, threshold_v, open_v, ohm)[0]
            out[at] = (bus_v - wire_ohm * current - open_v + esr_ohm * taken) * by_h
            out[at + 1] = (current - taken) * by_f
        return out

    def linearize(self, time_s: float, state: list[float]) -> list[float] | None:
        """Keep the Jacobian at a point; df/dt there, None where nothing changes with time alone."""
        drift: list[float] | None = None
        if self.mode is Mode.VOLTAGE and self.slew != 0.0:
            drift = [0.0] * self.size
            drift[0] = self.slew / self.loop_h
        self._still_slope = 0.0
        if self._still:
            moving_a = sum(state[row[0]] for row in self._moving)
            self._still_slope = self._bus(state[1] + self.bulk_ohm * (state[0] - moving_a))[2]
        self._open_bus = 1.0 + self.bulk_ohm * self._still_slope
        self._jacobian = []
        for at, wire_ohm, by_h, by_f, esr_ohm, ohm, kind, size, threshold_v, ramp in self._moving:
            open_v = state[at + 1] + esr_ohm * state[at]
            if ramp is not None:
                size = ramp(time_s)  # noqa: PLW2901
            slope = 0.0 if kind == NOTHING else drawn(kind, size, threshold_v, open_v, ohm)[1]
            rest = 1.0 - esr_ohm * slope
            self._jacobian.append(
                (at, by_h, (wire_ohm + esr_ohm * rest) * by_h, rest * by_h, rest * by_f, slope * by_f)
            )
            if ramp is not None:
                if drift is None:
                    drift = [0.0] * self.size
                later = drawn(kind, ramp(time_s + _A_MOMENT_S), threshold_v, open_v, ohm)[0]
                gain = (later - drawn(kind, size, threshold_v, open_v, ohm)[0]) / _A_MOMENT_S
                drift[at] = esr_ohm * gain * by_h
                drift[at + 1] = -gain * by_f
        return drift

    def factor(self, diagonal: float) -> None:
        """Make ready to solve with (``diagonal`` - J)."""
        self._factors = []
        answer = 0.0
        for at, by_h, damping, back, charge, leak in self._jacobian:
            first, last = diagonal + damping, diagonal + leak
            inverse = 1.0 / (first * last + back * charge)
            row = (at, last * inverse, -back * inverse, charge * inverse, first * inverse, last * inverse * by_h)
            self._factors.append((*row, charge * inverse * by_h))
            answer += row[5]
        own = 0.0 if self.mode in (Mode.OPEN, Mode.CURRENT) else 1.0 / (diagonal + self.loop_ohm / self.loop_h)
        to_bus = -own / self.loop_h
        lift = 1.0 / (self.bulk_f * diagonal) + self.bulk_ohm
        middle = self._open_bus + self._still_slope / (self.bulk_f * diagonal) - (to_bus - answer) * lift
        self._hub = (diagonal, own, to_bus, lift, 1.0 / middle)

    def solve(self, right: list[float]) -> list[float]:
        """x of (diagonal - J) x = ``right``."""
        diagonal, own, to_bus, lift, by_middle = self._hub
        out = [0.0] * self.size
        pushed = 0.0
        for at, a, b, c, d, _, _ in self._factors:
            x, y = right[at], right[at + 1]
            part = a * x + b * y
            out[at] = part
            out[at + 1] = c * x + d * y
            pushed += part
        cable = own * right[0]
        bus = (right[1] / diagonal + (cable - pushed) * lift) * by_middle
        net = cable + to_bus * bus
        out[0] = net
        for at, _, _, _, _, to_current, to_voltage in self._factors:
            change = to_current * bus
            out[at] += change
            out[at + 1] += to_voltage * bus
            net -= out[at]
        out[1] = (right[1] + (net - self._still_slope * bus) / self.bulk_f) / diagonal
        return out

    def jacobian(self) -> list[list[float]]:
        """The Jacobian where it was last kept, as rows."""
        size, rows = self.size, []
        for column in range(size):
            unit = [0.0] * size
            unit[column] = 1.0
            rows.append(self._times(unit))
        return [list(row) for row in zip(*rows, strict=True)]

    def _times(self, x: list[float]) -> list[float]:
        out = [0.0] * self.size
        moving = sum(x[row[0]] for row in self._jacobian)
        bus = (x[1] + self.bulk_ohm * (x[0] - moving)) / self._open_bus
        if self.mode in (*_OWN, Mode.SHORTED):
            out[0] = (-self.loop_ohm * x[0] - bus) / self.loop_h
        out[1] = (x[0] - moving - self._still_slope * bus) / self.bulk_f
        for at, by_h, damping, back, charge, leak in self._jacobian:
            out[at] = bus * by_h - damping * x[at] - back * x[at + 1]
            out[at + 1] = charge * x[at] - leak * x[at + 1]
        return out

    def observe(self, time_s: float, state: list[float]) -> list[float]:
        """What can be measured: five figures of source and bus, then seven of each branch (see ``Hub`` and ``At``)."""
        cable_a = state[0]
        drawn_a = sum(state[row[0]] for row in self._moving)
        bus_v = state[1] + self.bulk_ohm * (cable_a - drawn_a)
        if self._still:
            bus_v, still_a, _ = self._bus(bus_v)
            drawn_a += still_a
        own_v = self.own_v(time_s)
        held_v = own_v
        if self.mode is Mode.CURRENT:
            held_v = bus_v + self.loop_ohm * cable_a
        elif self.mode is Mode.SHORTED:
            held_v = 0.0
        elif self.mode is Mode.OPEN:
            held_v = bus_v
        out = [held_v, bus_v, cable_a, drawn_a, own_v - held_v]
        for port in self.ports:
            if not port.joined:
                out += (0.0,) * At.WIDTH
                continue
            branch, converter = port.branch, port.converter
            if port.moving:
                at = 2 + 2 * port.index
                in_a = state[at]
                open_v, ohm, before = state[at + 1] + branch.esr_ohm * in_a, branch.esr_ohm, branch.esr_ohm
            else:
                open_v, ohm, before, in_a = bus_v, port.wire_ohm, port.wire_ohm, -1.0
            if converter is None:
                kind, size, threshold_v = port.law
                taken = drawn(kind, size, threshold_v, open_v, ohm + branch.lead_ohm)[0]
                in_v = open_v - before * taken
                in_a = in_a if port.moving else taken
                out += (in_v, in_a, taken, in_v, taken, in_v - branch.lead_ohm * taken, in_a - taken)
            else:
                taken = drawn(POWER, port.input_w(time_s), 0.0, open_v, ohm)[0] if port.converter_on else 0.0
                out_v = port.output_v(time_s)
                out_a = port.output_a(out_v) if out_v else 0.0
                in_v = open_v - before * taken
                out += (in_v, in_a, taken, out_v, out_a, out_v - branch.lead_ohm * out_a, in_a - taken)
        return out
