"""A branch while time runs: what is switched on, how its load draws, what its converter's output does."""

from __future__ import annotations

import math

from pdcheck.circuit.transient.given import LEAST_INDUCTANCE_H, LEAST_RESISTANCE_OHM, LEAST_SOFT_START_S, Branch, Load
from pdcheck.named import NamedTuple

NOTHING, POWER, LINEAR, CURRENT = 0, 1, 2, 3
KNEE_V = 0.1
"""Below this a load of constant current draws in proportion, so that it never pulls a node below 0 V."""


class Hub:
    """What is observed of source and bus: places in an observation."""

    SOURCE_V, BUS_V, CABLE_A, BUS_A, SPARE_V = range(5)
    WIDTH = 5


class At:
    """What is observed of a branch: places in an observation beyond ``Port.place``."""

    IN_V, IN_A, TAKEN_A, OUT_V, OUT_A, LOAD_V, CHARGE_A = range(7)
    WIDTH = 7


class Law(NamedTuple):
    """A kind with its figures: a power [W]; a conductance [S] above a threshold [V]; a current [A]."""

    kind: int
    size: float = 0.0
    threshold_v: float = 0.0


OFF = Law(NOTHING)


def drawn(kind: int, size: float, threshold_v: float, open_v: float, ohm: float) -> tuple[float, float]:
    """Current [A] behind a resistance [ohm] on a voltage [V], and its slope over that voltage [A/V].

    A constant power past maximum power transfer gets what can pass, open_v / (2 R). Sources: Ohm's law, the
    constant-power quadratic [any circuits textbook].

    >>> drawn(POWER, 24.0, 0.0, 10.0, 1.0), drawn(LINEAR, 0.5, 9.0, 12.0, 2.0), drawn(CURRENT, 2.0, 0.0, 12.0, 1.0)
    ((4.0, -2.0), (0.75, 0.25), (2.0, 0.0))
    """
    if kind == POWER:
        inside = open_v * open_v - 4.0 * ohm * size
        if open_v <= 0.0:
            return 0.0, 0.0
        if inside <= 1e-9 * open_v * open_v:
            return open_v / (2.0 * ohm), 0.5 / ohm
        root = math.sqrt(inside)
        current = 2.0 * size / (open_v + root)
        return current, -current / root
    if kind == LINEAR:
        over = open_v - threshold_v
        if over <= 0.0:
            return 0.0, 0.0
        slope = size / (1.0 + ohm * size)
        return slope * over, slope
    if kind == CURRENT:
        if open_v - ohm * size >= KNEE_V:
            return size, 0.0
        slope = 1.0 / (ohm + KNEE_V / size)
        return max(open_v, 0.0) * slope, slope if open_v > 0.0 else 0.0
    return 0.0, 0.0


def law_of(load: Load, factor: float) -> Law:
    """What a load draws while it is on, ``factor`` times as much as stated.

    >>> law_of(Load("leds", 40.0, string_v=10.0), 2.0)
    Law(kind=2, size=0.05, threshold_v=10.0)
    """
    if load.kind == "power":
        return Law(POWER, load.value * factor)
    if load.kind == "current":
        return Law(CURRENT, load.value * factor)
    return Law(LINEAR, factor / load.value, load.string_v)


