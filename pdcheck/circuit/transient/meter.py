"""Where the energy goes, and the extremes of every node: what is kept up while the integration runs."""

from __future__ import annotations

from pdcheck.circuit.transient.equations import Equations
from pdcheck.circuit.transient.port import At, Hub, Port
from pdcheck.circuit.transient.result import Energies, Extreme

PASSED_V = 4.75
SETTLED_S = 2e-3
"""Extremes count from 2 ms after a node first passes 4.75 V, the least voltage of vSafe5V."""


def node_places(ports: list[Port]) -> list[tuple[str, int, int]]:
    """Each node's name with the places of its voltage and its current in an observation.

    >>> node_places([])
    [('source', 0, 2), ('bus', 1, 3)]
    """
    places = [("source", Hub.SOURCE_V, Hub.CABLE_A), ("bus", Hub.BUS_V, Hub.BUS_A)]
    for port in ports:
        base = port.place
        places.append((f"{port.name}/in", base + At.IN_V, base + At.IN_A))
        places.append((f"{port.name}/out", base + At.OUT_V, base + At.OUT_A))
        places.append((f"{port.name}/load", base + At.LOAD_V, base + At.OUT_A))
    return places


def _passes(start_v: float, middle_v: float, end_v: float) -> float:
    """At which share of a step a voltage passes 4.75 V, by straight lines through its middle."""
    if start_v > PASSED_V:
        return 0.0
    if middle_v > PASSED_V:
        return 0.5 * (PASSED_V - start_v) / (middle_v - start_v)
    return 0.5 + 0.5 * (PASSED_V - middle_v) / (end_v - middle_v) if end_v > PASSED_V else 1.0


class Meter:
    """Energies by Simpson's rule over each step, extremes with a parabola through start, middle and end."""

    def __init__(self, equations: Equations, ports: list[Port]) -> None:
        self._equations, self._ports = equations, ports
        self.places = node_places(ports)
        self.energy_j = [0.0] * (3 + 4 * len(ports))
        count = len(self.places)
        self._counts_s: list[float | None] = [None] * count
        self._least = [float("inf")] * count
        self._most = [float("-inf")] * count
        self._flow = [0.0] * count
        self.peak_v = [0.0] * count
        self.peak_s = [0.0] * count

    def flows(self, seen: list[float]) -> list[float]:
        """Powers [W]: from the source, into cable and bulk, and for each branch wire, converter, lead and load."""
        equations = self._equations
        cable_a = seen[Hub.CABLE_A]
        out = [
            seen[Hub.SOURCE_V] * cable_a,
            equations.loop_ohm * cable_a**2,
            equations.bulk_ohm * (cable_a - seen[Hub.BUS_A]) ** 2,
        ]
        base = Hub.WIDTH
        for port in self._ports:
            in_v, in_a, taken, out_v, out_a, load_v, charge_a = seen[base : base + At.WIDTH]
            wire = port.wire_ohm * in_a**2 + port.branch.esr_ohm * charge_a**2
            if port.converter is None:
                out += (wire, 0.0, (in_v - load_v) * taken, load_v * taken)
            elif port.waiting or not port.converter_on:
                out += (wire, in_v * taken, 0.0, 0.0)
            else:
                charging = port.converter.output_f * port.rise_v_per_s * out_v if port.rising else 0.0
                out += (wire, in_v * taken - out_v * out_a - charging, (out_v - load_v) * out_a, load_v * out_a)
            base += At.WIDTH
        return out

    def add(self, start_s: float, length_s: float, views: tuple[list[float], list[float], list[float]]) -> None:
        """Count a step: what was observed at its start, middle and end."""
        first, middle, last = (self.flows(view) for view in views)
        sixth = length_s / 6.0
        for index, (a, b, c) in enumerate(zip(first, middle, last, strict=True)):
            self.energy_j[index] += sixth * (a + 4.0 * b + c)
        self._look(start_s, length_s, views)

    def _look(self, start_s: float, length_s: float, views: tuple[list[float], list[float], list[float]]) -> None:
        first, middle, last = views
        for index, (_, volt, ampere) in enumerate(self.places):
            a, b, c = first[volt], middle[volt], last[volt]
            top_v, top_at = (c, 1.0) if c >= b else (b, 0.5)
            low_v = min(a, b, c)
            curve = a - 2.0 * b + c
            if curve != 0.0:
                at = 0.5 + (a - c) / (4.0 * curve)
                if 0.0 < at < 1.0:
                    vertex = b - (a - c) ** 2 / (8.0 * curve)
                    if curve < 0.0 and vertex > top_v:
                        top_v, top_at = vertex, at
                    elif curve > 0.0:
                        low_v = min(low_v, vertex)
            if top_v > self.peak_v[index]:
                self.peak_v[index], self.peak_s[index] = top_v, start_s + top_at * length_s
            since = self._counts_s[index]
            if since is None:
                if top_v > PASSED_V:
                    self._counts_s[index] = start_s + SETTLED_S + length_s * _passes(a, b, c)
            elif start_s >= since:
                self._least[index] = min(self._least[index], low_v)
                self._most[index] = max(self._most[index], top_v, a)
                self._flow[index] = max(self._flow[index], first[ampere], middle[ampere], last[ampere])

    def counts_from(self, time_s: float) -> float | None:
        """The next moment [s] after ``time_s`` from which a node counts; a step must not straddle it."""
        return min((since for since in self._counts_s if since is not None and since > time_s), default=None)

    def extremes(self) -> tuple[Extreme, ...]:
        """The extremes of each node."""
        rows = []
        for index, (name, _, _) in enumerate(self.places):
            seen = self._least[index] <= self._most[index]
            least = self._least[index] if seen else None
            most = self._most[index] if seen else None
            flow = self._flow[index] if seen else None
            rows.append(Extreme(name, least, most, flow, self.peak_v[index], self.peak_s[index]))
        return tuple(rows)

    def energies(self, stored_j: float) -> Energies:
        """The energies so far, ``stored_j`` [J] being what stands in the circuit now."""
        losses = {"cable": self.energy_j[1], "bulk": self.energy_j[2]}
        loads = {}
        for port in self._ports:
            wire, converter, lead, load = self.energy_j[3 + 4 * port.index : 7 + 4 * port.index]
            losses[f"{port.name}/wire"] = wire
            losses[f"{port.name}/converter"] = converter
            losses[f"{port.name}/lead"] = lead + port.lead_j
            loads[port.name] = load + port.given_j
        return Energies(self.energy_j[0], loads, losses, stored_j)
