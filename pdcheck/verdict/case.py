"""Case: one rig on one source and cable, with the contract and the solved circuit that the rules look at."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from itertools import chain

from pdcheck.circuit.collapse import Collapse
from pdcheck.circuit.corners import WORST, NetworkSpec, OperatingTriple, corners, network_at
from pdcheck.circuit.from_rig import network_spec, over_time, warming
from pdcheck.circuit.network import Network
from pdcheck.circuit.network import Source as Feed
from pdcheck.circuit.over_time import OverTime, mean_over_time
from pdcheck.circuit.plug_in import Input, Start, Trouble, before_voltages, inputs, starts_of, trouble
from pdcheck.circuit.startup import Latch, start_up
from pdcheck.circuit.transient.from_rig import before_a, feed_of
from pdcheck.contract.available import Available, available
from pdcheck.contract.settle import Contract, settle_on
from pdcheck.facts.voltage import SAFE_5V
from pdcheck.parts.cable import Cable, connector_limit
from pdcheck.parts.kept import kept
from pdcheck.parts.limits import PartLimit, known
from pdcheck.parts.rig import Branch, Rig
from pdcheck.parts.source import Source
from pdcheck.quantities import Triple, over, under


@kept
def _limits_of(branch: Branch, design_v: float | None) -> tuple[PartLimit, ...]:
    return tuple(branch.limits(design_v))


def by_rule(limits: Iterable[PartLimit]) -> dict[str, list[PartLimit]]:
    """Limits by the rule that they break or come near to."""
    found: dict[str, list[PartLimit]] = {}
    for limit in limits:
        found.setdefault(limit.rule.id, []).append(limit)
        if limit.rule.near is not None:
            found.setdefault(limit.rule.near.id, []).append(limit)
    return found


class Case:
    """What the rules judge. Everything is worked out once, when it is first asked for.

    Rules ask its methods and not ``point``, so that a case whose circuit was solved together with many others can
    answer them as well.

    >>> from pdcheck.parts.kit import Kit
    >>> kit = Kit(source=[{"id": "s", "offers": "5V 3A, 9V 3A"}], cable=[{"id": "c", "kind": "C-C", "loop": "100mOhm"}])
    >>> rig = Rig(trigger={"request": "9V"}, branch=[{"name": "fan", "load": {"current": "1A"}}])
    >>> case = Case(rig, kit.sources[0], kit.cables[0])
    >>> case.contract.voltage_v, round(case.worst_low("bus"), 3)
    (9.0, 8.45)
    """

    silent: frozenset[str] = frozenset()
    """The rules on the circuit that were found to have nothing to say, limits aside."""

    def __init__(self, rig: Rig, source: Source, cable: Cable, contract: Contract | None = None) -> None:
        self.rig = rig
        self.source = source
        self.cable = cable
        self._contract = contract

    def with_rig(self, rig: Rig) -> Case:
        """The same source, cable and contract with another rig on them."""
        return Case(rig, self.source, self.cable, self.contract)

    @cached_property
    def seen(self) -> Available:
        """What the source offers over this cable."""
        return available(self.source, self.cable)

    @cached_property
    def contract(self) -> Contract:
        """What the trigger ends up with."""
        if self._contract is not None:
            return self._contract
        return settle_on(self.rig.trigger.request, self.rig.trigger.fallback, self.seen)

    @cached_property
    def source_v(self) -> Triple:
        """Voltage at the source's receptacle on the contract [V]."""
        if self.contract.kind == "type-c" and self.rig.tolerance.source is None:
            return Triple(SAFE_5V.require_min(), self.contract.voltage_v, SAFE_5V.require_max())
        ratio = self.rig.tolerance.of_source(self.source)
        least, most = self.contract.ends
        return Triple(least * (1 - ratio), self.contract.voltage_v, most * (1 + ratio))

    @cached_property
    def before_v(self) -> Triple:
        """Voltage before any contract [V]: vSafe5V; nothing where the trigger keeps its output off."""
        return Triple(SAFE_5V.require_min(), SAFE_5V.typ or 0.0, SAFE_5V.require_max())

    @cached_property
    def spec(self) -> NetworkSpec:
        """The circuit on the contract, with its tolerances."""
        spec = network_spec(
            self.rig,
            self.cable,
            self.contract.voltage_v,
            holds_a=self.contract.holds_a,
        )
        return spec._replace(source_v=self.source_v)

    @cached_property
    def limits(self) -> tuple[PartLimit, ...]:
        """Everything that the parts on the way carry, need and stand, whether the figure is known or not."""
        if self.contract.outcome == "off":
            return ()
        (shared, own), (passing, granted) = self.rig_limits, self.supply_limits
        return (*passing, *shared, *granted, *own)

    @cached_property
    def supply_limits(self) -> tuple[tuple[PartLimit, ...], tuple[PartLimit, ...]]:
        """Those of them that any rig leaves as they are: of the cable and its connector, and of the contract."""
        return (*self.cable.limits(), connector_limit()), tuple(self.contract.limits())

    @cached_property
    def rig_limits(self) -> tuple[tuple[PartLimit, ...], tuple[PartLimit, ...]]:
        """Those of them that any source and cable leave as they are: of all on the way to the bus, of the branches."""
        rig = self.rig
        series = chain.from_iterable(part.limits() for part in rig.series(None))
        own = chain.from_iterable(_limits_of(branch, rig.design_v) for branch in rig.branches)
        return (*series, *rig.bus_limits()), (*own, *rig.warm_limits())

    @cached_property
    def known_limits(self) -> tuple[PartLimit, ...]:
        """The limits of which the figure is known."""
        return tuple(known(self.limits))

    @cached_property
    def limits_by_rule(self) -> dict[str, list[PartLimit]]:
        """The limits of which the figure is known, by the rule that they break or come near to."""
        return by_rule(self.known_limits)

    def reached(self, limit: PartLimit) -> float | None:
        """The worst value that a limit's quantity comes to [V, A or W]; ``None`` where there is none."""
        if limit.state == "rating":
            return limit.rating
        if limit.state == "nominal":
            return None if self.contract.kind == "type-c" else self.contract.voltage_v
        if limit.state == "unloaded":
            return self.unloaded_v(limit.node)
        if limit.branch in self.off:
            return self.source_v.max if limit.stops and self.unloaded_v(limit.node) == self.idle_high() else None
        if limit.state == "starting":
            return self.source_v.min
        if limit.quantity == "current" and limit.sense == "at_least":
            current = self.node_current(limit.node)
            return None if current is None else current.min
        if limit.quantity == "current":
            return self.worst_current(limit.node)
        if limit.quantity == "power":
            return self.least_power(limit.node) if limit.sense == "at_least" else self.greatest_power(limit.node)
        voltage = self.node_voltage(limit.node)
        return None if voltage is None else voltage.min if limit.sense == "at_least" else voltage.max

    def derated(self, limit: PartLimit, value: float) -> tuple[float, float]:
        """What a converter gives at worst, and what it may give in the air that it is in [A]."""
        given = self.worst_current(f"{limit.branch}/out")
        return given, given * (limit.limit or 0.0) / value

    @cached_property
    def off(self) -> frozenset[str]:
        """Branches that cannot run on this contract, even with nothing drawn: they are taken as drawing nothing.

        A converter below its least input is off, a string below its voltage dark.
        """
        return frozenset(branch.name for branch in self.branches() if under(self.source_v.max, needed_v(branch)))

    @cached_property
    def point(self) -> OperatingTriple | None:
        """The solved circuit over all corners; ``None`` where the trigger gives nothing."""
        return None if self.contract.outcome == "off" else corners(self.spec, self.off)

    @cached_property
    def over_time(self) -> OverTime | None:
        """What the circuit takes on average and at its lightest; None where it has no operating point."""
        if self.contract.outcome == "off":
            return None
        return mean_over_time(over_time(self.rig, self.spec, self.contract.voltage_v), self.off)

    def taken_a(self) -> tuple[Triple, Triple] | None:
        """The current from the source [A] while the loads take least of what they do in time, and most of it.

        None where the circuit has no operating point.
        """
        most = self.node_current("source")
        if most is None or not any(branch.load.changes for branch in self.rig.branches):
            return None if most is None else (most, most)
        return None if self.over_time is None else (self.over_time.lightest_a, most)

    @cached_property
    def warm(self) -> OperatingTriple | None:
        """The circuit over all corners once it has warmed up; ``None`` where the trigger gives nothing."""
        if self.contract.outcome == "off":
            return None
        return corners(warming(self.spec, self.rig, self.cable), self.off)

    def node_current(self, node: str) -> Triple | None:
        """Current through a node [A], ``None`` where the circuit has no operating point."""
        if self.point is None or node not in self.point.nodes:
            return None
        return self.point.nodes[node].current_a

    def node_voltage(self, node: str) -> Triple | None:
        """Voltage at a node [V], ``None`` where the circuit has no operating point."""
        if self.point is None or node not in self.point.nodes:
            return None
        return self.point.nodes[node].voltage_v

    @cached_property
    def series_ohm(self) -> float:
        """The loop resistance between source and bus as stated [ohm]."""
        return sum(part.resistance.typ for part in self.rig.series(self.cable))

    def worst_current(self, node: str) -> float:
        """The most current through a node over all corners [A]; zero where there is none."""
        current = self.node_current(node)
        return 0.0 if current is None else current.max

    def worst_low(self, node: str) -> float:
        """The least voltage at a node over all corners [V]."""
        voltage = self.node_voltage(node)
        return 0.0 if voltage is None else voltage.min

    @property
    def collapses(self) -> bool:
        """Whether some corner has no operating point."""
        return self.point is not None and bool(self.point.collapsed)

    @property
    def collapse(self) -> Collapse | None:
        """Why some corner has no operating point; ``None`` where every corner has one."""
        return None if self.point is None else self.point.collapse

    def typical_loss(self, part: str) -> float | None:
        """What a part loses with everything as stated [W]; ``None`` where there is no such part, or nothing flows."""
        lost = None if self.point is None else self.point.losses.get(part)
        return None if lost is None else lost.typ

    def held_v(self) -> float | None:
        """The voltage [V] that a source which holds its current at the limit falls to at worst; ``None`` without."""
        return None if self.point is None else self.point.held_v

    def latches(self) -> tuple[Latch, ...]:
        """Converters that would hold a current-limited source down while starting, at the worst corner."""
        if self.contract.outcome == "off" or self.contract.holds_a is None or self.collapses:
            return ()
        return start_up(network_at(self.spec, WORST), self.contract.holds_a)

    def in_a_dip(self, source_v: float) -> OperatingTriple:
        """The circuit with its source at another voltage [V] for a moment; solved once for all branches."""
        if source_v not in self._dips:
            self._dips[source_v] = corners(self.spec._replace(source_v=Triple.exact(source_v)), self.off)
        return self._dips[source_v]

    @cached_property
    def _dips(self) -> dict[float, OperatingTriple]:
        return {}

    @cached_property
    def feed(self) -> tuple[float, float]:
        """What stands before the branches: inductance of the cable [H], and capacitance on the bus [F]."""
        return feed_of(self.rig, self.cable)

    @cached_property
    def starts(self) -> tuple[Start, ...]:
        """How each branch starts."""
        return starts_of(self.rig, self.contract.voltage_v)

    @cached_property
    def before_a(self) -> float | None:
        """The current to count on at 5 V before the contract [A]; None where there is no contract, or no power."""
        if self.contract.outcome == "off" or self.contract.offer is None:
            return None
        return before_a(self.source, self.seen)

    def trouble_before(self, limit_a: float, *, every: bool) -> Trouble | None:
        """What goes wrong on the 5 V before the contract with so much current [A]: with ``every`` branch, or with those
        of which it is known when they start."""
        aside = self.off if every else self.off | {start.branch for start in self.starts if not start.sure}
        for volts, waiting in () if self.before_a is None else before_voltages(self.starts):
            network = self.worst._replace(source=Feed(volts))
            found = trouble(network, self.starts, limit_a, aside | waiting, last=False)
            if found is not None:
                return found
        return None

    def trouble_on_contract(self) -> Trouble | None:
        """What goes wrong when the branches start on the contract, at the worst corner."""
        if self.contract.outcome == "off" or not any(each.demanding for each in self.starts):
            return None
        return trouble(self.worst, self.starts, self.contract.current_a, self.off, last=True)

    def running_inputs(self) -> tuple[Input, ...]:
        """The input of each running converter at the worst corner."""
        if self.contract.outcome == "off" or not any(each.may_swing for each in self.starts):
            return ()
        return tuple(inputs(self.worst, self.starts, self.off))

    @cached_property
    def worst(self) -> Network:
        """The circuit at its worst corner."""
        return network_at(self.spec, WORST)

    def least_power(self, node: str) -> float | None:
        """The least power through the node of a load [W], which takes the less the less voltage it gets."""
        voltage, current = self.node_voltage(node), self.node_current(node)
        return None if voltage is None or current is None else voltage.min * current.min

    def greatest_power(self, node: str) -> float | None:
        """The most power through a node over all corners [W]; ``None`` where no corner has a solution."""
        if self.point is None or not self.point.points:
            return None
        nodes = (point.nodes[node] for point in self.point.points.values())
        return max(node.voltage_v * node.current_a for node in nodes)

    def greatest_drop(self, start: str, end: str) -> tuple[float, float]:
        """The greatest drop between two nodes as a part of the voltage it starts with: (drop, voltage) [V]."""
        found = (0.0, 0.0)
        for point in self.point.points.values() if self.point else ():
            first, last = point.nodes[start].voltage_v, point.nodes[end].voltage_v
            drop = first - last
            if first > 0 and (found[1] == 0 or drop / first > found[0] / found[1]):
                found = (drop, first)
        return found

    def idle_high(self) -> float:
        """The most voltage that anything on the bus sees [V]: the source at its highest with no load at all."""
        return 0.0 if self.contract.outcome == "off" else self.source_v.max

    def unloaded_v(self, node: str) -> float:
        """The most voltage at a node with no load at all [V]: a converter's output behind one, else the source's."""
        name, _, end = node.rpartition("/")
        converter = next((branch.converter for branch in self.rig.branches if branch.name == name), None)
        return self.idle_high() if converter is None or end == "in" else converter.output_v

    @property
    def steps_up(self) -> bool:
        """Whether the contract lifts the bus above the 5 V that come before it."""
        return self.contract.kind != "type-c" and over(self.contract.voltage_v, self.before_v.typ)

    def branches(self) -> tuple[Branch, ...]:
        """The branches that have power; none where the trigger gives nothing."""
        return () if self.contract.outcome == "off" else self.rig.branches


def needed_v(branch: Branch) -> float:
    """The voltage that a branch needs at its input to run at all [V]; zero where nothing is known."""
    if branch.converter is not None:
        return max(branch.converter.minimum_input_v(), branch.converter.start_v or 0.0)
    return branch.load.needs_v


def kept_v(branch: Branch) -> float:
    """The voltage that a running branch needs at its input to go on [V]; a converter needs more to start."""
    return branch.load.needs_v if branch.converter is None else branch.converter.minimum_input_v()