class Port:
    """The discrete state of one branch, and its converter's output, which is known in closed form at every moment.

    ``waiting``: it has started, and its soft start is still below what the output capacitance holds; ``rising``: in
    soft start beyond that. ``live``: whether a load with a start voltage of its own has it. ``running``: whether the
    branch does its job, which the fates count.
    """

    def __init__(self, branch: Branch, index: int, expected_v: float) -> None:
        self.branch, self.index, self.place = branch, index, Hub.WIDTH + At.WIDTH * index
        self.name, self.converter, self.load = branch.name, branch.converter, branch.load
        self.wire_ohm = max(branch.wire_ohm, LEAST_RESISTANCE_OHM)
        self.wire_h = max(branch.wire_h, LEAST_INDUCTANCE_H)
        self.moving, self.lead_ohm = branch.input_f > 0.0, branch.lead_ohm
        self.joined, self.switched = branch.joined, branch.load.on
        self.ever_on = self.switched
        self.converter_on = self.waiting = self.rising = False
        self.live = self.running = self.refused = False
        self.factor = 1.0
        self.starts = self.stops = 0
        self.stop_times: list[float] = []
        self.expected_v = expected_v
        self._since_s = self._held_v = self._began_s = 0.0
        self.law = OFF
        converter = branch.converter
        self.rise_v_per_s = 0.0
        if converter is not None:
            self.rise_v_per_s = converter.output_v / max(converter.soft_start_s, LEAST_SOFT_START_S)
        self.given_j = self.lead_j = 0.0

    @property
    def has_threshold(self) -> bool:
        """Whether the load has a start voltage of its own."""
        return self.load.stop_v > 0.0

    @property
    def draws(self) -> bool:
        """Whether the load itself draws, once there is a voltage."""
        return self.switched and (self.live or not self.has_threshold)

    @property
    def up_v(self) -> float:
        """The voltage at a plain load on the bus from which it counts as running [V]: 80 % of what it is to get."""
        string = self.load.string_v
        return max(0.8 * self.expected_v, string + 0.2 * (self.expected_v - string) if string else 0.0)

    @property
    def down_v(self) -> float:
        """Where it counts as failing [V]."""
        return self.up_v * 0.875

    @property
    def _gone_v(self) -> float:
        """The output voltage at which a load of constant power cuts off behind the lead [V]."""
        stop_v = self.load.stop_v
        return stop_v + self.lead_ohm * self.load.value * self.factor / stop_v if stop_v > 0.0 else 0.0

    def read_law(self) -> None:
        """Take up what the load draws from now on; to be called after every switch."""
        self.law = law_of(self.load, self.factor) if self.draws else OFF

    # ---- the converter's output

    def output_v(self, time_s: float) -> float:
        """The converter's output [V]."""
        converter = self.converter
        assert converter is not None
        gone = time_s - self._since_s
        if self.rising:
            return self._held_v + self.rise_v_per_s * gone
        if self.converter_on and not self.waiting:
            return self._held_v
        if self._held_v <= 0.0:
            return 0.0
        return self._left_v(gone, converter.output_f)

    def _left_v(self, gone_s: float, farad: float) -> float:
        kind, size, threshold_v = self.law
        held = self._held_v
        if kind == POWER:
            left = held * held - 2.0 * size * gone_s / farad
            return max(math.sqrt(max(left, 0.0)), min(held, self._gone_v))
        if kind == CURRENT:
            return max(held - size * gone_s / farad, 0.0)
        if kind == LINEAR and held > threshold_v:
            ohm = 1.0 / size + self.branch.lead_ohm
            return threshold_v + (held - threshold_v) * math.exp(-gone_s / (ohm * farad))
        return held

    def emptied_s(self) -> float:
        """How long [s], from when it was last kept, the output capacitance feeds the load: to the load's cut-off of a
        constant power, to nothing of a constant current, one time constant of a resistance; endless if nothing draws.
        """
        kind, size, _ = self.law
        held = self._held_v
        if self.converter is None or held <= 0.0 or (self.converter_on and not self.waiting):
            return math.inf
        farad = self.converter.output_f
        if kind == POWER:
            return max(0.5 * farad * (held * held - self._gone_v**2) / size, 0.0)
        if kind == CURRENT:
            return farad * held / size
        return farad * (1.0 / size + self.lead_ohm) if kind == LINEAR else math.inf

    def runs_dry_s(self) -> float | None:
        """When a load of constant power cuts off on what the output capacitance holds [s]; None where it does not."""
        emptied = self.emptied_s()
        return self._since_s + emptied if self.law.kind == POWER and emptied < math.inf else None

    def output_a(self, output_v: float) -> float:
        """The current into lead and load [A] at an output voltage [V]."""
        kind, size, threshold_v = self.law
        return drawn(kind, size, threshold_v, output_v, self.lead_ohm)[0]

    def up_at_s(self) -> float:
        """When soft start ends [s]."""
        assert self.converter is not None
        return self._since_s + (self.converter.output_v - self._held_v) / self.rise_v_per_s

    def reaches_s(self, output_v: float) -> float | None:
        """When the output reaches a voltage on its way up [s]; None where it never does, or has it."""
        if self.converter is None or not self.rising or not self._held_v < output_v <= self.converter.output_v:
            return None
        return self._since_s + (output_v - self._held_v) / self.rise_v_per_s

    def input_w(self, time_s: float) -> float:
        """What the converter takes at its input [W]."""
        converter = self.converter
        assert converter is not None
        if self.waiting:
            return converter.idle_w
        output_v = self.output_v(time_s)
        output_a = self.output_a(output_v)
        if self.rising:
            output_a += converter.output_f * self.rise_v_per_s
        return output_v * output_a / converter.efficiency + converter.idle_w

    def finish_rise(self, time_s: float) -> None:
        """Soft start is over."""
        self.rising = False
        self.anchor(time_s)

    def anchor(self, time_s: float) -> None:
        """Keep the output as it is now; to be called before anything that changes how it goes on."""
        if self.converter is None:
            return
        now_v = self.output_v(time_s)
        if (self.waiting or not self.converter_on) and self.converter.output_f > 0.0:
            energy = 0.5 * self.converter.output_f * (self._held_v**2 - now_v**2)
            kind, size, _ = self.law
            share = self.branch.lead_ohm * size / (1.0 + self.branch.lead_ohm * size) if kind == LINEAR else 0.0
            if kind == LINEAR and self.load.string_v:
                charge = self.converter.output_f * (self._held_v - now_v)
                share *= max(energy - charge * self.load.string_v, 0.0) / energy if energy > 0.0 else 0.0
            self.lead_j += energy * share
            self.given_j += energy * (1.0 - share)
            if kind == POWER and now_v <= self._gone_v * (1.0 + 1e-9):
                self.live = False
        self._since_s, self._held_v = time_s, now_v
        if self.converter_on and not self.rising and not self.waiting:
            self._held_v = self.converter.output_v

    def output_stored_j(self, time_s: float) -> float:
        """What the output capacitance holds [J]."""
        if self.converter is None:
            return 0.0
        return 0.5 * self.converter.output_f * self.output_v(time_s) ** 2

    def move_on(self, by_s: float, gained: list[float]) -> None:
        """Skip ``by_s`` [s] of a cycle: starts and stops, and joules into load and lead, that it brought."""
        starts, stops, given_j, lead_j = gained
        self._since_s += by_s
        self._began_s += by_s
        self.starts += round(starts)
        self.stops += round(stops)
        self.given_j += given_j
        self.lead_j += lead_j
        if stops:
            # The stops before them are left behind: the time skipped is no pause between two of them.
            self.stop_times = [at + by_s for at in self.stop_times[-4:]]

    def switch_converter(self, on: bool, time_s: float) -> None:
        """Start or stop the converter; without output capacitance the output is gone at once."""
        self.anchor(time_s)
        self.converter_on = on
        self.waiting, self.rising = on and self._held_v > 0.0, on and self._held_v <= 0.0
        self._began_s = time_s
        if not on and self.converter is not None and self.converter.output_f <= 0.0:
            self._held_v, self.live = 0.0, False

    def catches_up_s(self) -> float:
        """When the soft start passes what the output capacitance still holds [s]; found by bisection."""
        low = max(self._since_s, self._began_s)
        high = max(low, self._began_s + self._held_v / self.rise_v_per_s)
        for _ in range(60):
            middle = 0.5 * (low + high)
            if self.rise_v_per_s * (middle - self._began_s) < self.output_v(middle):
                low = middle
            else:
                high = middle
        return high

    def catch_up(self, time_s: float) -> None:
        """The converter takes the output over."""
        self.anchor(time_s)
        self.waiting, self.rising = False, True
