"""The solver in time: from plugging in to the end, event by event."""

from __future__ import annotations

from pdcheck.circuit.transient.cycle import Cycles
from pdcheck.circuit.transient.equations import Mode
from pdcheck.circuit.transient.fates import fate_of, undecided
from pdcheck.circuit.transient.given import Circuit, Event, check_given
from pdcheck.circuit.transient.machine import Guard, Machine
from pdcheck.circuit.transient.meter import Meter
from pdcheck.circuit.transient.port import At
from pdcheck.circuit.transient.result import Moment, Recorder, Result
from pdcheck.circuit.transient.rosenbrock import Step, take_step

TOLERANCE = 1e-4
"""Error of a step, as a part of each state and of 0.3 V or 0.3 A beside it."""
FLOOR = 0.3
FIRST_STEP_S = 1e-7
AFTER_SWITCH_S = 2e-6
TOUCH = 1e-6
"""A guard has fired when it is so far below 0 [V, A]: what an event leaves as rounding is no event."""
GIVE_V = 0.02
MOST_STEPS = 150_000
CALM_STEPS = 1500
"""So many steps without a switch other than the source's limit: an oscillation that is worth looking at as a cycle."""
MOST_EXTRA = 3
BRIEF_MOST_S = 1e-13


class _Run:
    def __init__(self, circuit: Circuit, events: tuple[Event, ...], until_s: float) -> None:
        self.machine = Machine(circuit, events)
        self.equations = self.machine.equations
        self.meter = Meter(self.equations, self.machine.ports)
        self.cycles = Cycles(self.machine, self.meter)
        self.recorder = Recorder([name for name, _, _ in self.meter.places], GIVE_V)
        self.state = [0.0] * self.equations.size
        self.time_s, self.until_s = 0.0, until_s
        self.length_s = FIRST_STEP_S
        self.seen: list[float] = []
        self.steps = self.calm = 0
        self.turning: tuple[int, bool] | None = None
        self.swings: set[int] = set()
        self.low_v: list[float] = []
        self.high_v: list[float] = []
        self._stable_at: tuple[list[float], float] | None = None

    # ---- one step

    def _miss(self, step: Step) -> float:
        worst = 0.0
        for error, a, b in zip(step.error, step.start, step.end, strict=True):
            size = abs(a) if abs(a) > abs(b) else abs(b)
            part = abs(error) / (FLOOR + size)
            if not part <= worst:
                worst = part
        return worst / TOLERANCE if worst == worst else float("inf")  # noqa: PLR0124 - not a number

    def advance(self, end_s: float) -> None:
        """One accepted step, to ``end_s`` [s] at most, and the guard that it ran into."""
        equations = self.equations
        first = equations.slopes(self.time_s, self.state)
        drift = equations.linearize(self.time_s, self.state)
        left = end_s - self.time_s
        wanted = min(self.length_s, self._longest(), equations.longest_s)
        while True:
            clipped = left <= wanted * 1.0001
            length = left if clipped else min(wanted, 0.5 * left) if wanted > 0.5 * left else wanted
            step = take_step(equations, self.time_s, self.state, first, drift, length)
            miss = self._miss(step)
            if miss <= 1.0 or length <= BRIEF_MOST_S:
                break
            wanted = length * max(0.15, 0.9 * miss**-0.25)
        grown = length * min(6.0, 0.9 * max(miss, 1e-8) ** -0.25)
        self.length_s = max(grown, wanted if clipped else 0.0)
        middle, last = self._views(step)
        fired, share = self._crossing(step, middle, last)
        if fired is not None:
            clipped = False
            for _ in range(4):
                step = take_step(equations, self.time_s, self.state, first, drift, max(step.length_s * share, 1e-15))
                middle, last = self._views(step)
                value = fired.sign * (last[fired.place] - fired.bound)
                start = fired.sign * (self.seen[fired.place] - fired.bound)
                if abs(value) < TOUCH or start <= value:
                    break
                share = start / (start - value) if value > -TOUCH else self._locate(fired, step, 0.0, 1.0, start)
                share = min(share, 1.2)
        self.meter.add(self.time_s, step.length_s, (self.seen, middle, last))
        self.recorder.add(self.time_s + step.length_s, [last[volt] for _, volt, _ in self.meter.places])
        self.time_s = end_s if clipped else self.time_s + step.length_s
        self.state, self.seen = step.end, last
        self.steps += 1
        self.calm += 1
        if fired is not None:
            self._fire(fired, last)
        elif self.calm > CALM_STEPS and self.turning is None:
            self._watch_turns(last)

    def _views(self, step: Step) -> tuple[list[float], list[float]]:
        observe, time_s, length = self.equations.observe, self.time_s, step.length_s
        return observe(time_s + 0.5 * length, step.at(0.5)), observe(time_s + length, step.end)

    def _longest(self) -> float:
        """The longest step [s]: where a constant power makes the circuit unstable, implicit steps must not hide it."""
        equations = self.equations
        if self.length_s * equations.fastest < 1.0:
            return float("inf")
        now = [*self.state, *equations.powers(self.time_s)]
        if self._stable_at is not None:
            at, longest = self._stable_at
            if all(abs(a - b) <= 0.01 * (FLOOR + abs(b)) for a, b in zip(now, at, strict=True)):
                return longest
        import numpy as np

        roots = np.linalg.eigvals(np.array(equations.jacobian()))
        growing = [float(abs(root)) for root in roots if root.real > 1e-6 * abs(root) + 1.0]
        longest = 0.7 / max(growing) if growing else float("inf")
        self._stable_at = (now, longest)
        return longest

    # ---- guards

    def _guards(self) -> list[Guard]:
        if self.turning is None:
            return self.machine.guards
        index, up = self.turning
        place = self.machine.ports[index].place + At.CHARGE_A
        turn = Guard("turns" if up else "turns back", index, 1.0 if up else -1.0, place, 0.0)
        return [*self.machine.guards, turn]

    def _crossing(self, step: Step, middle: list[float], last: list[float]) -> tuple[Guard | None, float]:
        """The first guard that the step runs into, and at which share of it."""
        best: tuple[Guard | None, float] = (None, 1.0)
        for guard in self._guards():
            _, _, sign, place, bound = guard
            a, b, c = sign * (self.seen[place] - bound), sign * (middle[place] - bound), sign * (last[place] - bound)
            low, high = 0.0, 1.0
            if b < -TOUCH:
                high = 0.5
            elif c < -TOUCH:
                low = 0.5
            else:
                curve = a - 2.0 * b + c
                at = 0.5 + (a - c) / (4.0 * curve) if curve > 0.0 else -1.0
                if not (0.0 < at < 1.0 and b - (a - c) ** 2 / (8.0 * curve) < -TOUCH):
                    continue
                value = self._value(guard, step, at)
                if value >= -TOUCH:
                    continue
                low, high = (0.0, at) if at <= 0.5 else (0.5, at)
            share = self._locate(guard, step, low, high, a if low == 0.0 else b)
            if share < best[1] or best[0] is None:
                best = (guard, share)
        return best

    def _value(self, guard: Guard, step: Step, share: float) -> float:
        seen = self.equations.observe(self.time_s + share * step.length_s, step.at(share))
        return guard.sign * (seen[guard.place] - guard.bound)

    def _locate(self, guard: Guard, step: Step, low: float, high: float, at_low: float) -> float:
        """Where a guard passes 0 between two shares of the step (Illinois' false position)."""
        if at_low <= 0.0:
            return low
        at_high = self._value(guard, step, high)
        for _ in range(60):
            share = (low * at_high - high * at_low) / (at_high - at_low)
            value = self._value(guard, step, share)
            if abs(value) < 0.1 * TOUCH or high - low < 1e-13:
                return share
            if value > 0.0:
                low, at_low, at_high = share, value, at_high * 0.5
            else:
                high, at_high, at_low = share, value, at_low * 0.5
        return high

    def _fire(self, guard: Guard, seen: list[float]) -> None:
        machine = self.machine
        if guard.name in ("turns", "turns back"):
            self.turning = (guard.port, guard.name == "turns back")
            if guard.name == "turns":
                self._section(("turns", guard.port))
                self.low_v, self.high_v = list(seen), list(seen)
            return
        self._stable_at = None
        machine.fire_guard(guard, self.time_s, self.state, seen)
        if guard.name not in ("limits", "regulates", "shorted", "holds again"):
            self._switched()
        self.length_s = min(self.length_s, AFTER_SWITCH_S)
        if guard.name in ("converter starts", "wakes", "load starts"):
            self._section((guard.name, guard.port))

    def _switched(self) -> None:
        self.calm, self.turning = 0, None
        self.swings.clear()

    def _watch_turns(self, seen: list[float]) -> None:
        """Choose the input that swings most, and watch it turn from now on."""
        on = [port for port in self.machine.ports if port.moving and port.joined and port.converter_on]
        if on:
            port = max(on, key=lambda port: abs(seen[port.place + At.CHARGE_A]))
            self.turning = (port.index, seen[port.place + At.CHARGE_A] > 0.0)
        self.calm = 0

    def _section(self, section: tuple[str, int]) -> None:
        skip = self.cycles.passed(section, self.time_s, self.state, self.until_s)
        if skip is None:
            return
        start, self.time_s = self.time_s, self.time_s + skip.times * skip.period_s
        self.recorder.gap(start, self.time_s, skip.period_s)
        subject = self.machine.ports[section[1]].name if section[1] >= 0 else "trigger"
        moment = Moment(start, subject, "goes on so", lasts_s=skip.period_s, times=skip.times)
        self.machine.moments.append(moment)
        if section[0] == "turns":
            self.swings.update(port.index for port in self.machine.ports if port.running)

    # ---- the whole

    def settle(self) -> None:
        """Everything that is due or true at this very moment."""
        machine = self.machine
        for _ in range(200):
            key = min(machine.due, key=lambda key: machine.due[key], default=None)
            seen = self.seen = self.equations.observe(self.time_s, self.state)
            if key is not None and machine.due[key] <= self.time_s + 1e-12:
                machine.fire_due(key, self.time_s, self.state, seen)
                self._switched()
                self._stable_at = None
                self.length_s = min(self.length_s, AFTER_SWITCH_S)
                if key[0] == "plug":
                    self._section(("plug", -1))
                continue
            guard = next((g for g in machine.guards if g.sign * (seen[g.place] - g.bound) < -TOUCH), None)
            if guard is None:
                return
            self._fire(guard, seen)

    def go(self) -> bool:
        """On to the end; whether it was reached."""
        extra = 0
        while True:
            self.settle()
            if self.time_s >= self.until_s - 1e-12:
                if extra == MOST_EXTRA or not undecided(self.machine, self.time_s):
                    return True
                extra += 1
                self.until_s = self.time_s + self._patience()
                continue
            if self.steps >= MOST_STEPS:
                return False
            ends = [self.until_s, *self.machine.due.values()]
            counting = self.meter.counts_from(self.time_s)
            if counting is not None:
                ends.append(counting)
            self.advance(min(ends))

    def _patience(self) -> float:
        source, trigger = self.machine.circuit.source, self.machine.circuit.trigger
        rises = [port.converter.soft_start_s for port in self.machine.ports if port.converter is not None]
        return max(source.retry_s + source.contract_s, trigger.restart_s, 0.1, *(3.0 * rise for rise in rises))

    def stored_j(self) -> float:
        """What stands in capacitances and inductances now [J]."""
        equations, machine, state = self.equations, self.machine, self.state
        total = 0.5 * equations.loop_h * state[0] ** 2 + 0.5 * equations.bulk_f * state[1] ** 2
        for port in machine.ports:
            at = 2 + 2 * port.index
            total += 0.5 * port.wire_h * state[at] ** 2 + 0.5 * port.branch.input_f * state[at + 1] ** 2
            total += port.output_stored_j(self.time_s)
        return total

    def result(self, complete: bool) -> Result:
        machine, meter = self.machine, self.meter
        for port in machine.ports:
            port.anchor(self.time_s)
        fates = tuple(fate_of(port, machine, self.time_s, swings=port.index in self.swings) for port in machine.ports)
        if machine.limit_since_s is not None and machine.equations.mode is Mode.CURRENT:
            machine.say(machine.limit_since_s, "source", "limits", machine.limit_v, machine.equations.limit_a)
        meter.energy_j[1] += machine.snapped_j
        moments = tuple(sorted(machine.moments, key=lambda moment: moment.time_s))
        energies = meter.energies(self.stored_j())
        samples = self.recorder.samples()
        return Result(fates, moments, meter.extremes(), samples, energies, self.time_s, complete, self.steps)


def run(circuit: Circuit, events: tuple[Event, ...] = (), until_s: float = 1.0) -> Result:
    """What happens from plugging in at 0 s until ``until_s`` [s], and somewhat longer where that leaves a fate open.

    Raises:
        InputError: what ``check_given`` refuses.

    >>> from pdcheck.circuit.transient.given import Branch, Cable, Level, Load, Source, Trigger
    >>> heater = Branch("heater", 0.05, 0.0, 0.0, 0.0, None, 0.0, Load("resistance", 4.5))
    >>> source = Source(Level(5.0, 3.5), Level(9.0, 3.0))
    >>> result = run(Circuit(source, Cable(0.2, 0.7e-6), Trigger(0.02, 10e-6, 0.02, 3.6, 0.3), (heater,)))
    >>> result.fates[0].fate, round(result.samples.nodes["bus"][-1], 3)
    ('starts', 8.585)
    """
    check_given(circuit, events)
    whole = _Run(circuit, events, until_s)
    whole.machine.plug(0.0, 0.0)
    whole.machine.refresh(0.0)
    whole.recorder.add(0.0, [0.0] * len(whole.meter.places))
    return whole.result(whole.go())
