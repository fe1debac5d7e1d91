"""What switches: the source's levels and limit, the trigger, converters and loads; what is watched, what is due."""

from __future__ import annotations

import math

from pdcheck.circuit.transient.equations import Equations, Mode
from pdcheck.circuit.transient.given import Circuit, Event, Level
from pdcheck.circuit.transient.port import At, Hub, Port
from pdcheck.circuit.transient.result import Moment, MomentKind
from pdcheck.named import NamedTuple

NEVER = math.inf
BRIEF_S = 100e-6
"""A stay in the source's limit that is shorter is part of a ring and no moment of its own."""


class Guard(NamedTuple):
    """Fires when ``sign x (observation[place] - bound)`` falls below 0."""

    name: str
    port: int
    sign: float
    place: int
    bound: float


class Machine:
    """Every switch of the circuit. ``due`` holds what happens at a known time; ``guards`` what a voltage decides."""

    def __init__(self, circuit: Circuit, events: tuple[Event, ...]) -> None:
        self.circuit = circuit
        self.offer = circuit.source.contract
        expected = (self.offer or circuit.source.plain).voltage_v
        self.ports = [Port(branch, index, expected) for index, branch in enumerate(circuit.branches)]
        self.equations = Equations(circuit, self.ports)
        self.level = circuit.source.plain
        self.connected = self.in_contract = self.awake = self.fresh = False
        self.contract_at_s = NEVER
        self.limit_since_s: float | None = None
        self.limit_v = 0.0
        self.best_v = expected
        self.due: dict[tuple[str, int], float] = {}
        self.moments: list[Moment] = []
        self.snapped_j = 0.0
        self.guards: list[Guard] = []
        self.last_event_s = 0.0
        self.events = tuple(sorted(events, key=lambda event: event.at_s))
        for index, event in enumerate(self.events):
            self.due["event", index] = event.at_s

    def say(self, time_s: float, subject: str, what: MomentKind, *figures: float) -> None:
        """Keep a moment, with its voltage [V] and its current [A] where it has them."""
        voltage_v, current_a = (*figures, None, None)[:2]
        self.moments.append(Moment(time_s, subject, what, voltage_v, current_a))

    # ---- what is watched

    def refresh(self, time_s: float) -> None:
        """Rebuild the equations' view and the guards after a switch."""
        self.equations.refresh(time_s)
        trigger, mode = self.circuit.trigger, self.equations.mode
        guards = []
        if mode is Mode.VOLTAGE:
            guards.append(Guard("limits", -1, -1.0, Hub.CABLE_A, self.equations.limit_a))
        elif mode is Mode.CURRENT:
            guards.append(Guard("regulates", -1, 1.0, Hub.SPARE_V, 0.0))
            guards.append(Guard("shorted", -1, 1.0, Hub.SOURCE_V, 0.0))
        elif mode is Mode.SHORTED:
            guards.append(Guard("holds again", -1, 1.0, Hub.CABLE_A, self.equations.limit_a))
        elif mode is Mode.RUNNING_OUT:
            sign = 1.0 if self.equations.from_v <= 0.0 else -1.0
            guards.append(Guard("ran out", -1, sign, Hub.CABLE_A, 0.0))
        sign = 1.0 if self.awake else -1.0
        guards.append(Guard("browns out" if self.awake else "wakes", -1, sign, Hub.BUS_V, trigger.brown_out_v))
        for port in self.ports:
            if port.joined:
                guards += self._guards_of(port)
        self.guards = guards

    def _guards_of(self, port: Port) -> list[Guard]:
        base, index, load = port.place, port.index, port.load
        if port.converter is not None:
            if port.converter_on:
                return [Guard("converter stops", index, 1.0, base + At.IN_V, port.converter.stop_v)]
            return [Guard("converter starts", index, -1.0, base + At.IN_V, port.converter.start_v)]
        if not port.switched:
            return []
        if port.has_threshold:
            if port.live:
                return [Guard("load stops", index, 1.0, base + At.LOAD_V, load.stop_v)]
            return [Guard("load starts", index, -1.0, base + At.LOAD_V, load.start_v)]
        if port.running:
            return [Guard("load fails", index, 1.0, base + At.LOAD_V, port.down_v)]
        return [Guard("load runs", index, -1.0, base + At.LOAD_V, port.up_v)]

    def fire_guard(self, guard: Guard, time_s: float, state: list[float], seen: list[float]) -> None:
        """A guard's condition has come true."""
        equations, bus_v = self.equations, seen[Hub.BUS_V]
        match guard.name:
            case "limits":
                self._enter_limit(time_s, state, bus_v)
            case "regulates":
                self.leave_limit(time_s)
                equations.mode = Mode.VOLTAGE
            case "shorted":
                equations.mode = Mode.SHORTED
            case "holds again":
                state[0], equations.mode = equations.limit_a, Mode.CURRENT
            case "ran out":
                state[0], equations.mode = 0.0, Mode.OPEN
            case "browns out":
                self._brown_out(time_s, bus_v)
            case "wakes":
                self._wake(time_s, bus_v)
            case _:
                self._switch_branch(guard, self.ports[guard.port], time_s, seen)
        self.refresh(time_s)

    # ---- the source

    def plug(self, time_s: float, bus_v: float) -> None:
        """The source turns on at 5 V, from what is on the bus, without a contract."""
        source, equations = self.circuit.source, self.equations
        self.connected, self.in_contract, self.fresh = True, False, True
        self.level = source.plain
        equations.mode, equations.limit_a = Mode.VOLTAGE, self.level.limit_a
        self._go(time_s, max(bus_v, 0.0), self.level.voltage_v / source.rise_s)
        self.contract_at_s = time_s + source.contract_s
        if self.awake:
            self._plan_contract(self.contract_at_s)
        for port in self.ports:
            if port.joined and port.converter is None and not port.has_threshold:
                self._energize(port, time_s)
        self.say(time_s, "source", "plugged in", self.level.voltage_v, self.level.limit_a)

    def unplug(self, time_s: float, state: list[float]) -> None:
        """The source lets go of VBUS; what flows in the cable runs out."""
        equations = self.equations
        self.connected = self.in_contract = False
        self.leave_limit(time_s)
        own_v = equations.own_v(time_s)
        equations.from_s, equations.slew = time_s, 0.0
        equations.from_v = 0.0 if state[0] > 0.0 else own_v
        equations.mode = Mode.RUNNING_OUT if state[0] else Mode.OPEN
        self._forget("arrives", "contract", "trip", "reset down", "plug")

    def _forget(self, *names: str, index: int = -1) -> None:
        for name in names:
            self.due.pop((name, index), None)

    def _plan_contract(self, at_s: float) -> None:
        if self.offer is not None:
            self.due["contract", -1] = at_s

    def _go(self, time_s: float, from_v: float, slew: float) -> None:
        """Move the source's own voltage to that of its level, at most at ``slew`` [V/s]."""
        equations = self.equations
        way = self.level.voltage_v - from_v
        equations.from_s, equations.from_v = time_s, from_v
        equations.slew = math.copysign(slew, way) if way else 0.0
        self.due["arrives", -1] = time_s + abs(way) / slew

    def go_to(self, level: Level, time_s: float, what: MomentKind) -> None:
        """Leave for another level; its limit holds from now on."""
        equations = self.equations
        own_v = equations.own_v(time_s)
        self.level, equations.limit_a = level, level.limit_a
        self._go(time_s, own_v, self.circuit.source.slew_v_per_s)
        if equations.mode in (Mode.CURRENT, Mode.SHORTED):
            equations.mode = Mode.VOLTAGE
            self._forget("trip")
        self.say(time_s, "source", what, level.voltage_v, level.limit_a)

    def _enter_limit(self, time_s: float, state: list[float], bus_v: float) -> None:
        equations = self.equations
        equations.mode = Mode.CURRENT
        if state[0] > equations.limit_a * 1.001:
            equations.mode = Mode.SHORTED
        else:
            self.snapped_j += 0.5 * equations.loop_h * (state[0] ** 2 - equations.limit_a**2)
            state[0] = equations.limit_a
        if self.limit_since_s is None:
            self.limit_since_s, self.limit_v = time_s, bus_v
        if self.level.trips:
            self.due["trip", -1] = time_s + self.circuit.source.trip_s

    def leave_limit(self, time_s: float) -> None:
        """Out of the limit, for whatever reason; a stay of some length was a moment."""
        self._forget("trip")
        since = self.limit_since_s
        self.limit_since_s = None
        if since is not None and time_s - since >= BRIEF_S:
            self.say(since, "source", "limits", self.limit_v, self.equations.limit_a)
            self.say(time_s, "source", "regulates")

    # ---- the trigger

    def _brown_out(self, time_s: float, bus_v: float) -> None:
        self.awake = False
        self._forget("contract")
        self.say(time_s, "trigger", "browns out", bus_v)
        if self.in_contract:
            self.in_contract = False
            if self.connected:
                self.go_to(self.circuit.source.plain, time_s, "level")

    def _wake(self, time_s: float, bus_v: float) -> None:
        self.awake = True
        self.say(time_s, "trigger", "wakes", bus_v)
        if not self.connected:
            return
        restarted_s = time_s + self.circuit.trigger.restart_s
        self._plan_contract(self.contract_at_s if self.fresh and self.contract_at_s > time_s else restarted_s)
        self.fresh = False

    # ---- branches

    def _energize(self, port: Port, time_s: float) -> None:
        load = port.load
        if load.start_factor != 1.0 and load.start_time_s > 0.0 and port.switched:
            port.factor = load.start_factor
            self.due["started", port.index] = time_s + load.start_time_s

    def run(self, port: Port, running: bool, time_s: float, *, itself: bool = True) -> None:
        """A branch begins or ceases to do its job; ``itself``: not because somebody switched it."""
        if running == port.running:
            return
        port.running = running
        if running:
            port.starts += 1
        elif itself:
            port.stops += 1
            port.stop_times.append(time_s)

    def _switch_branch(self, guard: Guard, port: Port, time_s: float, seen: list[float]) -> None:
        voltage = seen[guard.place]
        match guard.name:
            case "converter starts":
                port.switch_converter(True, time_s)
                port.refused = False
                self._plan_rise(port)
                self._watch_output(port, time_s)
                self.say(time_s, port.name, "converter starts", voltage)
            case "converter stops":
                port.switch_converter(False, time_s)
                self._forget("up", "has voltage", "catches up", index=port.index)
                self._plan_rise(port)
                self.run(port, False, time_s)
                self.say(time_s, port.name, "converter stops", voltage)
            case "load starts" | "load runs":
                if guard.name == "load starts":
                    port.live = True
                    self._energize(port, time_s)
                self.run(port, True, time_s)
                self.say(time_s, port.name, "load starts", voltage)
            case "load stops" | "load fails":
                port.live = False
                self.run(port, False, time_s)
                self.say(time_s, port.name, "load stops", voltage)

    def _plan_rise(self, port: Port) -> None:
        dry_s = port.runs_dry_s()
        if dry_s is not None:
            self.due["runs dry", port.index] = dry_s
        else:
            self.due.pop(("runs dry", port.index), None)
        if port.waiting:
            self.due["catches up", port.index] = port.catches_up_s()
        elif port.rising:
            self.due["up", port.index] = port.up_at_s()

    def _watch_output(self, port: Port, time_s: float) -> None:
        """A converter has started or its load was switched: does the load have the voltage that it needs?"""
        if not port.switched:
            return
        if not port.has_threshold or port.live:
            if not port.running:
                self._energize(port, time_s)
            self.run(port, True, time_s)
        elif not port.refused:
            reached = port.reaches_s(port.load.start_v)
            if reached is not None:
                self.due["has voltage", port.index] = reached
            elif not port.waiting and port.output_v(time_s) >= port.load.start_v:
                self.due["has voltage", port.index] = time_s

    def _give_voltage(self, port: Port, time_s: float) -> None:
        port.live = True
        output_v = port.output_v(time_s)
        if port.converter is not None and output_v >= port.converter.output_v:
            port.read_law()
            load_v = output_v - port.lead_ohm * port.output_a(output_v)
            if load_v < port.load.stop_v:
                port.live, port.refused = False, True
                return
        self._energize(port, time_s)
        self.run(port, True, time_s)
        self.say(time_s, port.name, "load starts", output_v)

    # ---- what is due

    def fire_due(self, key: tuple[str, int], time_s: float, state: list[float], seen: list[float]) -> None:
        """Something that was due at ``time_s`` happens."""
        del self.due[key]
        name, index = key
        source = self.circuit.source
        match name:
            case "event":
                self.last_event_s = time_s
                self._happen(self.events[index], time_s, state, seen[Hub.BUS_V])
            case "arrives":
                equations = self.equations
                equations.from_s, equations.from_v, equations.slew = time_s, self.level.voltage_v, 0.0
                if self.level.voltage_v > 0.0:
                    self.say(time_s, "source", "arrives", self.level.voltage_v)
                else:
                    self.unplug(time_s, state)
                    self.due["plug", -1] = time_s + source.reset_off_s
            case "contract":
                if self.connected and self.offer is not None:
                    self.in_contract = True
                    self.go_to(self.offer, time_s, "contract")
            case "trip":
                self.say(time_s, "source", "trips", seen[Hub.BUS_V], state[0])
                self.unplug(time_s, state)
                self.due["plug", -1] = time_s + source.retry_s
            case "plug":
                self.plug(time_s, seen[Hub.BUS_V])
            case "reset down":
                self.in_contract = False
                self._forget("contract")
                down = Level(0.0, self.level.limit_a)
                fall = self.equations.own_v(time_s) / source.reset_fall_s
                self.go_to(down, time_s, "reset")
                self._go(time_s, self.equations.own_v(time_s), max(fall, 1.0))
            case "up":
                port = self.ports[index]
                port.finish_rise(time_s)
                self.say(time_s, port.name, "converter up", port.output_v(time_s))
            case "catches up":
                port = self.ports[index]
                port.catch_up(time_s)
                self._plan_rise(port)
                self._watch_output(port, time_s)
            case "runs dry":
                port = self.ports[index]
                port.anchor(time_s)
                port.live = False
                port.read_law()
                self._plan_rise(port)
                self.run(port, False, time_s)
                self.say(time_s, port.name, "load stops", port.output_v(time_s))
            case "has voltage":
                self._give_voltage(self.ports[index], time_s)
            case "started":
                port = self.ports[index]
                port.anchor(time_s)
                port.factor = 1.0
                port.read_law()
                self._plan_rise(port)
        self.refresh(time_s)

    def _happen(self, event: Event, time_s: float, state: list[float], bus_v: float) -> None:
        port = next((port for port in self.ports if port.name == event.subject), None)
        match event.kind:
            case "unplug":
                self.say(time_s, "source", "unplugged", bus_v)
                self.unplug(time_s, state)
            case "replug":
                if not self.connected:
                    self.plug(time_s, bus_v)
            case "hard reset":
                if self.connected:
                    self.due["reset down", -1] = time_s + self.circuit.source.reset_delay_s
            case "level":
                self._change_offer(event.level, time_s)
            case "join":
                if port is not None and not port.joined:
                    port.joined = True
                    if port.converter is None and not port.has_threshold:
                        self._energize(port, time_s)
                    self.say(time_s, port.name, "joined", bus_v)
            case _:
                if port is not None:
                    self._switch_load(port, event.kind == "load on", time_s)

    def _change_offer(self, level: Level | None, time_s: float) -> None:
        if level is None:
            return
        self.offer = level
        self.best_v = level.voltage_v
        for port in self.ports:
            port.expected_v = level.voltage_v
        if self.in_contract:
            self.go_to(level, time_s, "level")

    def _switch_load(self, port: Port, on: bool, time_s: float) -> None:
        if port.switched == on:
            return
        port.anchor(time_s)
        port.switched = on
        port.ever_on = port.ever_on or on
        self.say(time_s, port.name, "load on" if on else "load off")
        if on:
            if port.converter is None:
                if not port.has_threshold:
                    self._energize(port, time_s)
            elif port.converter_on:
                self._watch_output(port, time_s)
        else:
            port.live = port.refused = False
            port.factor = 1.0
            self._forget("has voltage", index=port.index)
            self.run(port, False, time_s, itself=False)
        port.read_law()
        self._plan_rise(port)
