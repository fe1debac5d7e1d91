"""Plugging in, without following every microsecond: who pulls the bus down, who never starts, whose input swings on.

It holds where the bus moves fast beside a soft start, as on real boards: a fraction of a millisecond beside some. One
circuit, or many as arrays; more load is never better.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from typing import Literal

from pdcheck.circuit.from_rig import design_voltage
from pdcheck.circuit.network import Branch, Network
from pdcheck.circuit.transient.closed_forms import settles
from pdcheck.circuit.transient.from_rig import Assumed, branch_of
from pdcheck.facts.current import CONTRACT_MAX
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.named import NamedTuple
from pdcheck.parts.kept import kept
from pdcheck.parts.rig import Branch as BranchPart
from pdcheck.parts.rig import Rig
from pdcheck.physics.bus import TANGENT, solve_bus
from pdcheck.physics.number import Condition, Number, where
from pdcheck.physics.ports import Port


class Start(NamedTuple):
    """How a branch starts, and what stands at its input.

    It draws from ``start_v`` on until ``stop_v`` [V], 0 for at once and for never. For ``soft_start_s`` [s] its
    converter gives ``charge_a`` [A] more, into the capacitors at its output, and its load takes ``factor`` times as
    much. ``sure``: nothing of that was taken for granted; ``assumed`` says in words what was. Its wire has
    ``inductance_h`` [H], its input ``input_f`` [F] with ``esr_ohm`` [ohm]; all 0 without a converter. ``demanding``:
    that it runs at its least voltage does not mean that it starts; ``may_swing``: at some current that a connector
    carries its input may.
    """

    branch: str
    start_v: float
    stop_v: float = 0.0
    charge_a: float = 0.0
    soft_start_s: float = 0.0
    factor: float = 1.0
    sure: bool = True
    inductance_h: float = 0.0
    input_f: float = 0.0
    esr_ohm: float = 0.0
    demanding: bool = True
    may_swing: bool = False
    assumed: tuple[Assumed, ...] = ()


class Trouble(NamedTuple):
    """What goes wrong while a branch starts on a bus of ``bus_v`` [V], beside ``beside``.

    ``pulls down``: all that starts there wants ``wanted_a`` [A], and the bus falls until it stops. ``never starts``:
    the bus does not get to its start voltage.
    """

    what: Literal["pulls down", "never starts"]
    start: Start
    beside: tuple[str, ...]
    bus_v: float
    wanted_a: float


def starts_of(rig: Rig, contract_v: float) -> tuple[Start, ...]:
    """How each branch of a rig starts.

    >>> amp = {"kind": "buck-boost", "input": "4.5V-36V", "output": "12V", "efficiency": 0.9}
    >>> [start] = starts_of(Rig(trigger="20V", branch=[{"name": "amp", "converter": amp, "load": "30W"}]), 20.0)
    >>> start.start_v, start.stop_v, start.sure
    (4.5, 4.0, True)
    """
    figures = rig.tolerance.copper.typ, contract_v, design_voltage(rig, contract_v)
    return tuple([_start_of(branch, *figures) for branch in rig.branches])


@kept
def _start_of(part: BranchPart, copper_c: float, contract_v: float, supply_v: float) -> Start:
    built, assumed = branch_of(part, copper_c, contract_v, supply_v)
    load, converter = part.load, part.converter
    factor = load.start_factor or 1.0
    if built.converter is None or converter is None:
        known = load.starts_at_v is not None or load.voltage_v is not None
        start_v = built.load.start_v
        demanding = factor != 1.0 or start_v > max(load.needs_v, load.voltage_v[0] if load.voltage_v else 0.0)
        stop_v, lasts_s = built.load.stop_v, built.load.start_time_s
        return Start(part.name, start_v, stop_v, 0.0, lasts_s, factor, known, demanding=demanding, assumed=assumed)
    start_v, known = built.converter.start_v, converter.starts_at_v is not None
    if converter.kind == "buck" and converter.start_v is None and converter.minimum_input_v() > SAFE_5V.require_max():
        # Below its output voltage it hands on what it gets, and what a load does on that, few say.
        known = False
        least_v = max(load.needs_v, load.voltage_v[0] if load.voltage_v else 0.0)
        start_v = max(start_v, least_v + converter.dropout_v if least_v else 0.0)
    charge_a = built.converter.output_f * built.converter.output_v / built.converter.soft_start_s
    at_input = built.wire_h, built.input_f, built.esr_ohm
    stop_v, least_v = built.converter.stop_v, converter.minimum_input_v()
    demanding = bool(charge_a) or factor != 1.0 or max(start_v, stop_v) > least_v
    # Multiplied out, as there are converters that run down to 0 V.
    may_swing = (built.wire_ohm + built.esr_ohm) * built.input_f * stop_v <= built.wire_h * CONTRACT_MAX.value
    soft_s = built.converter.soft_start_s
    return Start(part.name, start_v, stop_v, charge_a, soft_s, factor, known, *at_input, demanding, may_swing, assumed)


class _Draw(NamedTuple):
    """A branch that draws: how it starts, itself, and its port while it runs."""

    start: Start
    branch: Branch
    running: Port

    @property
    def eases_in(self) -> bool:
        """Whether its start takes more than it does running."""
        return bool(self.start.charge_a) or self.start.factor != 1.0

    def port_at(self, time_s: float) -> Port:
        """What the bus sees of it so long [s] after it started: its output rises evenly, and charges until it is up."""
        lasts_s = self.start.soft_start_s
        if time_s > lasts_s or not (self.eases_in or lasts_s):
            return self.running
        more = self.branch.demanding(self.start.factor)
        if more.converter is None:
            return more.port()
        output_a: Number = more.output_a()
        share = time_s / lasts_s if lasts_s else 1.0
        return more.converter.port(more.wire_ohm, share * (output_a + self.start.charge_a))


class _Stage(NamedTuple):
    """All that draws on one voltage of the source: on already when it comes, and what starts then."""

    open_v: Number
    series_ohm: Number
    limit_a: Number
    bus: tuple[Port, ...]
    on: tuple[_Draw, ...]
    starting: tuple[_Draw, ...]

    def bus_v(self) -> Number:
        """The bus [V] beside what is on already."""
        ports = [*self.bus, *(draw.running for draw in self.on)]
        return solve_bus(ports, self.open_v, self.series_ohm, self.limit_a).bus_v

    def _moments(self) -> Iterator[list[Port]]:
        """The ports when a soft start ends, for each that takes more than running does; else with all of it running."""
        # What nobody knows to start on 5 V may as well start now, beside the others.
        late = [draw for draw in self.on if draw.eases_in and not draw.start.sure]
        ends = sorted({draw.start.soft_start_s for draw in (*self.starting, *late) if draw.eases_in})
        for end_s in ends or [inf]:
            now = [draw for draw in late if draw.start.soft_start_s == end_s]
            on = [draw.port_at(end_s) if draw in now else draw.running for draw in self.on]
            yield [*on, *(draw.port_at(end_s) for draw in self.starting), *self.bus]

    def holds(self) -> Condition:
        """Whether all of it finds a voltage at which nothing cuts off, at each moment of its start."""
        holds: Condition = self.open_v > 0.0
        for ports in self._moments():
            found = solve_bus(ports, self.open_v, self.series_ohm, self.limit_a)
            holds = holds & (found.bus_v > 0.0)
            for draw, current_a in zip((*self.on, *self.starting), found.port_a, strict=False):
                if draw.start.stop_v:
                    input_v = found.bus_v - draw.branch.wire_ohm * current_a
                    holds = holds & (input_v >= draw.start.stop_v * (1.0 - TANGENT))
        return holds

    def wanted_a(self) -> float:
        """The most that all of it wants [A] of a source without a limit."""
        most: float = 0.0
        for ports in self._moments():
            freely_a = solve_bus(ports, self.open_v, self.series_ohm).current_a
            most = max(most, freely_a if freely_a > 0.0 else sum(port.current(self.open_v)[0] for port in ports))
        return most


def _stage(network: Network, starts: tuple[Start, ...], limit_a: Number, off: frozenset[str], *, last: bool) -> _Stage:
    ports = network.ports(off)
    on: list[_Draw] = []
    starting: list[_Draw] = []
    for start, branch, running in zip(starts, network.branches, ports, strict=False):
        if start.branch not in off:
            draw = _Draw(start, branch, running)
            (on if last and start.start_v <= (SAFE_5V.typ or 0.0) else starting).append(draw)
    bus = tuple(ports[len(starts) :])
    return _Stage(network.source.open_v, network.series_ohm, limit_a, bus, tuple(on), tuple(starting))


def before_voltages(starts: tuple[Start, ...]) -> Iterator[tuple[float, frozenset[str]]]:
    """Each voltage [V] before a contract at which more starts, from the least of vSafe5V to the greatest, and what is
    still off on it.

    >>> [volts for volts, _ in before_voltages((Start("a", 4.5), Start("b", 5.2), Start("c", 6.0)))]
    [4.75, 5.2]
    """
    least_v, most_v = SAFE_5V.require_min(), SAFE_5V.require_max()
    for volts in sorted({max(start.start_v, least_v) for start in starts if start.start_v <= most_v}):
        yield volts, frozenset(start.branch for start in starts if start.start_v > volts)


def trouble(
    network: Network, starts: tuple[Start, ...], limit_a: float, off: frozenset[str] = frozenset(), *, last: bool
) -> Trouble | None:
    """What goes wrong on one voltage of the source: the least 5 V before a contract, or (``last``) the contract's.

    Before a contract all that is not in ``off`` starts, since the bus is at 5 V before anything has started; on the
    contract what did not start on 5 V has to be reached beside what did. What starts above the source's own voltage
    does nothing on it: that is for the rule on start voltages.

    >>> from pdcheck.circuit.network import Source
    >>> from pdcheck.parts.loads import Load
    >>> heater, module = Branch("heater", Load("4.5ohm")), Branch("module", Load("5W"))
    >>> beside = Network(Source(9.0), (heater, module), (("cable", 0.265),))
    >>> found = trouble(beside, (Start("heater", 0.0), Start("module", 8.6, 8.0)), 3.0, last=True)
    >>> found.what, round(found.bus_v, 2)
    ('never starts', 8.5)
    """
    open_v = network.source.open_v
    if last:
        off |= {start.branch for start in starts if start.start_v > open_v}
    stage = _stage(network, starts, limit_a, off, last=last)
    if last and stage.starting:
        bus_v = stage.bus_v()
        beside = tuple(draw.start.branch for draw in stage.on)
        for draw in sorted(stage.starting, key=lambda draw: draw.start.start_v):
            if bus_v * (1.0 + TANGENT) < draw.start.start_v:
                return Trouble("never starts", draw.start, beside, bus_v, 0.0)
    if stage.holds() or not (stage.on or stage.starting):
        return None
    draws = (*stage.on, *stage.starting)
    most = max(draws, key=lambda draw: (draw.start.stop_v > 0.0, draw.running.current(open_v)[0]))
    beside = tuple(draw.start.branch for draw in draws if draw is not most)
    return Trouble("pulls down", most.start, beside, open_v, stage.wanted_a())


def troubled(
    network: Network, starts: tuple[Start, ...], limit_a: Number, off: frozenset[str], *, last: bool
) -> tuple[Condition, Condition]:
    """As ``trouble`` for many circuits: which of them are pulled down, and in which something never starts."""
    import numpy as np

    stage = _stage(network, starts, limit_a, off, last=last)
    open_v = network.source.open_v
    never = np.zeros(np.shape(open_v), dtype=np.bool_)
    if last and stage.starting:
        bus_v = stage.bus_v() * (1.0 + TANGENT)
        for draw in stage.starting:
            never |= (bus_v < draw.start.start_v) & (draw.start.start_v <= open_v)
    return ~stage.holds() & ~never, never


class Input(NamedTuple):
    """The input of a converter: its voltage [V], its power [W], whether it runs, and whether it comes to rest."""

    start: Start
    wire_ohm: Number
    input_v: Number
    power_w: Number
    runs: Condition
    settles: Condition


def inputs(network: Network, starts: tuple[Start, ...], off: frozenset[str]) -> Iterator[Input]:
    """The input of each converter behind a wire with inductance, with everything running."""
    found = network.solve(off)
    for start, branch, current_a in zip(starts, network.branches, found.port_a, strict=False):
        if not start.may_swing or start.branch in off:
            continue
        input_v = found.bus_v - branch.wire_ohm * current_a
        power_w = input_v * current_a
        runs = (found.bus_v > 0.0) & (power_w > 0.0)
        drawn_w = where(runs, power_w, 1.0)
        calm = settles(drawn_w, input_v, branch.wire_ohm, start.inductance_h, start.input_f, start.esr_ohm)
        yield Input(start, branch.wire_ohm, input_v, power_w, runs, calm)
